"""Which groups of installs leak more than the rest, and whether that can be chance.

Every group of every way to sort the systems is looked at, for all leaks together and for each failure mode. The chance
of so many leaks is exact (given their number, the group's share is binomial), and false alarms among all looks are held
to FALSE_SHARE (Benjamini and Hochberg, weighted, for counts). All leaks together get most of that allowance: there are
twenty times as many looks at single modes, and a group that leaks more shows in all of its leaks first. What is found
against all other systems is then held against systems of the same kind, because a mode that sits on one kind of
equipment alone says nothing of a crew; and against those of the same kind at the same age, because a failure of young
systems leads the list of whoever installed the youngest. A crew is people: it is named only where it passes both.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from leaklore.analysis.intervals import FEW
from leaklore.analysis.patterns.discoveries import chance_of_more, false_discovery_of_counts
from leaklore.analysis.patterns.exposure import Fleet, Leak, Watched
from leaklore.analysis.patterns.rates import (
    Floats,
    Prior,
    Rate,
    Ratio,
    Stratum,
    gamma_poisson,
    rate,
    rate_ratio,
    stratified_ratio,
)

ALL = "all"
"""Stands for all failure modes together."""
FALSE_SHARE = 0.10
"""At most this share of the signals is expected to be chance."""
ALL_WEIGHT = 0.8
"""Part of that allowance for all leaks together."""
LEAST_SYSTEMS, LEAST_YEARS = 3, 10.0
"""Smaller groups are not looked at."""
LEAST_LEAKS = FEW
"""A signal has at least so many leaks, on at least two systems."""
BANDS = (0, 1, 2, 3, 5, 7, 10, 12, 15)
"""Years at which a band of age begins: narrow where systems are young, as failures change fastest there (judgement)."""
NO_YEARS = 1e-9
"""Below it a difference of years is one of rounding."""
LIKE_LEAST = 0.5
"""A group is held against its like if so much of its leaks sits on kinds that others have, too (judgement)."""
SAME = 0.6
"""Signals of one mode that share so much of their leaks are one story."""

Key = tuple[str, ...]
Sort = Callable[[Watched], Key | None]


def _plain(value: str | None) -> Key | None:
    return (value,) if value else None


def _crew_and_place(w: Watched) -> Key | None:
    return (w.system.crew, w.system.site.setting) if w.system.crew else None


def _route(w: Watched) -> Key | None:
    lines = w.system.equipment.line_set
    return _plain(lines.route if lines else None)


SORTS: Mapping[str, Sort] = {
    "branch": lambda w: _plain(w.system.site.branch),
    "crew": lambda w: _plain(w.system.crew),
    "crew-setting": _crew_and_place,
    "kind": lambda w: _plain(w.system.equipment.kind),
    "family": lambda w: _plain(w.system.equipment.family),
    "refrigerant": lambda w: _plain(w.system.equipment.refrigerant),
    "setting": lambda w: _plain(w.system.equipment.setting or w.system.site.setting),
    "install-year": lambda w: (str(w.installed.year),),
    "line-route": _route,
    "batch": lambda w: _plain(w.system.site.batch),
}
"""Ways to sort systems into groups; one without a batch, a crew or a line set is in no group, and in the rest of each."""
EQUIPMENT = frozenset({"kind", "family", "refrigerant", "setting"})
"""Ways that tell what stands there; the others tell who put it in, when, where and how."""
CREWS = frozenset({"crew", "crew-setting"})
"""Ways that name people."""
LIKE = {"kind": "setting", "family": "kind"}
"""What the same kind is for a way of sorting; all others are held against systems of the same equipment kind."""


@dataclass(frozen=True)
class Grid:
    """Systems by group. `codes[by]` gives each system's group as a number into `keys[by]`, -1 where unknown."""

    years: Floats
    keys: Mapping[str, tuple[Key, ...]]
    codes: Mapping[str, NDArray[np.intp]]

    def sums(self, by: str, values: Floats) -> Floats:
        """Sum of `values` (systems, or systems x columns) in each group of `by`."""
        codes, n = self.codes[by], len(self.keys[by])
        known = codes >= 0
        if values.ndim == 1:
            return np.asarray(np.bincount(codes[known], weights=values[known], minlength=n), dtype=float)
        out = np.zeros((n, *values.shape[1:]))
        np.add.at(out, codes[known], values[known])
        return out


