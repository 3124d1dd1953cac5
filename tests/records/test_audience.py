"""Who sees what of a library: the decisions, field by field, and that nothing else is left after the border."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from leaklore.errors import LeakloreError
from leaklore.records import audience, schema_files
from leaklore.records.audience import KINDS, lowest, seen_by, takeable, unseen
from leaklore.records.check import check
from leaklore.records.library import Library
from leaklore.records.model import AUDIENCES, Case

from .helpers import put

HERE = Path(__file__).parent
pytestmark = pytest.mark.usefixtures("guide_read_once")
DECIDED = {
    "case": {
        "customer": """id title reported closed branch system equipment equipment/setting equipment/kind
            equipment/refrigerant equipment/charge equipment/installed equipment/line_set equipment/line_set/route
            equipment/line_set/length equipment/line_set/liquid equipment/line_set/suction symptoms not_seen environment
            environment/ambient environment/conditions charge charge/lost charge/over charge/topped_up readings readings/at
            readings/by readings/value readings/background cause cause/mode cause/component cause/proof cause/contributing
            also_found also_found/mode also_found/component also_found/proof also_found/contributing fix fix/action
            fix/charge_added fix/hold_test fix/hold_test/medium fix/hold_test/start fix/hold_test/end
            fix/hold_test/start_temp fix/hold_test/end_temp fix/hold_test/over follow_up follow_up/date follow_up/result
            related related/case related/as withdrawn withdrawn/date was""",
        "crew": """crew equipment/family readings/note instruments instruments/technique instruments/set_for
            instruments/alarm_at instruments/verified instruments/warmed_up search search/technique search/at
            search/minutes search/result search/running search/pressure search/note avoided avoided/technique
            avoided/because first_diagnosis first_diagnosis/mode first_diagnosis/minutes fix/labour follow_up/note advice
            lesson story photos photos/file photos/caption reading reading/level reading/topics withdrawn/why""",
        "all": "search/cost first_diagnosis/cost fix/parts",
    },
    "system": {
        "customer": """sites sites/branch sites/setting systems systems/id systems/kind systems/refrigerant systems/charge
            systems/installed systems/removed systems/line_set systems/line_set/route systems/line_set/length
            systems/line_set/liquid systems/line_set/suction""",
        "crew": """sites/key sites/name sites/batch sites/note systems/site systems/name systems/family systems/note""",
        "all": "systems/crew",
    },
    "company": {
        "customer": "name about language units currency records_since branches branches/key branches/prefix",
        "crew": "crews crews/key crews/branch",
        "all": "labour_rate refrigerant_price site_url",
    },
    "reading": {
        "crew": """key title for level due_days able_to items items/read items/why from from/modes from/techniques
            from/settings from/level from/at_least_proof from/newest""",
    },
    "actions": {
        "all": """actions actions/key actions/date actions/what actions/modes actions/where actions/where/branch
            actions/where/crew actions/where/kind actions/where/family actions/where/refrigerant actions/where/setting
            actions/where/batch actions/where/line_route actions/where/site actions/applies_to actions/note""",
    },
}
"""Written down a second time, so that no field is seen by somebody because nobody thought of it."""


@pytest.fixture
def whole(library: Path) -> Library:
    """The small library with a record that has every field."""
    put(library, (HERE / "valid" / "every-field-us.yaml").read_bytes())
    found = check(library)
    assert found.library is not None
    assert not found.failed
    return found.library


@pytest.fixture
def other_schema(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Puts another schema in place of one of ours."""
    real = schema_files.load

    def put(kind: str, data: dict[str, Any]) -> None:
        monkeypatch.setattr(schema_files, "load", lambda name: data if name == kind else real(name))
        lowest.cache_clear()
        takeable.cache_clear()

    yield put
    monkeypatch.undo()
    lowest.cache_clear()
    takeable.cache_clear()


@pytest.mark.parametrize("kind", KINDS)
def test_somebody_has_decided_on_every_field(kind: str) -> None:
    decided = {place: who for who, places in DECIDED[kind].items() for place in places.split()}
    assert dict(lowest(kind)) == decided


def fields(record: Any) -> Iterator[Any]:
    """Every value in a record, and in what it holds."""
    if isinstance(record, (tuple, frozenset)):
        for item in record:
            yield from fields(item)
    elif isinstance(record, dict):
        for key, value in record.items():
            yield from fields(key)
            yield from fields(value)
    elif dataclasses.is_dataclass(record):
        for part in dataclasses.fields(record):
            yield from fields(getattr(record, part.name))
    else:
        yield record


def of(library: Library) -> Case:
    return library.by_id["KW-2025-014"]


def test_all_see_the_library_itself(whole: Library) -> None:
    assert seen_by(whole, "all") is whole


def test_customers_see_the_leak_and_the_fix_and_nothing_of_how_it_was_worked_on(whole: Library) -> None:
    before, seen = of(whole), of(seen_by(whole, "customer"))
    for name in (
        "id",
        "title",
        "reported",
        "symptoms",
        "cause",
        "also_found",
        "lost",
        "ambient",
        "was",
        "branch",
    ):
        assert getattr(seen, name) == getattr(before, name), name
    assert seen.fix
    assert before.fix
    assert (seen.fix.action, seen.fix.hold_test) == (before.fix.action, before.fix.hold_test)
    assert (seen.fix.parts, seen.fix.labour) == (None, None)
    assert (seen.search, seen.story, seen.photos, seen.topics) == ((), "", (), ())
    assert (seen.crew, seen.advice, seen.lesson, seen.first_diagnosis, seen.level) == (None,) * 5
    assert [r.value for r in seen.readings] == [r.value for r in before.readings]
    assert not any(r.note for r in seen.readings)
    assert any(r.note for r in before.readings)
    assert seen.withdrawn
    assert before.withdrawn
    assert (seen.withdrawn.date, seen.withdrawn.why) == (before.withdrawn.date, "")


