"""Rules at their limits: what just passes, what just does not, and what they leave alone."""

from __future__ import annotations

import datetime as dt
import inspect
from pathlib import Path
from typing import Any

import pytest

from leaklore.problem import Finding
from leaklore.records import convert
from leaklore.records.guide import Guide
from leaklore.records.model import Case, HoldTest, System
from leaklore.records.parse import Document, parse
from leaklore.records.quantity import read
from leaklore.records.rules import CASE_RULES, LIBRARY_RULES, RULES, dates, ids, plausibility, privacy, proof
from leaklore.records.rules.references import unknown_references
from leaklore.records.rules.twins import near_duplicates

from .helpers import LIBRARY, RECORD, check, put, told

pytestmark = pytest.mark.usefixtures("guide_read_once")


def _data(text: str) -> Any:
    document = parse(text.encode())
    assert isinstance(document, Document)
    return document.data


REGISTER = _data((LIBRARY / "systems.yaml").read_text("utf-8"))
SITES = {site["key"]: convert.site(site) for site in REGISTER["sites"]}
SYSTEMS: dict[str, System] = {s["id"]: convert.system(s, SITES[s["site"]]) for s in REGISTER["systems"]}


def _case(
    *changes: tuple[str, str], more: str = "", path: str = "library/records/2025/KW-2025-014.yaml"
) -> Case:
    text = RECORD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return convert.case(_data(text + more), path, "", SYSTEMS)


def _found(rule: Any, text: str) -> list[Finding]:
    data = _data(text)
    return list(rule(convert.case(data, "library/records/2025/x.yaml", "", SYSTEMS), data, None))


def _hold(medium: str, start: str, end: str, temps: tuple[str, str] | None = None) -> HoldTest:
    start_temp, end_temp = (read(t, "temperature") for t in temps) if temps else (None, None)
    return HoldTest(
        medium, read(start, "pressure"), read(end, "pressure"), read("2 h", "duration"), start_temp, end_temp
    )


# The registry


def test_every_rule_and_every_name_of_a_rule_is_explained() -> None:
    for rule in (*CASE_RULES, *LIBRARY_RULES):
        assert inspect.getdoc(rule)
    for name, about in RULES.items():
        assert name == name.strip().lower()
        assert len(about) > 15
        assert not about.endswith(".")


def test_each_rule_explains_itself_in_the_registry_s_words() -> None:
    explained = " | ".join(RULES.values()).lower()
    for rule in CASE_RULES:
        words = (inspect.getdoc(rule) or "").rstrip(".").lower()
        assert words.split(" (")[0] in explained


# Hold tests


@pytest.mark.parametrize(
    ("hold", "holds"),
    [
        (_hold("nitrogen", "38 bar", "38 bar"), True),
        (_hold("nitrogen", "38 bar", "37 bar"), False),
        # within 1 psi, about what a gauge can be read to
        (_hold("nitrogen", "100 psig", "99 psig"), True),
        (_hold("nitrogen", "100 psig", "98.9 psig"), False),
        # within 0.5 % of the reading at high pressure: 0.005 * (600 + 14.696) psi = 3.07 psi
        (_hold("nitrogen", "600 psig", "597 psig"), True),
        (_hold("nitrogen", "600 psig", "596.9 psig"), False),
        # 400 psig at 70 degF is (400 + 14.696) * 509.67 / 529.67 - 14.696 = 384.3 psig at 50 degF
        (_hold("nitrogen", "400 psig", "384 psig", ("70 degF", "50 degF")), True),
        (_hold("nitrogen", "400 psig", "382 psig", ("70 degF", "50 degF")), False),
        # warmer and no higher: gas has gone
        (_hold("nitrogen", "400 psig", "400 psig", ("50 degF", "70 degF")), False),
        (_hold("refrigerant", "5 bar", "5 bar"), True),
        (_hold("nitrogen-with-tracer", "5 bar", "5 bar"), True),
        (_hold("vacuum", "480 micron", "480 micron"), False),
    ],
)
def test_a_hold_test_passes_as_far_as_gauges_and_temperatures_explain(hold: HoldTest, holds: bool) -> None:
    assert proof.passed(hold) is holds