@dataclass(frozen=True)
class Ages:
    """System-years in each band of age, systems x bands; each leak's system and band, as numbers, and its mode."""

    years: Floats
    systems: NDArray[np.intp]
    at: NDArray[np.intp]
    modes: NDArray[np.str_]

    def cells(self, over: Grid, by: str, inside: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        """System-years of some systems, and of the rest, in each group of `by` and each band of age, one behind the other."""
        whole = self._whole.get(by)
        if whole is None:
            whole = self._whole[by] = self._sums(over, by, np.arange(len(self.years)))
        mine = self._sums(over, by, np.flatnonzero(inside))
        rest = whole - mine
        rest[rest < NO_YEARS] = 0
        return mine, rest

    def _sums(self, over: Grid, by: str, systems: NDArray[np.intp]) -> Floats:
        found, span = systems[over.codes[by][systems] >= 0], self.years.shape[1]
        place = over.codes[by][found][:, None] * span + np.arange(span)
        size = len(over.keys[by]) * span
        return np.bincount(place.ravel(), self.years[found].ravel(), size).astype(float)

    @cached_property
    def _whole(self) -> dict[str, Floats]:
        """Of all systems, asked for again for every group."""
        return {}


def ages(fleet: Fleet) -> Ages:
    """Cuts every system's time under watch by its age."""
    row = {w.system.id: i for i, w in enumerate(fleet.watched)}
    enter, leave = (np.array([getattr(w, of) for w in fleet.watched])[:, None] for of in ("entry", "exit"))
    low, high = np.array(BANDS), np.array([*BANDS[1:], np.inf])
    return Ages(
        np.clip(np.minimum(leave, high) - np.maximum(enter, low), 0, None),
        np.array([row[leak.watched.system.id] for leak in fleet.leaks], dtype=np.intp),
        np.searchsorted(BANDS, [leak.age for leak in fleet.leaks], side="right") - 1,
        np.array([leak.mode for leak in fleet.leaks], dtype=np.str_),
    )


def grid(fleet: Fleet) -> Grid:
    """Sorts the systems under watch in every way."""
    keys: dict[str, tuple[Key, ...]] = {}
    codes: dict[str, NDArray[np.intp]] = {}
    for by, sort in SORTS.items():
        found = [sort(w) for w in fleet.watched]
        known = sorted({key for key in found if key is not None})
        number = {key: i for i, key in enumerate(known)}
        keys[by] = tuple(known)
        codes[by] = np.array([-1 if key is None else number[key] for key in found], dtype=np.intp)
    return Grid(np.array([w.years for w in fleet.watched]), keys, codes)


def counts(fleet: Fleet) -> tuple[tuple[str, ...], Floats]:
    """Modes, and leaks as systems x (ALL, then each mode)."""
    modes = (ALL, *fleet.modes)
    column = {mode: i for i, mode in enumerate(modes)}
    row = {w.system.id: i for i, w in enumerate(fleet.watched)}
    out = np.zeros((len(row), len(modes)))
    for leak in fleet.leaks:
        i = row[leak.watched.system.id]
        out[i, 0] += 1
        out[i, column[leak.mode]] += 1
    return modes, out


@dataclass(frozen=True)
class Look:
    """One way of sorting: for each group looked at (rows) and each mode (columns, ALL first) leaks, chance and q."""

    by: str
    rows: NDArray[np.intp]
    years: Floats
    years_rest: Floats
    leaks: Floats
    leaks_rest: Floats
    p: Floats
    q: Floats


def look(over: Grid, leaks: Floats) -> list[Look]:
    """Looks at every group of every way of sorting; `leaks` as from `counts`."""
    looks: list[Look] = []
    all_years, all_leaks = over.years.sum(), leaks.sum(axis=0)
    for by, keys in over.keys.items():
        if not keys:
            continue
        years, found = over.sums(by, over.years), over.sums(by, leaks)
        systems = over.sums(by, np.ones_like(over.years))
        rows = np.flatnonzero(
            (systems >= LEAST_SYSTEMS) & (years >= LEAST_YEARS) & (all_years - years >= LEAST_YEARS)
        )
        if not rows.size:
            continue
        k, share = found[rows], (years[rows] / all_years)[:, None]
        p = chance_of_more(k, np.broadcast_to(all_leaks, k.shape), np.broadcast_to(share, k.shape))
        looks.append(
            Look(by, rows, years[rows], all_years - years[rows], k, all_leaks - k, p, np.ones_like(p))
        )
    return _with_q(looks)


def _with_q(looks: list[Look]) -> list[Look]:
    if not looks:
        return looks
    p = np.vstack([x.p for x in looks])
    n = np.vstack([x.leaks + x.leaks_rest for x in looks])
    share = np.concatenate([x.years / (x.years + x.years_rest) for x in looks])
    modes = p.shape[1] - 1
    weight = np.ones_like(p)
    if modes > 1:
        weight[:, 0] = ALL_WEIGHT * (modes + 1)
        weight[:, 1:] = (1 - ALL_WEIGHT) * (modes + 1) / modes
    shares = np.broadcast_to(share[:, None], p.shape)
    q = false_discovery_of_counts(p.ravel(), n.ravel(), shares.ravel(), weight.ravel()).reshape(p.shape)
    out, at = [], 0
    for x in looks:
        out.append(replace(x, q=q[at : at + len(x.rows)]))
        at += len(x.rows)
    return out


@dataclass(frozen=True)
class Signal:
    """A group that leaks more than the rest. Rates per 100 system-years.

    `expected` leaks if it leaked like the rest; `shrunk` the ratio drawn towards the other groups of its sort;
    `like` the ratio against systems of the same kind (None: there are too few, see LIKE_LEAST), `like_by` what the kind is;
    `aged` the same, each band of age compared with itself (None, too, where `like` may be chance).
    `within` is the number of the signal whose story it tells too, None for a story of its own.
    """

    by: str
    key: Key
    mode: str
    rate: Rate
    rest: Rate
    ratio: Ratio
    expected: float
    shrunk: float
    q: float
    like: Ratio | None
    aged: Ratio | None
    like_by: str
    leaks: tuple[Leak, ...]
    systems: int
    within: int | None = None

    @property
    def own(self) -> bool:
        """Does it leak more than its like as well? A crew also than its like of the same age."""
        held = (self.like, self.aged) if self.by in CREWS else (self.like,)
        return all(x is not None and x.low > 1 for x in held)

    @property
    def leaking_systems(self) -> int:
        """On how many systems its leaks were."""
        return len({leak.watched.system.id for leak in self.leaks})


@dataclass(frozen=True)
class Group:
    """One group of a way of sorting, looked at: its rate, its ratio against the rest, drawn in (`shrunk`), and q."""

    by: str
    key: Key
    mode: str
    rate: Rate
    ratio: Ratio | None
    shrunk: float
    q: float
    systems: int


@dataclass(frozen=True)
class Signals:
    """`found`: those that stand out among their like first, ways of installing before kinds of equipment, by what is
    at least true; then the rest, most certain first. `groups_looked_at` groups and `looks` = groups x modes were tested,
    `too_small` groups were left out; `groups` are the rates of all looked at, by way of sorting and mode.
    """

    found: tuple[Signal, ...]
    groups_looked_at: int
    looks: int
    too_small: int
    groups: Mapping[tuple[str, str], tuple[Group, ...]]
    overall: Mapping[str, Rate]


def signals(fleet: Fleet) -> Signals:
    """All that stands out in a fleet, and all that was looked at."""
    over = grid(fleet)
    modes, leaks = counts(fleet)
    looks = look(over, leaks)
    aged = ages(fleet)
    groups: dict[tuple[str, str], tuple[Group, ...]] = {}
    found: list[Signal] = []
    for x in looks:
        systems = over.sums(x.by, np.ones_like(over.years))[x.rows].astype(int)
        shrunk = _drawn_in(x)
        leaks_of = _by_group(fleet.leaks, over.codes[x.by][aged.systems])
        for column, mode in enumerate(modes):
            here = []
            for i, row in enumerate(x.rows):
                key = over.keys[x.by][row]
                group = _group(x, i, column, key, mode, float(shrunk[i, column]), int(systems[i]))
                here.append(group)
                if group.q <= FALSE_SHARE and group.rate.leaks >= LEAST_LEAKS and group.ratio is not None:
                    mine = leaks_of[int(row)]
                    found.append(_signal(over, aged, leaks[:, column], mine, group, int(row), x, i, column))
            groups[x.by, mode] = tuple(sorted(here, key=lambda g: (-g.shrunk, g.key)))
    found = [s for s in found if s.leaking_systems > 1]
    found.sort(
        key=lambda s: (
            not s.own,
            s.by in EQUIPMENT,
            -s.like.low if s.like and s.own else s.q,
            s.by,
            s.key,
            s.mode,
        )
    )
    tested = sum(len(x.rows) for x in looks)
    overall = {m: rate(int(leaks[:, i].sum()), float(over.years.sum())) for i, m in enumerate(modes)}
    return Signals(
        tuple(_stories(found)),
        tested,
        tested * len(modes),
        sum(map(len, over.keys.values())) - tested,
        groups,
        {m: r for m, r in overall.items() if r},
    )


def _drawn_in(x: Look) -> Floats:
    """Ratio of each group to the rate of all, small groups drawn towards 1 by how far the groups of this sort lie apart.

    How far is told once for all leaks together and once for the single modes: a mode alone has too few.
    """
    totals = x.leaks[0] + x.leaks_rest[0]
    expected = (x.years / (x.years[0] + x.years_rest[0]))[:, None] * totals
    out = np.ones_like(expected)
    for part in (slice(0, 1), slice(1, None)):
        prior = gamma_poisson(x.leaks[:, part].ravel(), expected[:, part].ravel()) or Prior(1.0, 1.0)
        out[:, part] = prior.shrunk(x.leaks[:, part], expected[:, part])
    drawn: Floats = out
    return drawn


def _group(x: Look, i: int, column: int, key: Key, mode: str, shrunk: float, systems: int) -> Group:
    k, rest, years, years_rest = (
        int(x.leaks[i, column]),
        int(x.leaks_rest[i, column]),
        float(x.years[i]),
        float(x.years_rest[i]),
    )
    own = rate(k, years)
    assert own is not None
    ratio = rate_ratio(k, years, rest, years_rest)
    return Group(x.by, key, mode, own, ratio, shrunk, float(x.q[i, column]), systems)


def _by_group(leaks: Sequence[Leak], codes: NDArray[np.intp]) -> Mapping[int, list[Leak]]:
    """Leaks of each group, in their order; `codes` gives the group of each."""
    out: dict[int, list[Leak]] = {}
    for leak, code in zip(leaks, codes.tolist(), strict=True):
        out.setdefault(code, []).append(leak)
    return out


def _signal(
    over: Grid,
    aged: Ages,
    leaks: Floats,
    of_group: Sequence[Leak],
    group: Group,
    row: int,
    x: Look,
    i: int,
    column: int,
) -> Signal:
    inside = over.codes[x.by] == row
    like_by = LIKE.get(x.by, "kind")
    rest = int(x.leaks_rest[i, column])
    outside = rate(rest, float(x.years_rest[i]))
    assert outside is not None
    assert group.ratio is not None
    like = _against_like(_strata(over, leaks, inside, like_by))
    return Signal(
        by=x.by,
        key=group.key,
        mode=group.mode,
        rate=group.rate,
        rest=outside,
        ratio=group.ratio,
        expected=rest / float(x.years_rest[i]) * float(x.years[i]),
        shrunk=group.shrunk,
        q=group.q,
        like=like,
        aged=_against_like(_strata_of_age(over, aged, group.mode, inside, like_by))
        if like is not None and like.low > 1
        else None,
        like_by=like_by,
        leaks=tuple(leak for leak in of_group if group.mode in (ALL, leak.mode)),
        systems=group.systems,
    )


def _against_like(strata: Sequence[Stratum]) -> Ratio | None:
    """The ratio against its like; None where most of the group's leaks are on kinds that nobody else has."""
    compared = sum(s.k for s in strata if s.years_rest > 0)
    return stratified_ratio(strata) if compared >= LIKE_LEAST * sum(s.k for s in strata) else None


def _strata(over: Grid, leaks: Floats, inside: NDArray[np.bool_], like_by: str) -> list[Stratum]:
    """The group against others of each kind that it has."""
    within = (inside * over.years, ~inside * over.years, inside * leaks, ~inside * leaks)
    years, years_rest, k, k_rest = (over.sums(like_by, values) for values in within)
    return [
        Stratum(int(a), float(t), int(b), float(u))
        for a, t, b, u in zip(k, years, k_rest, years_rest, strict=True)
    ]


def _strata_of_age(
    over: Grid, aged: Ages, mode: str, inside: NDArray[np.bool_], like_by: str
) -> list[Stratum]:
    """As `_strata`, each kind cut into bands of age."""
    codes, span = over.codes[like_by], aged.years.shape[1]
    of_mode = (codes[aged.systems] >= 0) & ((aged.modes == mode) | (mode == ALL))
    systems = aged.systems[of_mode]
    place = codes[systems] * span + aged.at[of_mode]
    size = len(over.keys[like_by]) * span
    years, years_rest = aged.cells(over, like_by, inside)
    k, k_rest = (np.bincount(place[inside[systems] == side], minlength=size) for side in (True, False))
    return [
        Stratum(int(k[n]), float(years[n]), int(k_rest[n]), float(years_rest[n]))
        for n in np.flatnonzero(k + k_rest)
    ]


def _stories(found: list[Signal]) -> list[Signal]:
    """Signals of a mode that rest on much the same leaks are told under the first of them."""
    out: list[Signal] = []
    leads: dict[str, list[tuple[int, set[tuple[str, str]]]]] = {}
    for number, s in enumerate(found):
        mine = {(leak.case.id, leak.mode) for leak in s.leaks}
        told = leads.setdefault(s.mode, [])
        within = next((n for n, x in told if len(mine & x) >= SAME * min(len(mine), len(x))), None)
        if within is None:
            told.append((number, mine))
        out.append(replace(s, within=within))
    return out
