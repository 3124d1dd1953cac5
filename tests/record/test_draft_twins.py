"""What the phone says of a draft is what `leaklore check` says of it: places, messages, what to write instead, order."""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

import pytest
import yaml

from leaklore.pages import data, record_data
from leaklore.pages.book import Book
from leaklore.records import parse, rules
from records.helpers import RECORD

from .desk import Office, Phone, Told
from .drafts import Draft, spoilt, valid

LEFT_OUT = {
    "id/file-name": "a draft has no file yet",
    "id/folder": "a draft has no file yet",
    "id/twice": "needs the whole library",
    "near-duplicate": "needs the whole library",
    "photo/file": "looks into the picture, which the phone has drawn itself",
    "photo/type": "looks into the picture",
    "photo/pixels": "looks into the picture",
    "photo/whole": "looks into the picture",
}
"""Rules of one record that only `leaklore check` knows, and why."""
FAMILIES = (
    rules.ids,
    rules.references,
    rules.photos,
    rules.dates,
    rules.plausibility,
    rules.proof,
    rules.privacy,
    rules.twins,
)
ATTACHED = ["flare-face.jpg", "IMG_0001.jpg"]
TIMED = """(drafts) => {
  const { record, schema, systems, cases } = desk;
  const times = [];
  for (let round = 0; round < 40; round += 1) {
    for (const draft of JSON.parse(drafts)) {
      const begin = performance.now();
      desk.checkDraft(draft, { record, schema, systems, cases, today: "2026-12-31", photos: [] });
      times.push(performance.now() - begin);
    }
  }
  return JSON.stringify(times.sort((a, b) => a - b)[Math.floor(times.length / 2)]);
}"""


@pytest.fixture(scope="module")
def drafts() -> list[Draft]:
    """Valid ones and spoilt ones."""
    cut = {**next(iter(valid())), "charge": {"lost": 1, "1 kg": None}}  # written with a comma
    unseen = {**next(iter(valid())), "branch": "\u200bKetter\xa0wick", "closed": "2025-\u202e02-05"}
    long = {**next(iter(valid())), "charge": {"lost": f"1 kg{' ' * 600}"}, "id": "x" * 300}
    first = next(iter(valid()))
    misspelt = {key.replace("symptoms", "symptom").replace("cause", "cuase"): first[key] for key in first}
    brief = {**first, "reading": {"level": "lead", "topics": ["x"]}}
    return [*valid(), *spoilt(1200, seed=20), cut, unseen, long, misspelt, brief]


@pytest.fixture(scope="module")
def said(office: Office, drafts: list[Draft]) -> list[list[Told]]:
    """Python's findings."""
    return [office.check(draft, ATTACHED) for draft in drafts]


def _differ(drafts: list[Draft], ours: list[list[Told]], theirs: list[list[Told]]) -> list[Any]:
    pairs = zip(drafts, ours, theirs, strict=True)
    return [(draft.get("id"), a, b) for draft, a, b in pairs if a != b]


def test_the_phone_says_what_the_check_says(
    phone: Phone, drafts: list[Draft], said: list[list[Told]]
) -> None:
    found = phone.told("checkDraft", [(draft, ATTACHED, True) for draft in drafts])
    assert not _differ(drafts, said, found)


def test_in_another_library_too(small: tuple[Phone, Office]) -> None:
    """The one that the valid records belong to: without faults of the register, with its charges and dates."""
    phone, office = small
    plain = yaml.load(RECORD, Loader=parse.StrictLoader)
    lost = [plain | {"system": f"S-000{n}", "charge": {"lost": "20 lb"}} for n in range(1, 8)]
    drafts = [*valid(), *spoilt(400, seed=31), *lost]
    expected = [office.check(draft, ATTACHED) for draft in drafts]
    systems = [(draft, told) for draft, told in zip(drafts, expected, strict=True) if "system" in draft]
    too_much = [d for d, told in systems if any(f["rule"] == "charge/too-much" for f in told)]
    assert any("charge" not in (draft.get("equipment") or {}) for draft in too_much), (
        "by the register's charge"
    )
    assert not _differ(
        drafts, expected, phone.told("checkDraft", [(draft, ATTACHED, True) for draft in drafts])
    )


def test_a_register_that_is_not_at_hand_is_not_held_against_a_draft(phone: Phone) -> None:
    """No network: the number of the system is believed."""
    draft = next(draft for draft in valid() if "system" in draft) | {"system": "S-9999"}
    script = """(draft) => {
      const world = { record: desk.record, schema: desk.schema, today: "2026-12-31" };
      return JSON.stringify([null, desk.systems].map((systems) => desk.checkDraft(JSON.parse(draft), { ...world, systems })));
    }"""
    without, given = ([f["path"] for f in told] for told in phone.run(script, draft))
    assert "system" in given
    assert "system" not in without