def test_crews_see_the_work_and_no_money(whole: Library) -> None:
    before, library = of(whole), seen_by(whole, "crew")
    seen = of(library)
    assert (seen.story, seen.crew, seen.photos, seen.advice) == (
        before.story,
        before.crew,
        before.photos,
        before.advice,
    )
    assert [s.minutes for s in seen.search] == [s.minutes for s in before.search]
    assert any(s.cost for s in before.search)
    assert not any(s.cost for s in seen.search)
    assert seen.first_diagnosis
    assert seen.first_diagnosis.minutes == 45
    assert seen.first_diagnosis.cost is None
    assert library.company.labour_rate is None
    assert library.company.crews == whole.company.crews
    assert library.reading == whole.reading
    assert {s.crew for s in library.systems.values()} == {None}
    assert {s.crew for s in whole.systems.values()} > {None}


def test_to_customers_a_place_is_what_kind_it_is(whole: Library) -> None:
    library = seen_by(whole, "customer")
    assert list(library.systems) == list(whole.systems)
    assert library.reading == ()
    assert library.company.crews == {}
    told = {str(value) for value in fields((dict(library.sites), dict(library.systems), library.cases))}
    for site in whole.sites.values():
        assert told.isdisjoint({site.key, site.name, site.batch, site.note} - {None}), site.key
    for system in whole.systems.values():
        assert system.name not in told
        now = library.systems[system.id]
        assert now.name == whole.vocabulary.name("equipment_kinds", system.equipment.kind or "")
        assert now.site is library.sites[now.site.key]
        assert now.site.setting == system.site.setting
    assert of(library).system is library.systems["S-0001"]


def test_what_the_register_says_is_hidden_in_the_case_too(library: Path) -> None:
    """A case whose record leaves the family to the register has it from there."""
    register = library / "systems.yaml"
    text = register.read_text("utf-8")
    register.write_text(text.replace("installed: 2022-06}", "installed: 2022-06, family: DS-Q}"), "utf-8")
    record = (HERE / "valid" / "every-field-us.yaml").read_text("utf-8").replace("  family: DS-A\n", "")
    put(library, record)
    found = check(library).library
    assert found is not None
    assert of(found).equipment.family == "DS-Q"
    assert of(seen_by(found, "customer")).equipment.family is None
    assert of(seen_by(found, "crew")).equipment.family == "DS-Q"


def test_a_new_field_stays_in_the_company_until_somebody_decides(whole: Library, other_schema: Any) -> None:
    case = schema_files.load("case")
    new = case | {"properties": case["properties"] | {"gate_code": {"type": "string"}}}
    other_schema("case", new)
    assert lowest("case")["gate_code"] == "all"
    with pytest.raises(LeakloreError, match='x-audience of "gate_code": no record can do without it'):
        seen_by(whole, "crew")


def test_a_child_is_never_seen_by_more_than_its_parent(other_schema: Any) -> None:
    note = {"type": "string", "x-audience": "customer"}
    inside = {"a": {"properties": {"note": note, "open": {}}, "x-audience": "crew"}, "b": note, "c": {}}
    other_schema("actions", {"x-audience": "all", "properties": inside})
    assert lowest("actions") == {"a": "crew", "a/note": "crew", "a/open": "crew", "b": "customer", "c": "all"}
    assert unseen("actions", "crew") == {"c"}
    assert unseen("actions", "all") == frozenset()


def test_a_required_field_can_not_be_hidden_by_a_mark_alone(whole: Library, other_schema: Any) -> None:
    case = schema_files.load("case")
    mark = case["properties"]["reported"] | {"x-audience": "crew"}
    other_schema("case", case | {"properties": case["properties"] | {"reported": mark}})
    with pytest.raises(LeakloreError, match=r'schema/case\.schema\.json: x-audience of "reported"'):
        seen_by(whole, "customer")
    assert of(seen_by(whole, "crew")).reported == of(whole).reported


@pytest.mark.parametrize(
    ("schema", "says"),
    [
        ({"properties": {}}, "the root has no x-audience"),
        (
            {"x-audience": "all", "properties": {"a": {"x-audience": "boss"}}},
            "of \"a\" is 'boss'; write one of",
        ),
    ],
)
def test_a_wrong_mark_is_told(other_schema: Any, schema: dict[str, Any], says: str) -> None:
    other_schema("actions", schema)
    with pytest.raises(LeakloreError, match=says):
        lowest("actions")


def test_every_field_of_the_model_knows_its_place_in_the_schema() -> None:
    """A field of the model under another name than in its record would be left where it is."""
    for kind, models in audience.MODELS.items():
        for at, model in models.items():
            for part in dataclasses.fields(model):
                if (model, part.name) not in audience.OURS:
                    assert audience._place(model, part.name, at) in lowest(kind), (
                        f"{model.__name__}.{part.name}"
                    )
    assert AUDIENCES == ("customer", "crew", "all")
