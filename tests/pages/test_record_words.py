"""Words of what the form finds: each sentence of its scripts and each word of its tables is a message."""

from __future__ import annotations

import json
import re

import pytest

from leaklore import language
from leaklore.pages import record_data, record_words
from leaklore.pages.book import Book
from leaklore.records import quantity, vocabulary
from leaklore.records.rules import plausibility
from site_fixture import ROOT

SCRIPTS = ROOT / "site_overrides" / "js" / "record"
TEXT = r"""(?:"([^"\n]+)"|'([^'\n]+)')"""


@pytest.fixture(scope="module")
def scripts() -> str:
    """All modules of the form in a row."""
    return "\n".join(f.read_text("utf-8") for f in sorted(SCRIPTS.glob("*.mjs")))


def test_what_the_scripts_say_is_a_message(scripts: str) -> None:
    """Both ways: every `say("...")` of a checking module, and every message stands in a script as it is."""
    checking = [f.read_text("utf-8") for f in SCRIPTS.glob("*.mjs") if "../say.mjs" in f.read_text("utf-8")]
    found = re.findall(rf"\bsay\((?:\w+ \? {TEXT} : )?{TEXT}", "\n".join(checking))
    said = {text for one in found for text in one if text}
    known = [m for part in record_words.SCRIPTS.values() for m in part]
    assert len(said) > 120
    assert said - set(known) == set()
    assert len(set(known)) == len(known)
    quoted = {a or b for a, b in re.findall(TEXT, scripts)}
    assert [m for m in known if m not in quoted] == []


def test_types_are_called_as_in_the_script(scripts: str) -> None:
    """One table on each side."""
    table = re.search(r"const TYPES = \{(.*?)\}", scripts, re.DOTALL)
    assert table is not None
    assert dict(re.findall(r'(\w+): "([^"]+)"', table[1])) == record_words.TYPES


def test_words_of_the_tables_are_messages(demo_book: Book) -> None:
    """What a vocabulary, a quantity and something private are called, and the examples beside them."""
    private = [one["what"] for one in record_data.record_json(demo_book)["patterns"]["private"]]
    assert [*vocabulary.NOUNS.values(), *quantity._NAMES.values(), *private] == list(record_words.NOUNS)
    examples = {*quantity.EXAMPLES.values(), *plausibility._UNIT_EXAMPLE.values()}
    assert {text for text in examples if " or " in text} == set(record_words.EXAMPLES)


def test_english_carries_no_words(demo_book: Book) -> None:
    """The data of an English site have none; those of a Spanish one have all, and their tables are Spanish."""
    assert "says" not in record_data.record_json(demo_book)
    language.use(language.load("es"))
    try:
        record = record_data.record_json(demo_book)
    finally:
        language.use(language.ENGLISH)
    said = dict(record["says"])
    assert said["{key} is missing"] == "falta {key}"
    assert said["What leaked, where, and how well that is proven."].startswith("Qué fugó")
    assert record["nouns"]["modes"] == "un modo de falla"
    assert record["dimensions"]["mass"] == {"name": "una masa", "examples": '"4 lb", "9 lb 8 oz" o "1.8 kg"'}
    assert json.dumps(record, ensure_ascii=False)
