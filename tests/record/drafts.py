"""Drafts: valid records, and the same spoilt in every way that somebody in a hurry finds. Seeded."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from leaklore.records import field, parse

Draft = dict[str, Any]
Spoil = Callable[[random.Random, Draft], None]
ROOT = Path(__file__).parents[2]
VALID = sorted((ROOT / "tests" / "records" / "valid").glob("*.yaml"))
DEMO = sorted((ROOT / "cases" / "records").rglob("*.yaml"))
ODD: list[Any] = [
    None,
    True,
    False,
    7,
    -1,
    2022,
    0.5,
    1e-7,
    123456.25,
    "",
    " ",
    "007",
    "yes",
    [],
    {},
    ["a", "a"],
]
ODD += [
    {"a": 1},
    [["b"]],
    "x" * 500,
    "ein Ⅷ – 😀 " * 30,
    "tab\there",
    "two\nlines",
    "Straße",
    "  padded  ",
    "null",
]
AMOUNTS = [
    "4",
    "4 lbs 3",
    "four lb",
    "1,5 kg",
    "1e3 kg",
    "-2 kg",
    "4 stone",
    "4 kgs",
    "9 lb 8 oz 2 g",
    "9 oz 8 lb",
]
AMOUNTS += [
    "400 psig",
    "71 degF",
    "6 USD",
    "6 usd",
    "6.123 USD",
    "12 EUR",
    "85 ppm",
    "0 kg",
    "-500 degF",
    "-20 psig",
]
AMOUNTS += [
    "99999999999999999 kg",
    "480 micron",
    "40 bar",
    "2 h",
    "14 months",
    "46 dB",
    "12 g/yr",
    "9 lb\u00a08 oz",
]
DAYS = [
    "2027-01-01",
    "2026-12-31",
    "2026-13-01",
    "2026-02-29",
    "2024-02-29",
    "1999-01-01",
    "2025/02/03",
    "0000-01-01",
]
DAYS += ["2025-02-03 ", "03.02.2025", "2025-2-3", "2025", "2025-02", "9999-12-31", "2025-02-3０"]
PRIVATE = [
    "Ring 0131 496 0000 first.",
    "See 12 Harbour Street.",
    "Mail a.b@example.org!",
    "On 2025-02-03 12:30.",
]
PRIVATE += [
    "+44 20 7946 0018",
    "x12 34 567 89",
    "(0131) 496 0000",
    "7b Old Mill Lane",
    "12 Harbour Streets",
    "1-2-3-4",
]
PRIVATE += [
    "é4567 890 123",
    "é@ü.de",
    "99 12-34-5678 and 12 34 56 78 90",
    "5551234 555 1234",
    "12/03/2024 55 66 777",
]
LINKS = [
    "[[flare-joint]]",
    "[[flare-jiont]]",
    "[[component:indoor-flare]]",
    "[[mode:indoor-flare]]",
    "[[KW-2025-999]]",
]
LINKS += [
    "[[S-0001]]",
    "[[S-9999]]",
    "[[ flare-joint |x]]",
    "[[S-01]]",
    "[[house:x]]",
    "[[]]",
    "[[KW-2025-014]]",
]


def valid() -> list[Draft]:
    """The valid records of the tests, and every fourth of the demo."""
    made = []
    for file in [*VALID, *DEMO[::4]]:
        document = parse.parse(file.read_bytes())
        assert isinstance(document, parse.Document), file
        made.append(document.data)
    return made


def places(value: Any, pointer: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place of a record below its root."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield (*pointer, key)
        yield from places(item, (*pointer, key))


def _holder(draft: Draft, pointer: tuple[Any, ...]) -> Any:
    return field.value(draft, pointer[:-1]) if len(pointer) > 1 else draft


def _set(draft: Draft, pointer: tuple[Any, ...], value: Any) -> None:
    _holder(draft, pointer)[pointer[-1]] = copy.deepcopy(value)


def drop(rng: random.Random, draft: Draft) -> None:
    """Something is missing."""
    pointer = rng.choice(list(places(draft)))
    del _holder(draft, pointer)[pointer[-1]]


def misspell(rng: random.Random, draft: Draft) -> None:
    """A word has a letter too many or too few, or is another one."""
    words = [p for p in places(draft) if isinstance(field.value(draft, p), str)]
    pointer = rng.choice([p for p in words if p[-1] not in ("story", "lesson")] or words)
    text = field.value(draft, pointer)
    at = rng.randrange(len(text) + 1)
    changed = [
        text[:at] + text[at + 1 :],
        text[:at] + rng.choice("aeé-S7") + text[at:],
        text.upper(),
        text.replace("-", " "),
    ]
    _set(draft, pointer, rng.choice([*changed, "Bubbles", "leaky flare", text[::-1], text + "\n"]))


def odd_value(rng: random.Random, draft: Draft) -> None:
    """Another kind of value, or none."""
    _set(draft, rng.choice(list(places(draft))), rng.choice(ODD))


def amount(rng: random.Random, draft: Draft) -> None:
    """An amount that can't be read, is of another kind or can't be."""
    names = (
        "charge",
        "lost",
        "over",
        "topped_up",
        "value",
        "background",
        "parts",
        "labour",
        "start",
        "end",
        "cost",
        "length",
    )
    there = [p for p in places(draft) if p[-1] in names and isinstance(field.value(draft, p), str)]
    if there:
        _set(draft, rng.choice(there), rng.choice(AMOUNTS))
    else:
        draft["charge"] = {"lost": rng.choice(AMOUNTS)}


def day(rng: random.Random, draft: Draft) -> None:
    """A day that does not exist, lies ahead, or comes before another."""
    there = [p for p in places(draft) if p[-1] in ("reported", "closed", "date", "installed")]
    for pointer in rng.sample(there, min(len(there), rng.choice([1, 2]))):
        _set(draft, pointer, rng.choice(DAYS))


def looks(rng: random.Random, draft: Draft) -> None:
    """Follow-ups in some order."""
    results = ["holding", "leaking-again", "other-leak"]
    draft["follow_up"] = [
        {"date": rng.choice(DAYS[:5]), "result": rng.choice(results)} for _ in range(rng.choice([1, 3]))
    ]


def _append(draft: Draft, key: str, text: str) -> None:
    if isinstance(draft.get(key), str | None):
        draft[key] = f"{draft.get(key) or 'Told'} {text}"


def private(rng: random.Random, draft: Draft) -> None:
    """Private matter, or what looks a little like it."""
    for text in rng.sample(PRIVATE, 3):
        _append(draft, rng.choice(["story", "lesson", "advice"]), text)


def link(rng: random.Random, draft: Draft) -> None:
    """References that lead somewhere or nowhere."""
    for text in rng.sample(LINKS, 3):
        _append(draft, rng.choice(["story", "lesson", "title"]), text)


def proof(rng: random.Random, draft: Draft) -> None:
    """A proof that the search may not bear out."""
    if isinstance(draft.get("cause"), dict):
        draft["cause"]["proof"] = rng.choice(["held", "held", "point", "section", "section", "suspected"])
    results = ["clean", "lead", "section", "pinpointed", "confirmed", "false-alarm"]
    results = rng.choice([results, ["clean", "false-alarm"]])
    if isinstance(draft.get("search"), list):
        for step in draft["search"]:
            if isinstance(step, dict) and rng.random() < 0.8:
                step["result"] = rng.choice(results)
    if rng.random() < 0.5:
        draft.pop("fix", None)


def hold_test(rng: random.Random, draft: Draft) -> None:
    """A hold test of any medium and any figures."""
    pressures = [
        "38 bar",
        "40 bar",
        "551 psig",
        "558.5 psig",
        "300 psig",
        "500 micron",
        "900 micron",
        "1 bara",
        "0 psig",
        "2 mbar",
    ]
    test = {
        "medium": rng.choice(["nitrogen", "nitrogen-with-tracer", "refrigerant", "vacuum"]),
        "over": "2 h",
    }
    test |= {"start": rng.choice(pressures), "end": rng.choice(pressures)}
    if rng.random() < 0.5:
        test |= {"start_temp": "5 degC", "end_temp": rng.choice(["5 degC", "30 degC", "20 degF"])}
    draft["fix"] = {"action": "remake-flare", "parts": rng.choice(["6 USD", "6 EUR"]), "hold_test": test}


def area(rng: random.Random, draft: Draft) -> None:
    """The cause is an area, or another part."""
    words = ["indoor-cabinet", "outdoor-cabinet", "line-run", "indoor-flare", "service-port", "roof-unit"]
    if isinstance(draft.get("cause"), dict):
        draft["cause"]["component"] = rng.choice(words)
    draft["also_found"] = [{"mode": "valve-core", "component": rng.choice(words), "proof": "suspected"}]


def both(rng: random.Random, draft: Draft) -> None:
    """A symptom that is seen and absent, or told twice."""
    seen = draft.get("symptoms")
    if isinstance(seen, list) and seen:
        draft[rng.choice(["not_seen", "symptoms"])] = [*seen[:1], *seen[:1], "hissing"][rng.choice([0, 1]) :]


def reading(rng: random.Random, draft: Draft) -> None:
    """A reading whose unit may not fit the instrument."""
    values = ["85 ppm", "46 dB", "480 micron", "300 psig", "12 g/yr"]
    by = ["infrared-detector", "ultrasonic", "standing-pressure", "bubble-test", "bagging", "air-survey"]
    made = {
        "at": "indoor-flare",
        "by": rng.choice(by),
        "value": rng.choice(values),
        "background": rng.choice(values),
    }
    draft["readings"] = [made]


def register(rng: random.Random, draft: Draft) -> None:
    """Another system, or none; another branch; a number of another branch."""
    draft["system"] = rng.choice(
        ["S-0001", "S-0005", "S-0042", "S-9999", "S-00011", "S-0412", "s-0001", "12"]
    )
    if rng.random() < 0.4:
        del draft["system"]
        draft.pop("equipment", None)
    draft["branch"] = rng.choice(["Ketterwick", "Osmere", "Dunbrae", "Kettervik"])
    draft["reported"] = rng.choice(["2015-06-01", "2019-06-01", "2025-06-01", "2026-06-01"])
    draft["charge"] = {"lost": rng.choice(["1 oz", "2 lb", "20 lb", "500 kg"])}


def photos(rng: random.Random, draft: Draft) -> None:
    """Photos that are attached or not."""
    names = ["flare-face.jpg", "flare-fase.jpg", "IMG_0001.jpg", "a b.jpg", "nut.gif"]
    draft["photos"] = [{"file": name, "caption": "Split face"} for name in rng.sample(names, 2)]


def strange_key(rng: random.Random, draft: Draft) -> None:
    """A key that the schema does not know."""
    holders = [draft, *(v for p in places(draft) if isinstance(v := field.value(draft, p), dict))]
    key = rng.choice(
        ["symptons", "colour", "notes", "wet and windy", "techniqe", "minute", "x" * 60, "Proof"]
    )
    rng.choice(holders)[key] = rng.choice([None, "x", 1])


def minutes(rng: random.Random, draft: Draft) -> None:
    """A whole number that is none."""
    steps = draft.get("search")
    if isinstance(steps, list) and steps and isinstance(steps[0], dict):
        steps[0]["minutes"] = rng.choice([-1, 99999, "007", "six", 6.5, "12", None, True, [6]])


def related(rng: random.Random, draft: Draft) -> None:
    """Cases that belong together, or don't exist."""
    numbers = ["KW-2025-001", "KW-2025-0001", "KW-2031-777", str(draft.get("id")), "OS-2024-002"]
    draft["related"] = [{"case": rng.choice(numbers), "as": "same-site"}]


