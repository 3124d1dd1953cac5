"""The demo library: big enough, told honestly, and with the patterns in it that `demo-patterns.md` describes."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import pytest
import yaml
from scipy.stats import beta, chi2

from leaklore.analysis.techniques import technique_summaries
from leaklore.records.check import CheckResult, check
from leaklore.records.library import Library
from leaklore.records.model import Case, Cause, System

ROOT = Path(__file__).resolve().parents[1]
PATTERNS = (ROOT / "tests" / "demo-patterns.md").read_text()
FIRST, LAST = dt.date(2021, 1, 1), dt.date(2026, 11, 20)
"""The days between which the demo's cases were reported; systems are counted over them."""
PROVEN = frozenset({"point", "held"})
FLARE_SITES = ("orchard-rise", "tern-court")


@pytest.fixture(scope="module")
def result() -> CheckResult:
    return check(ROOT / "cases", today=LAST)


@pytest.fixture(scope="module")
def demo(result: CheckResult) -> Library:
    assert result.library is not None
    return result.library


# ---------------------------------------------------------------- size


def test_passes_the_checker_without_a_warning(result: CheckResult) -> None:
    assert [str(p) for p in result.problems] == []


def test_is_of_the_promised_size(demo: Library) -> None:
    assert len(demo.cases) >= 160
    assert len(demo.systems) >= 300
    assert {c.branch for c in demo.cases} == {"Ketterwick", "Osmere", "Dunbrae"}
    assert {c.year for c in demo.cases} == set(range(2021, 2027))
    assert len({c.equipment.refrigerant for c in demo.active}) >= 8


def test_every_failure_mode_and_technique_occurs(demo: Library) -> None:
    modes = {c.cause.mode for c in demo.counted}
    assert len(modes) >= 15
    assert modes == set(demo.guide.modes)
    assert {s.technique for c in demo.active for s in c.search} == set(demo.guide.techniques)
    assert len(demo.guide.techniques) >= 12


KINDS: dict[str, tuple[Callable[[Case], bool], int]] = {
    "dead ends": (lambda c: sum(s.result == "clean" for s in c.search) >= 4, 15),
    "false alarms": (lambda c: any(s.result == "false-alarm" for s in c.search), 30),
    "wrong first diagnoses": (lambda c: c.first_diagnosis is not None, 15),
    "two leaks": (lambda c: bool(c.also_found), 10),
    "a repair that did not hold": (lambda c: any(f.result == "leaking-again" for f in c.follow_up), 10),
    "linked second visits": (lambda c: any(r.how == "repair-did-not-hold" for r in c.related), 10),
    "suspected only": (lambda c: c.cause.proof == "suspected", 15),
    "isolation avoided": (lambda c: c.avoided is not None, 10),
    "withdrawn": (lambda c: c.withdrawn is not None, 2),
    "former number": (lambda c: bool(c.was), 2),
    "a detector not to be trusted": (lambda c: any(i.verified == "none" for i in c.instruments), 8),
}


@pytest.mark.parametrize("kind", KINDS)
def test_cases_differ_as_real_ones_do(kind: str, demo: Library) -> None:
    test, least = KINDS[kind]
    assert sum(map(test, demo.cases)) >= least


def test_no_technique_always_finds_what_it_covers(demo: Library) -> None:
    """A technique that is only used where it works tells a reader nothing."""
    for key, found in technique_summaries(demo).items():
        assert found.covered >= 10, key
        assert found.missed >= 1, key


# ---------------------------------------------------------------- told once


def _words(text: str) -> list[str]:
    shown = re.sub(r"\[\[(?:[^\]|]*\|)?([^\]]*)\]\]", r"\1", text)
    return re.findall(r"[a-z0-9']+", shown.lower())


def _twice(said: dict[str, str]) -> list[str]:
    counts = Counter(said.values())
    return sorted(key for key, text in said.items() if text and counts[text] > 1)


def test_no_two_titles_lessons_or_openings_are_alike(demo: Library) -> None:
    assert _twice({c.id: " ".join(_words(c.title)) for c in demo.cases}) == []
    assert _twice({c.id: " ".join(_words(c.title)[:4]) for c in demo.cases}) == []
    assert _twice({c.id: " ".join(_words(c.lesson or "")) for c in demo.cases}) == []
    assert _twice({c.id: " ".join(_words(c.lesson or "")[:4]) for c in demo.cases}) == []
    assert _twice({c.id: " ".join(_words(c.story)[:5]) for c in demo.cases}) == []


SHINGLE = 3
MOST_SHARED = 0.12
"""Of the three-word runs of the shorter of two stories, the share that also stand in the other."""


def test_every_story_is_its_own(demo: Library) -> None:
    runs = {}
    for case in demo.cases:
        words = _words(case.story)
        runs[case.id] = {tuple(words[i : i + SHINGLE]) for i in range(len(words) - SHINGLE + 1)}
    alike = [
        (a, b, share)
        for a, b in combinations(runs, 2)
        if (share := len(runs[a] & runs[b]) / min(len(runs[a]), len(runs[b]))) > MOST_SHARED
    ]
    assert alike == []