def test_expected_pressure_by_the_gas_law() -> None:
    hold = _hold("nitrogen", "400 psig", "400 psig", ("70 degF", "50 degF"))

    # P2 = P1 T2 / T1 at constant volume, absolute units
    assert hold.expected is not None
    assert (hold.expected - 101_325) / 6894.757293168 == pytest.approx(
        (400 + 14.69594878) * 509.67 / 529.67 - 14.69594878, abs=1e-5
    )
    assert _hold("nitrogen", "400 psig", "400 psig").expected is None
    assert _hold("vacuum", "480 micron", "480 micron", ("70 degF", "50 degF")).expected is None


def test_gauge_error() -> None:
    assert plausibility.gauge_error(1e5) == 7_000.0
    assert plausibility.gauge_error(4e6) == pytest.approx(20_000.0)


HOLD = "fix: {action: remake-flare, hold_test: {medium: %s, start: %s, end: %s, over: 2 h}}\n"


@pytest.mark.parametrize(
    ("medium", "start", "end", "rules"),
    [
        ("nitrogen", "100 psig", "101 psig", []),
        ("nitrogen", "100 psig", "101.1 psig", ["hold-test/gain"]),
        ("refrigerant", "5 bar", "9 bar", []),  # warms as the room does; no gas law for a boiling liquid
        ("vacuum", "480 micron", "900 micron", []),
        ("vacuum", "-0.9 bar", "-0.8 bar", []),
        ("vacuum", "480 micron", "0 psig", ["hold-test/unit"]),
        ("refrigerant", "0 psig", "0 psig", []),
        ("refrigerant", "-0.1 bar", "0 bar", ["hold-test/unit"]),
        ("nitrogen", "900 mbar", "900 mbar", ["hold-test/unit", "hold-test/unit"]),
    ],
)
def test_a_hold_test_is_plausible(medium: str, start: str, end: str, rules: list[str]) -> None:
    text = RECORD + HOLD % (medium, start, end)

    found = [*_found(plausibility.pressure_gain, text), *_found(plausibility.hold_test_unit, text)]

    assert [f.rule for f in found] == rules


# Charge


@pytest.mark.parametrize(
    ("charge", "too_much"),
    [
        ("lost: 1.1 kg", False),
        ("lost: 1.12 kg", False),  # 2 % for scales and for rounding of lb and oz
        ("lost: 1.13 kg", True),
        ("lost: 2.1 kg, topped_up: 1 kg", False),
        ("lost: 2.2 kg, topped_up: 1 kg", True),
        ("lost: 0 kg", False),
    ],
)
def test_no_more_is_lost_than_was_there(charge: str, too_much: bool) -> None:
    assert bool(_found(plausibility.too_much_lost, RECORD + f"charge: {{{charge}}}\n")) is too_much


def test_a_loss_from_a_system_of_unknown_charge_is_left_alone() -> None:
    text = RECORD.replace("system: S-0001", "equipment: {refrigerant: R-32}") + "charge: {lost: 900 kg}\n"

    assert _found(plausibility.too_much_lost, text) == []


@pytest.mark.parametrize(
    ("by", "value", "fits"),
    [
        ("infrared-detector", "85 ppm", True),
        ("infrared-detector", "12 g/yr", True),
        ("infrared-detector", "480 micron", False),
        ("air-survey", "12 g/yr", False),
        ("vacuum-hold", "480 micron", True),
        ("section-isolation", "300 psig", True),
        ("bubble-test", "3 g/yr", True),  # not an instrument with one unit
        ("bubble-test", "46 dB", True),
    ],
)
def test_the_unit_fits_the_instrument(by: str, value: str, fits: bool) -> None:
    text = RECORD + f"readings: [{{at: indoor-flare, by: {by}, value: {value}}}]\n"

    assert (_found(plausibility.reading_unit, text) == []) is fits


# Dates


@pytest.mark.parametrize(
    ("reported", "installed", "told_of"),
    [
        ("2022-01-01", '"2022"', False),
        ("2021-12-31", '"2022"', True),
        ("2022-06-01", "2022-06", False),
        ("2022-05-31", "2022-06", True),
        ("2022-06-14", "2022-06-14", False),
        ("2022-06-13", "2022-06-14", True),
    ],
)
def test_a_report_is_not_before_the_installation(reported: str, installed: str, told_of: bool) -> None:
    text = RECORD.replace("2025-02-03", reported).replace(
        "system: S-0001", f"equipment: {{installed: {installed}}}"
    )

    assert bool(_found(dates.order, text)) is told_of