def test_without_the_numbers_of_all_cases_only_that_is_left_unsaid(
    phone: Phone, drafts: list[Draft], said: list[list[Told]]
) -> None:
    """On a phone that has not loaded the cases, nobody can say which of them exists."""

    def of_cases(finding: Told) -> bool:
        named = re.search(r'"\[\[[A-Z]{2,4}-\d{4}-\d{3,5}\]\]"', finding["message"])
        return finding["rule"] == "reference/case" or (
            finding["rule"] == "reference/prose" and named is not None
        )

    expected = [[f for f in findings if not of_cases(f)] for findings in said]
    assert expected != said
    found = phone.told("checkDraft", [(draft, ATTACHED, False) for draft in drafts])
    assert not _differ(drafts, expected, found)


def test_every_rule_is_broken_by_some_draft_but_for_those_left_out(said: list[list[Told]]) -> None:
    broken = Counter(finding["rule"] for findings in said for finding in findings)
    known = {name for family in FAMILIES for name in family.DOCS}
    assert known - set(broken) == set(LEFT_OUT)
    assert len(LEFT_OUT) <= 8
    of_schema = {
        "reference",
        "quantity",
        "date",
        "schema/more",
        "schema/twice",
        "schema/unknown-key",
        "schema/type",
    }
    of_schema |= {
        f"schema/{name}" for name in ("required", "enum", "pattern", "minLength", "maxLength", "minItems")
    }
    of_schema |= {f"schema/{name}" for name in ("maxItems", "minimum", "maximum")}
    assert of_schema <= set(broken)
    assert sum(not findings for findings in said) > 40, "valid drafts are among them"


def test_a_draft_that_is_not_finished_is_judged_by_what_is_there(
    phone: Phone, office: Office, drafts: list[Draft]
) -> None:
    begun = []
    for number, draft in enumerate(drafts):
        kept = {key: value for at, (key, value) in enumerate(draft.items()) if at % 3 != number % 4}
        begun.append(
            {"id": "KW-2025-914"} | {k: v for k, v in kept.items() if k not in ("photos", "id", "related")}
        )
    expected = []
    for draft in begun:
        try:
            expected.append(office.so_far(draft))
        except (AttributeError, TypeError, ValueError):
            expected.append(None)  # Python's form never holds such a draft: a cause that is no map
    pairs = [(draft, told) for draft, told in zip(begun, expected, strict=True) if told is not None]
    assert len(pairs) > 1000
    assert sum(bool(told) for _, told in pairs) > 100
    found = phone.told("checkSoFar", [(draft, [], True) for draft, _ in pairs])
    assert not _differ([draft for draft, _ in pairs], [told for _, told in pairs], found)


def test_words_are_those_of_python(book: Book) -> None:
    made = record_data.record_json(book)
    published = {f.path: f.content for f in data.files(book)}["data/schema/case.schema.json"].decode()
    for kind, words in made["words"].items():
        if kind not in (
            "branches",
            "crews",
            "cautions",
            "line_routes",
        ):  # not in this file, or the company's own
            assert all(f'"{word}"' in published for word in words), kind


def test_the_register_fills_in_what_it_knows(phone: Phone, book: Book) -> None:
    numbers = [*book.library.systems, "S-99999"]
    facts = phone.run(
        "(n) => JSON.stringify(JSON.parse(n).map((x) => desk.systemFacts(desk.systems, x, desk.record)))",
        numbers,
    )
    assert facts[-1] is None
    for number, one in zip(numbers[:-1], facts[:-1], strict=True):
        system = book.library.systems[number]
        gear = system.equipment
        assert (one["name"], one["site"], one["branch"], one["crew"]) == (
            system.name,
            system.site.name,
            system.site.branch,
            system.crew,
        )
        told = one["equipment"]
        assert (told["setting"], told["kind"], told["refrigerant"]) == (
            gear.setting,
            gear.kind,
            gear.refrigerant,
        )
        assert told.get("charge") == (gear.charge.written if gear.charge else None)
        assert told.get("installed") == (gear.installed.written if gear.installed else None)
        assert ("line_set" in told) == (gear.line_set is not None)


def test_a_full_draft_is_checked_in_less_than_5_ms(phone: Phone) -> None:
    full = [draft for draft in valid() if len(draft) >= 15]
    assert len(full) > 5
    assert phone.run(TIMED, full) < 5
