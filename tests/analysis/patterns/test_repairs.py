"""Which kind of repair does not hold: against scipy's own test, and by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import count

import pytest
import scipy.stats

from analysis.builders import case, demo
from leaklore.analysis.patterns.repairs import KindOfRepair, kinds_of_repair
from leaklore.records.model import Case


@cache
def of_demo() -> dict[str, KindOfRepair]:
    return {k.action: k for k in kinds_of_repair(c for c in demo().active if c.counted)}


def made(*kinds: tuple[str, int, int, int]) -> Iterator[Case]:
    """Cases of (repair, held, leaking again, not looked at)."""
    one = next(c for c in demo().active if c.fix and c.fix_held is True)
    bad = next(c for c in demo().active if c.fix and c.fix_held is False)
    number = count(1)
    for action, held, leaking, unseen in kinds:
        for n, like in ((held, one), (leaking, bad), (unseen, replace(one, follow_up=()))):
            for _ in range(n):
                assert like.fix is not None
                yield replace(like, id=f"KW-2025-{next(number):03}", fix=replace(like.fix, action=action))


def test_each_kind_is_counted_one_by_one() -> None:
    for key, kind in of_demo().items():
        mine = [c for c in demo().active if c.counted and c.fix and c.fix.action == key]
        seen = [c for c in mine if c.fix_held is not None]
        assert kind.repairs == len(mine)
        assert (kind.failed.n if kind.failed else 0) == len(seen)
        assert {c.id for c in kind.back} == {c.id for c in seen if c.fix_held is False}
    assert "no-repair" not in of_demo()


def test_brazing_over_is_what_does_not_hold_in_the_demo() -> None:
    assert [k.action for k in of_demo().values() if k.worse] == ["rebraze"]
    k = of_demo()["rebraze"]
    assert k.failed is not None
    assert k.others is not None
    table = [[k.failed.k, k.failed.n - k.failed.k], [k.others.k, k.others.n - k.others.k]]
    looked = sum(x.failed is not None and x.failed.n >= 5 for x in of_demo().values())
    p = float(scipy.stats.fisher_exact(table, alternative="greater").pvalue)
    assert k.q == pytest.approx(p * looked), "the most striking of so many kinds"


def test_few_failures_and_kinds_that_are_alike_are_no_finding() -> None:
    assert not any(k.worse for k in kinds_of_repair(made(("rebraze", 1, 4, 0), ("replace-coil", 60, 0, 0))))
    assert any(k.worse for k in kinds_of_repair(made(("rebraze", 1, 5, 0), ("replace-coil", 60, 0, 0))))
    assert not any(k.worse for k in kinds_of_repair(made(("rebraze", 20, 6, 9), ("replace-coil", 40, 12, 0))))


def test_repairs_that_nobody_looked_at_tell_nothing() -> None:
    (kind,) = kinds_of_repair(made(("rebraze", 0, 0, 7)))
    assert (kind.repairs, kind.failed, kind.back, kind.worse) == (7, None, (), False)
    assert kinds_of_repair([]) == ()
    assert kinds_of_repair([replace(case(1), fix=None)]) == ()