@pytest.mark.parametrize(
    ("removed", "reported", "told_of"),
    [
        ("2024", "2024-12-31", False),
        ("2024", "2025-01-01", True),
        ("2024-02", "2024-02-29", False),
        ("2024-02", "2024-03-01", True),
        ("2024-12", "2025-01-01", True),
        ("2024-09-10", "2024-09-10", False),
        ("2024-09-10", "2024-09-11", True),
        ("9999", "2025-01-01", False),
        ("9999-12", "2025-01-01", False),
    ],
)
def test_a_report_is_not_after_the_removal(removed: str, reported: str, told_of: bool) -> None:
    register = {**REGISTER["systems"][4], "removed": removed}
    systems = {**SYSTEMS, "S-0005": convert.system(register, SITES["lock-row"])}
    data = _data(RECORD.replace("2025-02-03", reported).replace("S-0001", "S-0005"))

    found = list(dates.order(convert.case(data, "x", "", systems), data, None))  # type: ignore[arg-type]

    assert [f.rule for f in found] == ["date/order"] * told_of


def test_dates_on_the_same_day_are_in_order() -> None:
    text = RECORD.replace("reported: 2025-02-03", "reported: 2025-02-03\nclosed: 2025-02-03") + (
        "follow_up: [{date: 2025-02-03, result: holding}, {date: 2025-02-03, result: holding}]\n"
        "withdrawn: {date: 2025-02-03, why: Written twice.}\n"
    )

    assert _found(dates.order, text) == []


@pytest.mark.parametrize(
    ("written", "day"), [("2022", "2022-07-01"), ("2022-06", "2022-06-15"), ("2022-06-14", "2022-06-14")]
)
def test_the_middle_of_a_date_stands_for_computing(written: str, day: str) -> None:
    assert convert.partial_date(written).day == dt.date.fromisoformat(day)


# Proof


def test_held_by_a_hold_test_or_by_a_look_that_found_it_holding() -> None:
    text = RECORD.replace("proof: point", "proof: held")

    assert [f.rule for f in _found(proof.held, text)] == ["proof/held"]
    assert _found(proof.held, text + HOLD % ("nitrogen", "38 bar", "38 bar")) == []
    assert _found(proof.held, text + "follow_up: [{date: 2025-05-10, result: holding}]\n") == []
    assert _found(proof.held, text + "follow_up: [{date: 2025-05-10, result: other-leak}]\n") == []
    vacuum = HOLD % ("vacuum", "480 micron", "480 micron")
    assert _found(proof.held, text + vacuum + "follow_up: [{date: 2025-05-10, result: holding}]\n") == []


@pytest.mark.parametrize("result", ["section", "lead", "pinpointed", "confirmed"])
def test_a_section_is_earned_by_any_hint(result: str) -> None:
    text = RECORD.replace("proof: point", "proof: section").replace("result: pinpointed", "result: clean")

    assert _found(proof.section, text.replace("result: confirmed", f"result: {result}")) == []


def test_a_leak_found_beside_the_cause_may_be_pinpointed_too() -> None:
    step = "search:\n  - {technique: visual, at: [service-port], minutes: 1, result: pinpointed}"
    text = RECORD.replace("search:", step)

    assert [f.rule for f in _found(proof.elsewhere, text)] == ["search/elsewhere"]
    also = "also_found: [{mode: valve-core, component: service-port, proof: point}]\n"
    assert _found(proof.elsewhere, text + also) == []


# Privacy


@pytest.mark.parametrize(
    "text",
    [
        "On 2025-02-03 and 03.02.2025 and 3/2/2025 the unit stood still.",
        "The pressure went from 300 to 290 psig, 20.7 to 20.0 bar, in 24 h.",
        "See KW-2025-014, S-0412 and R-1234ze(E).",
        "Parts 1/4 in and 3/8 in, 6.35 mm, 9.5 mm; model family DS-A.",
        "It took 10 20 30 minutes.",  # six digits
        "The road was closed. Quay Street café, Lock Row and the Lane.",
        "Ratio 3:1, 12:30 to 13:45, 5 @ 3 bar.",
        "50 ft of wall chase, 12 months, 100 % of 110 g.",
    ],
)
def test_figures_of_the_trade_are_not_private(text: str) -> None:
    assert list(privacy.looks_private(("story",), text)) == []


