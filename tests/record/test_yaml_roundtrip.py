"""The file that the phone writes: our parser reads back the draft, whatever stands in it, in the order of the schema."""

from __future__ import annotations

import random
import re
from typing import Any

import yaml

from leaklore.records import parse
from leaklore.records.compose import FIRST_LINE, compose

from .desk import Phone
from .drafts import DEMO, Draft, spoilt, valid

WRITE = """(drafts) => JSON.stringify(JSON.parse(drafts).map((draft) => desk.asYaml(draft, desk)))"""
NASTY = [
    "no",
    "yes",
    "on",
    "Off",
    "NULL",
    "~",
    "null",
    "true",
    "y",
    "1e3",
    "1_000",
    "0x1f",
    "12:30",
    "1:2:3",
    "2025-02-03",
]
NASTY += [
    "0.5",
    "-7",
    "+7",
    ".5",
    "5.",
    ".inf",
    "-.INF",
    ".nan",
    "007",
    "#",
    "# no comment",
    "a # b",
    "a#b",
    ": ",
    "a: b",
]
NASTY += [
    "a:",
    ":a",
    "a:b",
    "- a",
    "-a",
    "-",
    "--- a",
    "---",
    "...",
    "? a",
    "?a",
    "! a",
    "!a",
    "!!str a",
    "&a",
    "*a",
    "@a",
]
NASTY += [
    "`a`",
    "%a",
    "|",
    "|-",
    ">",
    "> a",
    "[a]",
    "[[flare-joint]]",
    "{a: b}",
    "a, b",
    "a]",
    "}",
    ",",
    "'",
    '"',
    "''",
    '""',
]
NASTY += [
    "'a'",
    '"a"',
    "it's",
    'say "hiss"',
    "a\\b",
    "\\n",
    "\\",
    " a",
    "a ",
    "  ",
    " ",
    "",
    "\ta",
    "a\tb",
    "a\t",
    "\t",
]
NASTY += [
    "🔧",
    "👩‍🔧 at work",
    "naïve café",
    "日本語",
    "a\u00a0b",
    "\u00a0a",
    "a\u2028b",
    "a\u2029",
    "\ufeffa",
    "a\u0085b",
    "\u200b",
]
NASTY += [
    "a\nb",
    "a\n",
    "\na",
    "a\n\n",
    "a\n\n\nb",
    " a\nb",
    "a\n b",
    "a\n  \nb",
    "a\n \n",
    "a\nb ",
    "\n",
    "\n\n",
    "a\r\nb",
    "a\rb",
]
NASTY += [
    "- a\n- b",
    "a: b\nc: d",
    "# a\n# b",
    "---\na",
    "a\n---\nb",
    "...\n",
    "a\n...\n",
    "> a\n\n> b",
    "|\n a",
    "a\n\tb",
    "%YAML 1.1\na",
]
NASTY += [
    "<<",
    "=",
    "<<: *a",
    "x\x00y",
    "x\x1by",
    "x\x7fy",
    "x\ufffey",
    "a" * 3000,
    "word " * 400,
    "[" * 50,
    "{{{{",
    "a\n" + " " * 90 + "b",
]
NASTY += [
    "key: [a, b",
    "a  b",
    "\\u0041",
    "null # x",
    "1 2",
    "1 kg",
    "O'Neill: \"x\", 'y' #z",
    "é: ",
    "…",
    "– a",
    "a?",
    "a? b",
    "a, ?b",
]


def cleaned(value: Any) -> Any:
    """What the phone is to write: tabs are spaces, line ends \\n, what no file can hold is gone."""
    if isinstance(value, dict):
        return {cleaned(key): cleaned(item) for key, item in value.items()}
    if isinstance(value, list):
        return [cleaned(item) for item in value]
    if not isinstance(value, str):
        return value
    text = re.sub("\r\n?", "\n", value).replace("\t", " ")
    return re.sub(parse._CONTROL, "", text)


def read(text: str) -> Any:
    """What our parser reads; a failure where it refuses."""
    document = parse.parse(text.encode())
    assert isinstance(document, parse.Document), (document, text)
    return document.data


def in_many_places(text: str) -> Draft:
    """A draft with this text behind a key, in a list of words, in a small map and in a map of maps."""
    return {
        "story": text,
        "id": text,
        "symptoms": [text, "oil-film", text],
        "search": [{"note": text, "at": [text], "technique": "visual"}],
        "fix": {"action": text, "hold_test": {"medium": text}},
        "photos": [{"caption": text, "file": "a.jpg"}, {"file": text}],
        "lesson": text,
    }


def nasty() -> list[str]:
    """Those above, and pieces of them at random."""
    rng = random.Random(11)
    signs = "ab1 .:#-?!&*|>'\"%@`,[]{}\\\n\n  \t~=é🔧\u00a0\u2028"
    made = ["".join(rng.choices(signs, k=rng.randrange(1, 12))) for _ in range(400)]
    return [*NASTY, *made]


def test_drafts_come_back_as_they_were(phone: Phone) -> None:
    drafts = [*valid(), *spoilt(300, seed=4)]
    assert len(drafts) >= 200
    for draft, text in zip(drafts, phone.run(WRITE, drafts), strict=True):
        assert text.startswith(FIRST_LINE + "\n")
        if draft:
            assert read(text) == cleaned(draft)


def test_nasty_strings_come_back_as_they_were(phone: Phone) -> None:
    strings = nasty()
    assert len(strings) >= 300
    drafts = [in_many_places(text) for text in strings]
    for draft, text in zip(drafts, phone.run(WRITE, drafts), strict=True):
        assert read(text) == cleaned(draft)
        for line in text.splitlines():
            assert "\t" not in line


def test_other_readers_of_yaml_take_every_text_for_text(phone: Phone) -> None:
    """An editor that knows YAML 1.1 must not see a number, a truth or a time in what is text; days may be days."""
    strings = [text for text in nasty() if not re.fullmatch(r"\d{4}-\d\d-\d\d", text)]
    drafts = [in_many_places(text) for text in strings]
    for draft, text in zip(drafts, phone.run(WRITE, drafts), strict=True):
        assert yaml.safe_load(text) == cleaned(draft)


def test_keys_stand_in_the_order_of_the_schema_and_lines_as_leaklore_new_writes_them(phone: Phone) -> None:
    """Backwards or not; the demo's records come out as Python composes them, sign for sign."""
    drafts = [read(file.read_text("utf-8")) for file in DEMO]

    def backwards(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: backwards(item) for key, item in reversed(value.items())}
        return [backwards(item) for item in value] if isinstance(value, list) else value

    texts = phone.run(WRITE, [backwards(draft) for draft in drafts])
    expected = [compose(draft) for draft in drafts]
    same = sum(a == b for a, b in zip(texts, expected, strict=True))
    assert same == len(drafts), next((a, b) for a, b in zip(texts, expected, strict=True) if a != b)