def curt(rng: random.Random, draft: Draft) -> None:
    """Too few words, or too many."""
    draft[rng.choice(["title", "story", "lesson", "advice"])] = rng.choice(
        ["", "x", "Leak", "🔧" * 7, "🔧" * 111, "ab " * 300]
    )


def very_many(rng: random.Random, draft: Draft) -> None:
    """More faults than anybody reads."""
    step = {"technique": "bubbles", "at": ["flare"], "minutes": "six", "result": "clear"}
    draft["search"] = [dict(step) for _ in range(rng.choice([20, 40, 61]))]


SPOILS: tuple[Spoil, ...] = (
    *(drop, misspell, odd_value, amount, day, looks, private, link, proof, hold_test, area, both),
    *(reading, register, photos, strange_key, minutes, related, curt, very_many),
)


def spoilt(count: int, seed: int) -> list[Draft]:
    """Drafts with one to three faults each; every way to spoil one comes equally often."""
    rng = random.Random(seed)
    bases = valid()
    made = []
    for number in range(count):
        draft = copy.deepcopy(rng.choice(bases))
        first = SPOILS[number % len(SPOILS)]
        for spoil in (first, *rng.choices(SPOILS[:-1], k=rng.choice([0, 0, 1, 2]))):
            spoil(rng, draft) if draft else None
        made.append(draft)
    return made