@pytest.mark.parametrize(
    ("text", "private"),
    [
        ("Ring 0555 123 4567.", "0555 123 4567"),
        ("Ring +44 20 7946 0000.", "+44 20 7946 0000"),
        ("Ring (555) 010-9999.", "(555) 010-9999"),
        ("Ring 555.010.9999 at night", "555.010.9999"),
        ("Write to a.b+c@house.example today", "a.b+c@house.example"),
        ("Key at 12 Harbour Hill Road, back door", "12 Harbour Hill Road"),
        ("Key at 4b Mill Lane", "4b Mill Lane"),
    ],
)
def test_what_looks_private_is_told(text: str, private: str) -> None:
    [found] = privacy.looks_private(("story",), text)

    assert f'"{private}"' in found.message
    assert found.severity == "warning"


# Twins and numbers


def _twin(number: str, reported: str, *more: tuple[str, str], end: str = "") -> Case:
    return _case(("KW-2025-014", number), ("2025-02-03", reported), *more, more=end)


FIRST = _twin("KW-2025-014", "2025-02-03")


@pytest.mark.parametrize(
    ("other", "twins"),
    [
        (_twin("KW-2025-015", "2025-02-24"), True),
        (_twin("KW-2025-015", "2025-02-25"), False),
        (_twin("KW-2025-013", "2025-01-13"), True),
        (_twin("KW-2025-015", "2025-02-24", ("S-0001", "S-0006")), False),
        (_twin("KW-2025-015", "2025-02-24", ("flare-joint", "valve-core")), False),
        (_twin("KW-2025-015", "2025-02-24", end="related: [{case: KW-2025-014, as: same-site}]\n"), False),
        (_twin("KW-2025-015", "2025-02-24", end="withdrawn: {date: 2025-03-01, why: Twice.}\n"), False),
        (_twin("KW-2025-015", "2025-02-24", ("system: S-0001", "equipment: {refrigerant: R-32}")), False),
    ],
)
def test_near_duplicates(other: Case, twins: bool) -> None:
    found = list(near_duplicates([FIRST, other]))

    assert len(found) == twins
    assert found == list(near_duplicates([other, FIRST]))


def test_the_later_of_two_twins_is_told() -> None:
    [(case, finding)] = near_duplicates([_twin("KW-2025-013", "2025-02-10"), FIRST])

    assert case.id == "KW-2025-013"
    assert "the same job as KW-2025-014" in finding.message
    assert "7 days apart" in finding.message


def test_a_number_is_used_once_as_number_or_former_number() -> None:
    first = _case(path="a.yaml", more="was: [KW-2021-901]\n")
    second = _case(("KW-2025-014", "KW-2025-015"), path="b.yaml", more="was: [KW-2025-014, KW-2021-901]\n")
    third = _case(("KW-2025-014", "KW-2021-901"), path="c.yaml")

    found = [(case.path, f.pointer, f.message) for case, f in ids.duplicate_ids([first, second, third])]

    assert found == [
        ("b.yaml", ("was", 0), 'was[0]: "KW-2025-014" is used by a.yaml already'),
        ("b.yaml", ("was", 1), 'was[1]: "KW-2021-901" is used by a.yaml already'),
        ("c.yaml", ("id",), 'id: "KW-2021-901" is used by a.yaml already'),
    ]


def test_a_number_belongs_to_the_file_that_is_called_like_it() -> None:
    """Whoever copied a record and forgot the number is told of the copy."""
    places = ("r/KW-2025-013.yaml", "r/KW-2025-014 (copy).yaml", "r/KW-2025-014.yaml")

    found = [(case.path, f.message) for case, f in ids.duplicate_ids([_case(path=p) for p in places])]

    told = 'id: "KW-2025-014" is used by r/KW-2025-014.yaml already'
    assert found == [(places[0], told), (places[1], told)]


