"""The section in pieces: as the whole, also by forked workers; what is kept is not made again; no page without end."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from leaklore.analysis.patterns.discoveries import expected_alarms, tails
from leaklore.pages.patterns import drawing, kept
from leaklore.pages.patterns.drawing import kept_in
from leaklore.pages.patterns.tables import LONGEST, Column, Table, cut


def test_what_is_expected_at_a_threshold_is_the_sum_of_what_each_test_can_reach() -> None:
    """Against the plain form: every tail of every test, held against every threshold."""
    rng = np.random.default_rng(5)
    n, share = rng.integers(0, 900, 400).astype(float), rng.uniform(0.001, 0.7, 400)
    weight = rng.uniform(0.2, 9, 400)
    thresholds = np.sort(10 ** rng.uniform(-18, -1.5, 60))
    all_of_them = tails(n, share)
    by_weight = all_of_them / weight[:, None]
    plain = [np.where(by_weight <= t, all_of_them, 0.0).max(axis=1).sum() for t in thresholds]
    assert expected_alarms(thresholds, n, share, weight) == pytest.approx(plain, rel=1e-9, abs=1e-30)
    own = by_weight[:, 30:34].ravel()  # what a test has itself is reached, to the last bit
    own = np.unique(own[(own > 0) & (own < 0.01)])
    plain = [np.where(by_weight <= t, all_of_them, 0.0).max(axis=1).sum() for t in own]
    assert own.size > 100
    assert expected_alarms(own, n, share, weight) == pytest.approx(plain, rel=1e-9, abs=1e-30)


def test_a_long_table_is_cut_and_says_so() -> None:
    columns = (Column("n", "Number", "whole"),)
    whole = Table("where-long", "Long", columns, tuple((n,) for n in range(LONGEST + 50)), "A note.")
    short = cut(whole, "first")
    assert short.rows == whole.rows[:LONGEST]
    assert short.note == f"The first {LONGEST} of {LONGEST + 50}. The file has all. A note."
    assert cut(whole, "newest", whole.rows[-LONGEST:]).rows == whole.rows[50:]
    assert cut(short, "first") is short


def test_a_picture_that_is_kept_is_not_even_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = Table("where-kept", "Kept", (Column("a", "A", "whole"),), ((1,),))
    asked: list[int] = []

    def drawn(values: tuple[dict[str, int], ...]) -> Any:
        def make(width: int) -> Any:
            import altair as alt

            return alt.Chart({"values": values}).mark_point().encode(x=alt.X("a:Q"))

        return drawing.draw(make, "t", "s", table)

    def note(make: object, width: int) -> dict[str, Any]:
        asked.append(width)
        return {}

    with kept_in(tmp_path):
        first = drawn(({"a": 1},))
        monkeypatch.setattr(drawing, "_spec", note)
        monkeypatch.setattr(drawing, "_drawn", lambda spec: "<svg xmlns='http://www.w3.org/2000/svg'/>")
        assert drawn(({"a": 1},)) == first
        assert not asked
        drawn(({"a": 2},))
        assert asked == [720, 340], "other values, another picture"
        monkeypatch.setattr(kept, "_code", lambda: "changed")
        drawn(({"a": 1},))
        assert asked == [720, 340] * 2, "other code, another picture"


def test_a_child_of_a_process_that_drew_says_so_and_does_not_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawing, "_engine", os.getpid() + 1)
    with pytest.raises(RuntimeError, match="draw in the children alone"):
        drawing.engine()