OFTEN = 12
"""Stories that may share a run of six words; more would be a manner."""


def test_no_phrase_is_worn_out(demo: Library) -> None:
    runs: Counter[str] = Counter()
    for case in demo.cases:
        words = _words(case.story)
        runs.update({" ".join(words[i : i + 6]) for i in range(len(words) - 5)})
    assert [run for run, n in runs.items() if n > OFTEN] == []


# ---------------------------------------------------------------- invented, and nobody's private matter

_NAMES = re.findall(
    r"\S+",
    """
January February March April May June July August September October November December
Monday Tuesday Wednesday Thursday Friday Saturday Sunday Mondays Fridays Sundays Julys
Christmas Easter New Year's Year Day A's USD O-ring X-ray
""",
)
_INSIDE = re.compile(r"(?<=[a-z,;0-9)] )([A-Z][\w'-]+)")


def _prose(case: Case) -> Iterator[str]:
    yield from (case.title, case.story, case.lesson or "", case.advice or "")
    yield from (r.note or "" for r in case.readings)
    yield from (s.note or "" for s in case.search)
    yield from (f.note or "" for f in case.follow_up)


def test_names_nothing_but_the_demo_itself(demo: Library) -> None:
    """A capital letter inside a sentence belongs to a place of the register, a month or a number of the record."""
    known = set(_NAMES) | {"Ketterwick", "Osmere", "Dunbrae"}
    for system in demo.systems.values():
        known |= set(re.findall(r"[\w'-]+", f"{system.site.name} {system.name}"))
    code = re.compile(r"R-\d|[A-Z]{2}-\d{4}-\d{3}|S-\d{4}|I\b")
    strange = {
        (case.id, word)
        for case in demo.cases
        for text in _prose(case)
        for word in _INSIDE.findall(re.sub(r"\[\[(?:[^\]|]*\|)?([^\]]*)\]\]", r"\1", text))
        if word not in known and not code.match(word)
    }
    assert strange == set()
    assert not [case.id for case in demo.cases for text in _prose(case) if re.search("[™®©@]", text)]


def test_no_record_speaks_of_the_patterns(demo: Library) -> None:
    """Finding them is the manager's work."""
    crew = re.compile(r"\bcrews? [KOD]\d|\b[KOD][123]\b")
    assert not [case.id for case in demo.cases for text in _prose(case) if crew.search(text)]


# ---------------------------------------------------------------- the patterns


@dataclass(frozen=True)
class Rate:
    """Leaks and system-years of a group of installs, with the exact Poisson interval of the rate."""

    systems: int
    years: float
    leaks: int

    @property
    def per_100(self) -> float:
        return 100 * self.leaks / self.years

    @property
    def interval(self) -> tuple[float, float]:
        low = chi2.ppf(0.025, 2 * self.leaks) / 2 if self.leaks else 0.0
        return 100 * low / self.years, 100 * chi2.ppf(0.975, 2 * self.leaks + 2) / 2 / self.years

    def row(self) -> str:
        low, high = self.interval
        return f"| {self.systems} | {self.years:.1f} | {self.leaks} | {self.per_100:.2f} | {low:.2f} to {high:.2f} |"


def rate(demo: Library, mode: str, among: Callable[[System], bool], proven: bool = True) -> Rate:
    """Leaks of a mode, main cause or found beside it, on the installs of a group."""
    systems = [s for s in demo.systems.values() if among(s)]
    numbers = {s.id for s in systems}
    leaks = sum(
        cause.mode == mode and (cause.proof in PROVEN or not proven)
        for case in demo.active
        if case.system is not None and case.system.id in numbers
        for cause in case.causes
    )
    return Rate(len(systems), sum(map(_years, systems)), leaks)


def _years(system: System) -> float:
    installed = system.equipment.installed
    assert installed is not None
    end = _first_day(system.removed.written) if system.removed else LAST
    return max(0, (end - max(_first_day(installed.written), FIRST)).days) / 365.25


def _first_day(written: str) -> dt.date:
    year, month, day = ([int(x) for x in written.split("-")] + [1, 1])[:3]
    return dt.date(year, month, day)


def ratio(group: Rate, rest: Rate) -> tuple[float, float, float]:
    """Rate ratio with its exact 95 % interval, from the binomial share of the group's leaks (Clopper and Pearson)."""
    k, n = group.leaks, group.leaks + rest.leaks
    low = beta.ppf(0.025, k, n - k + 1) if k else 0.0
    high = beta.ppf(0.975, k + 1, n - k) if k < n else 1.0
    scale = rest.years / group.years
    return group.per_100 / rest.per_100, low / (1 - low) * scale, high / (1 - high) * scale


def in_flare_group(system: System) -> bool:
    return system.crew == "O3" and system.site.key in FLARE_SITES


def in_coil_group(system: System) -> bool:
    return system.site.key == "saltmarsh-green"


def in_core_group(system: System) -> bool:
    return system.crew == "K1"


GROUPS = {
    "flare-joint": in_flare_group,
    "formicary-corrosion": in_coil_group,
    "valve-core": in_core_group,
}