@pytest.mark.parametrize(
    ("place", "right"),
    [
        ("records/2025/KW-2025-014.yaml", True),
        ("records/KW-2025-014.yaml", True),
        ("records/ketterwick/KW-2025-014.yaml", True),
        ("records/2024/KW-2025-014.yaml", False),
    ],
)
def test_a_record_lies_in_its_year_or_in_no_year(place: str, right: bool, library: Path) -> None:
    put(library, RECORD, place)

    assert [p.rule for p in check(library).problems] == ([] if right else ["id/folder"])


# Library


def test_a_record_with_an_error_is_left_out_and_one_with_a_warning_stays(library: Path) -> None:
    put(library, RECORD.replace("S-0001", "S-0011"))
    put(
        library,
        RECORD.replace("KW-2025-014", "KW-2025-015") + "advice: Ring 0555 123 4567.\n",
        "records/2025/KW-2025-015.yaml",
    )

    result = check(library)

    assert [p.severity for p in result.problems] == ["error", "warning"]
    assert result.failed
    assert result.library is not None
    assert sorted(result.library.by_id) == ["KW-2025-002", "KW-2025-015", "OS-2024-007"]


def test_warnings_alone_do_not_fail(library: Path) -> None:
    put(library, RECORD + "advice: Ring 0555 123 4567.\n")

    result = check(library)

    assert len(result.problems) == 1
    assert not result.failed


@pytest.mark.parametrize("register", ["sites: [", "sites: []\nsystems: 5\n", "sites: []\n"])
def test_one_error_in_the_register_is_not_told_again_at_every_record(register: str, library: Path) -> None:
    put(library, RECORD + "lesson: As on [[S-0002]] and [[S-0999]].\n")
    (library / "systems.yaml").write_text(register)

    assert {p.path for p in check(library).problems} == {"library/systems.yaml"}


def test_a_system_on_an_unknown_site_is_told_once(library: Path) -> None:
    file = library / "systems.yaml"
    file.write_text(file.read_text().replace("site: osmere-dairy", "site: dairy"))

    assert [p.rule for p in check(library).problems] == ["register/site"]


def _guide(library: Path) -> Guide:
    found = check(library).library
    assert found is not None
    return found.guide


def test_references_of_prose(library: Path) -> None:
    guide = _guide(library)
    text = (
        "[[flare-joint]] [[mode:flare-joint|flares]] [[ bubble-test ]] [[component:shaft-seal]] [[R-32]] "
        "[[KW-2025-002]] [[S-0001]] [[]] [[a]b]] [[unclosed [not one]"
    )
    bad = "[[flare-joints]] [[technique:flare-joint]] [[thing:x]] [[KW-2025-003]] [[S-0009]]"

    assert list(unknown_references(text, guide, {"KW-2025-002"}, {"S-0001"})) == []
    assert [
        (ref.target, hint) for ref, hint in unknown_references(bad, guide, {"KW-2025-002"}, {"S-0001"})
    ] == [
        ("flare-joints", 'did you mean "flare-joint"?'),
        ("technique:flare-joint", 'did you mean "flare-joint"?'),
        ("thing:x", "write a key of the guide, a case or a system number"),
        ("KW-2025-003", 'did you mean "KW-2025-002"?'),
        ("S-0009", 'did you mean "S-0001"?'),
    ]
    assert [ref.target for ref, _ in unknown_references(bad, guide, {"KW-2025-003"}, None)][-1] == "thing:x"


def test_everything_wrong_with_a_library_is_told_in_one_run(library: Path) -> None:
    put(library, RECORD.replace("S-0001", "S-0011"))
    put(library, "", "records/2025/KW-2025-015.yaml")
    put(library, RECORD.replace("KW-2025-014", "KW-2025-016"), "records/2025/KW-2025-017.yaml")
    for file, old, new in (
        ("reading/first-week.yaml", "technique:visual", "technique:visula"),
        ("systems.yaml", "id: S-0006", "id: S-0001"),
        ("company.yaml", "labour_rate: 96 USD", "labour_rate: 96 EUR"),
    ):
        (library / file).write_text((library / file).read_text().replace(old, new))

    assert [line.split(":", 1)[0] for line in told(library).splitlines()] == [
        "library/company.yaml",
        "library/reading/first-week.yaml",
        "library/records/2025/KW-2025-014.yaml",
        "library/records/2025/KW-2025-015.yaml",
        "library/records/2025/KW-2025-017.yaml",
        "library/systems.yaml",
    ]