def _both(demo: Library, mode: str, proven: bool = True) -> tuple[Rate, Rate]:
    among = GROUPS[mode]
    return rate(demo, mode, among, proven), rate(demo, mode, lambda s: not among(s), proven)


@pytest.mark.parametrize("proven", [True, False], ids=["proven", "suspected-too"])
@pytest.mark.parametrize("mode", ["flare-joint", "formicary-corrosion"])
def test_the_two_patterns_stand_out(mode: str, proven: bool, demo: Library) -> None:
    group, rest = _both(demo, mode, proven)

    _, low, _ = ratio(group, rest)

    assert group.leaks >= 5
    assert low > 1.5
    assert group.interval[0] > rest.interval[1]


@pytest.mark.parametrize("proven", [True, False], ids=["proven", "suspected-too"])
def test_the_third_only_leads_the_counts(proven: bool, demo: Library) -> None:
    def main(cause: Cause) -> bool:
        return cause.mode == "valve-core" and (cause.proof in PROVEN or not proven)

    crews = Counter(
        case.system.crew
        for case in demo.active
        if case.system is not None
        for cause in case.causes
        if main(cause)
    )
    (first, most), (_, second) = crews.most_common(2)
    group, rest = _both(demo, "valve-core", proven)

    _, low, high = ratio(group, rest)

    assert first == "K1"
    assert most >= 1.5 * second
    assert low < 1 < high
    installs = Counter(s.crew for s in demo.systems.values())
    assert installs.most_common(1)[0][0] == "K1"


def test_patterns_do_not_hang_on_one_house(demo: Library) -> None:
    for mode in ("flare-joint", "formicary-corrosion"):
        among = GROUPS[mode]
        houses = {
            case.system.id
            for case in demo.counted
            if case.cause.mode == mode and case.system is not None and among(case.system)
        }
        assert len(houses) >= 5


@pytest.mark.parametrize("mode", GROUPS)
def test_the_description_has_the_figures_of_the_data(mode: str, demo: Library) -> None:
    for proven in (True, False):
        group, rest = _both(demo, mode, proven)
        value, low, high = ratio(group, rest)

        assert group.row() in PATTERNS
        assert rest.row() in PATTERNS
        assert f"{value:.1f} ({low:.1f} to {high:.1f})" in PATTERNS


def test_the_description_has_the_figures_of_the_smaller_groups_too(demo: Library) -> None:
    flares = [
        lambda s: (
            s.site.setting == "residential"
            and s.equipment.kind in ("ductless-split", "multi-split")
            and not in_flare_group(s)
        ),
        lambda s: s.crew == "O3" and not in_flare_group(s),
    ]
    rates = [rate(demo, "flare-joint", among) for among in flares]
    rates.append(
        rate(
            demo,
            "formicary-corrosion",
            lambda s: s.equipment.kind == "ducted-split" and not in_coil_group(s),
        )
    )
    for crew in {s.crew for s in demo.systems.values()}:
        rates.append(rate(demo, "valve-core", lambda s, crew=crew: s.crew == crew))
    rooms = rate(demo, "formicary-corrosion", lambda s: s.equipment.kind == "computer-room-unit")

    assert [r.row() for r in rates if r.row() not in PATTERNS] == []
    low, high = rooms.interval
    assert (
        f"({rooms.leaks} on {rooms.systems} systems, {rooms.years:.1f} system-years, "
        f"{rooms.per_100:.2f}, {low:.2f} to {high:.2f})"
    ) in PATTERNS


# ---------------------------------------------------------------- reading


def test_reading_lists_mix_guide_and_cases(demo: Library) -> None:
    assert len(demo.reading) == 9
    for reading in demo.reading:
        kinds = Counter(item.kind for item in reading.items)
        assert 11 <= len(reading.items) <= 15, reading.key
        assert {"unknown", "questions"} <= set(kinds), reading.key
        assert 2 <= kinds["case"] <= len(reading.items) - 2, reading.key
        assert reading.due_days, reading.key
        assert len(reading.able_to) >= 3, reading.key
        withdrawn = [i.key for i in reading.items if i.kind == "case" and demo.by_id[i.key].withdrawn]
        assert withdrawn == [], reading.key
    assert _twice({f"{r.key} {n}": i.why for r in demo.reading for n, i in enumerate(r.items)}) == []


def test_the_house_note_is_a_page(demo: Library) -> None:
    text = (ROOT / "cases" / "house" / "van-stock.md").read_text()

    assert text.startswith("# ")
    assert 120 <= len(_words(text)) <= 230


def test_records_are_as_short_and_long_as_people_write(demo: Library) -> None:
    lengths = sorted(len(_words(case.story)) for case in demo.cases)

    assert lengths[0] < 40
    assert lengths[-1] > 300
    assert lengths[-1] < 450


def test_files_are_plain_yaml() -> None:
    """Two readers, one meaning: the records need nothing of their own parser."""
    for file in sorted((ROOT / "cases").rglob("*.yaml")):
        assert isinstance(yaml.safe_load(file.read_text()), dict), file
