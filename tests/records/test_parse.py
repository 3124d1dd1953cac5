"""Strict YAML: what a value becomes, where it stands, and what is refused."""

from __future__ import annotations

import tracemalloc
from typing import Any

import pytest
import yaml

from leaklore.problem import Finding
from leaklore.records.parse import Document, Faults, decode, locate, parse, short
from leaklore.records.prose import line_and_column
from leaklore.records.syntax import tell


def _document(text: str | bytes, first_line: int = 1) -> Document:
    found = parse(text.encode() if isinstance(text, str) else text, first_line)
    assert isinstance(found, Document)
    return found


def _faults(text: str | bytes, first_line: int = 1) -> list[tuple[int | None, int | None, str, str]]:
    found = parse(text.encode() if isinstance(text, str) else text, first_line)
    assert isinstance(found, list)
    return [(f.line, f.column, f.message, f.rule) for f in found]


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("a: Machine #3 leaks\n", [(1, 11)]),
        ("é: é\r\na: [é #3\r\n  , y]\r\nb:\r\n  - x\t#4\r\nc: #5\r\n", [(2, 6), (5, 6), (6, 3)]),
        ("a: x # a comment\nb: 'Machine #3' #4\nc: x##3\n#d: 5\ne: |\n  Machine #3\nf: [x] #7\ng: x #\n", []),
    ],
)
def test_text_that_a_number_sign_cuts_off_is_told(text: str, places: list[tuple[int, int]]) -> None:
    """A comment has a space behind its sign, or follows a quote or a bracket."""
    found = parse(text.encode())
    faults = found if isinstance(found, list) else []
    assert sorted((f.line, f.column) for f in faults) == places
    assert all("would be lost, for # begins a comment" in f.message for f in faults)


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("true", True),
        ("false", False),
        ("null", None),
        ("~", None),
        ("", None),
        ("0", 0),
        ("-0", 0),
        ("12", 12),
        ("-7", -7),
        ("999999999999999999", 999_999_999_999_999_999),
        ("1.50", 1.5),
        ("-0.25", -0.25),
        ('"12"', "12"),
        ("'true'", "true"),
        # what YAML 1.1 makes of these is a surprise to whoever wrote them
        *[
            (text, text)
            for text in [
                "NO",
                "no",
                "No",
                "yes",
                "YES",
                "on",
                "off",
                "y",
                "n",
                "True",
                "FALSE",
                "Null",
                "NULL",
                "010",
                "0o10",
                "0x1F",
                "0b1",
                "1e3",
                "1.5e3",
                "+5",
                "1_000",
                "12:30",
                "12:30:45",
                "190:20:30",
                "2025-02-03",
                "2025-02-03T10:00:00Z",
                ".inf",
                "-.inf",
                ".nan",
                ".5",
                "5.",
                "1.2.3",
                "00",
                "-01",
                "=",
                "<<",
                "%",
                "1,5",
                "6%",
            ]
            if text != "%"
        ],
    ],
)
def test_a_plain_value_is_what_it_looks_like(written: str, value: Any) -> None:
    got = _document(f"a: {written}\n").data["a"]

    assert (got, type(got)) == (value, type(value))


def test_keys_are_always_text() -> None:
    assert _document("1: a\ntrue: b\n~: c\n2025-02-03: d\n").data == {
        "1": "a",
        "true": "b",
        "~": "c",
        "2025-02-03": "d",
    }


def test_a_byte_order_mark_and_windows_line_ends_change_nothing() -> None:
    text = "a: 1\nb: |\n  one\n  two\n"

    assert _document(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()).data == _document(text).data


@pytest.mark.parametrize(
    ("data", "line", "column", "message"),
    [
        (b"a: \xe9", 1, 4, "is not UTF-8 text (byte 0xe9)"),
        ("a: ééé\r\nb: é".encode() + b"\xff", 2, 5, "is not UTF-8 text (byte 0xff)"),
        (b"\xef\xbb\xbfa: \xe9", 1, 4, "is not UTF-8 text (byte 0xe9)"),
        (b"a: 1\rb: \xe9", 2, 4, "is not UTF-8 text (byte 0xe9)"),
        (b"a: \xed\xa0\x80", 1, 4, "is not UTF-8 text (byte 0xed)"),
        ("a: é\nb: é\x00".encode(), 2, 5, "holds a control character (U+0000)"),
        (b"a: \x1b[31m", 1, 4, "holds a control character (U+001B)"),
        (b"a: \x7f", 1, 4, "holds a control character (U+007F)"),
        ("a: \ufffe".encode(), 1, 4, "holds a control character (U+FFFE)"),
        ("a: \x84".encode(), 1, 4, "holds a control character (U+0084)"),
    ],
)
def test_bytes_that_are_no_text_are_told_at_their_place(
    data: bytes, line: int, column: int, message: str
) -> None:
    found = decode(data)

    assert isinstance(found, Finding)
    assert (found.line, found.column, found.message) == (line, column, message)


@pytest.mark.parametrize("escape", ["\\x1b", "\\0", "\\u200b\\a", "\\uFFFE"])
def test_control_characters_can_not_come_in_as_escapes(escape: str) -> None:
    assert _faults(f'a: 1\nb: "x{escape}"\n')[0][:2] == (2, 4)
    assert _faults(f'"x{escape}": 1\n')[0][:2] == (1, 1)


def test_an_escape_that_is_a_letter_is_read() -> None:
    assert _document('a: "Caf\\u00e9\\n\\tbar"\n').data == {"a": "Café\n\tbar"}


MARKED = {
    "plain": "a: one two [[x]] three\n",
    "plain over lines": "a: one\n  two\n    [[x]] three\n",
    "single quotes": "a: 'it''s two [[x]]'\n",
    "single quotes over lines": "a: 'it''s\n\n   two [[x]]'\n",
    "double quotes": 'a: "\\u00e9 \\"two\\" \\t [[x]]"\n',
    "double quotes, large letters": 'a: "\\U0001F527 \\xe9 [[x]]"\n',
    "double quotes over lines": 'a: "one \\\n    two\n    [[x]]"\n',
    "block": "a: |\n  one\n\n  é two [[x]]\n",
    "deep block": "a: |\n       one\n       [[x]]\n",
    "block with more indent inside": "a: |\n  one\n      [[x]] two\n",
    "block with indent given": "a: |4\n      one\n    [[x]]\n",
    "block with comment": "a: | # [[x]] is below\n  one\n  [[x]]\n",
    "folded": "a: >\n  one\n  two\n\n  [[x]] three\n",
    "folded, one paragraph": "a: >-\n  one\n  two\n  three [[x]]\n",
    "in a list": "- b\n- |\n   one\n   [[x]]\n",
    "in a map in a list": "- a: |-\n    one\n    two [[x]]\n",
    "behind other text": "é: 🔧\na: one [[x]]\n",
    "windows": "a: |\r\n  one\r\n  two [[x]]\r\n",
    "old line ends": "a: |\r  one\r  two [[x]]\r",
    "tabs": "a: |\n  one\n  \t[[x]]\n",
}


@pytest.mark.parametrize("text", MARKED.values(), ids=MARKED)
def test_a_place_inside_text_is_found_in_the_file(text: str) -> None:
    document = _document(text)
    data = document.data
    pointer: tuple[str | int, ...] = ("a",)
    if isinstance(data, list):
        pointer = (0, "a") if isinstance(data[0], dict) else (1,)
    value = data
    for step in pointer:
        value = value[step]
    offset = line_and_column(value, value.index("[[x]]"))

    line, column = locate(document, Finding(pointer, "", "", "", offset=offset))

    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    assert lines[line - 1][column - 1 :].startswith("[[x]]")


def test_a_finding_stands_at_its_value_or_at_its_key() -> None:
    document = _document("a: 1\nb:\n  - {c: 2, dé: three}\n")

    assert locate(document, Finding(("b", 0, "dé"), "", "", "")) == (3, 16)
    assert locate(document, Finding(("b", 0, "dé"), "", "", "", on_key=True)) == (3, 12)
    assert locate(document, Finding((), "", "", "")) == (1, 1)
    assert locate(document, Finding(("b", 7), "", "", "")) == (3, 3)  # what is not there: the nearest
    assert locate(document, Finding(("b", 0, "dé"), "", "", "", line=9)) == (9, 1)


def test_lines_count_from_the_first_line_of_the_file() -> None:
    assert locate(_document("a: 1\nb: 2\n", first_line=2), Finding(("b",), "", "", "")) == (3, 4)
    assert _faults("a: 1\na: 2\n", first_line=2) == [(3, 1, '"a" is given twice', "duplicate-key")]
    assert _faults("a: 1\nb: [\n", first_line=2) == [(3, 5, "a bracket is opened and never closed", "yaml")]
    assert _faults("a: *x\n", first_line=2)[0][0] == 2


SEVERAL = """\
search:
  - {technique: visual, at: [a], minutes: 5
  - {technique: visual, at: [b], minutes: 5}
  - technique: visual
    at: [c
    minutes: 5
    note: "Cold
  - {technique: 'visual', at: [d], minutes: 5}
fix:
  action: 'a
  labour: 4 h
  parts: [
"""


def test_each_broken_entry_of_a_list_is_told_and_the_others_are_read() -> None:
    found = parse(SEVERAL.encode())

    assert isinstance(found, Faults)
    assert [(f.line, f.column) for f in found] == [(2, 5), (5, 9), (7, 11), (10, 11), (12, 11)]
    assert found.document is not None
    assert found.document.data == {
        "search": [
            None,
            {"technique": "visual", "at": ["b"], "minutes": 5},
            {"technique": "visual", "at": None, "minutes": 5, "note": None},
            {"technique": "visual", "at": ["d"], "minutes": 5},
        ],
        "fix": {"action": None, "labour": "4 h", "parts": None},
    }
    here = [
        Finding(("search", 0), "is empty", "", "schema/type"),
        Finding(("search", 2, "at"), "is empty", "", "schema/type"),
        Finding(("search", 3, "at"), "is wrong", "", "schema/type"),
        Finding(("search", 2), '"result" is missing', "", "schema/required"),
    ]
    assert found.beside(here) == here[2:3], "of what could not be read nothing more is told"
    assert locate(found.document, here[2]) == (8, 31)


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("- key: a\n  name: 'x\n- {key: b\n- {key: c, name: d}\n", [(2, 9), (3, 3)]),
        ("a:\n- {b: 1\n- {c: 'x}\n", [(2, 3), (3, 7)]),
        ("a:\n  - {b: 1}\n   - {c: 2}\n  - {d: 'x}\n", [(3, 4), (4, 9)]),
        ("a:\n  - b: 1\n    c: 'x\n      d: y\n", [(3, 8)]),
        ("a:\n  - {b: 1}\n\t- {c: 1}\n  - {d: [}\n", [(3, 1), (4, 10)]),
        ("a:\r\n  - {b: 1\r\n  - {c: 2\r\n", [(2, 5), (3, 5)]),
        ("a:\n  - - - {b: 1\n", [(2, 9)]),
        ("a:\n  - {b: 1}\n c:\n  - {d: 'x}\n", [(3, 2)]),
        ("a:\n- {b: 1}\n c:\n- {d: 'x}\n", [(3, 2)]),
    ],
)
def test_one_fault_is_one_line_also_inside_a_list(text: str, places: list[tuple[int, int]]) -> None:
    found = parse(text.encode())

    assert isinstance(found, Faults)
    assert [(f.line, f.column) for f in found] == places


def test_all_keys_that_are_given_twice_are_told() -> None:
    assert _faults(
        "a: 1\nb: {c: 1, c: 2}\na: 3\nlong-key-" + "x" * 60 + ": 1\nlong-key-" + "x" * 60 + ": 2\n"
    ) == [
        (2, 11, '"c" is given twice', "duplicate-key"),
        (3, 1, '"a" is given twice', "duplicate-key"),
        (5, 1, '"long-key-' + "x" * 30 + '…" is given twice', "duplicate-key"),
    ]


BROKEN = [
    "a: 'x\nb: 1\n", 'a: "x\n', "a: [x, y\nb: 1\n", "a: {x: 1\nb: 2\n", "a: 1\n b: 2\n", "a\nb: 1\n", "\ta: 1\n",
    "a:\n\tb: 1\n", "a: b: c\n", "a: `x`\n", "a: @x\n", "a: %x\n", 'a: "\\q"\n', 'a: "\\x"\n', "a: 1\n---\nb: 2\n",
    "a: 1\n...\nb: 2\n", "a:\n  - x\n  y: 1\n", "- a\nb: 1\n", "a: ]\n", "a: }\n", "a: ,\n", "%YAML 2.0\n---\na: 1\n",
    "%FOO\n---\na: 1\n", "%TAG ! x y\n---\na: 1\n", "a: 'it's'\n", 'a: "x" y\n', "a: |x\n  b\n", "a: > x\n", "a: |\n  x\n y\n", "a: - b\n",
    "a: ? x\n", "a: [1, 2]]\n", "a: {b: c}}\n", "a: [,]\n", "a: 1\nb\n", "a: 1\nb\nc: 1\n", "a: !<x y\n", "a: &\n",
    "a: *\n", "a: &x\n", "a: *x\n", "a: !\n", "a: !!str x\n", "a:\n   - b\n  - c\n", "key: |\n\tx\n", "{a: b:}\n",
    "[" * 2000, "? [a]\n: b\n", "'x\n--- \n", "a: {b: 'c' d: e}\n", "a: ['b' 'c']\n",
]  # fmt: skip


@pytest.mark.parametrize("text", BROKEN)
def test_no_fault_is_told_in_the_parser_s_own_words(text: str) -> None:
    found = parse(text.encode())

    assert isinstance(found, list)
    assert all("is not valid YAML" not in f.message for f in found)
    assert all(f.instead for f in found)
    assert all(1 <= (f.line or 0) <= text.count("\n") + 1 for f in found)


@pytest.mark.parametrize("text", ["a: [", "a: [\n", "a: [b,\n\n", "a: {b: [", "[", "a: 'x", 'a: "\n\n# end'])
def test_a_fault_at_the_end_is_told_on_a_line_that_is_there(text: str) -> None:
    [(line, column, message, _)] = _faults(text)

    assert "never closed" in message
    assert line is not None
    assert column is not None
    assert line <= len(text.rstrip().split("\n"))
    assert column <= len(text.rstrip().split("\n")[line - 1]) + 1


def test_a_fault_without_plain_words_is_told_in_the_parser_s() -> None:
    found = tell(yaml.YAMLError("something  new"), "a: 1\n", first_line=3)

    assert (found.line, found.column) == (3, 1)
    assert found.message == "is not valid YAML (something new)"
    assert found.instead == "compare with the example in the schema"


def test_what_was_opened_is_told_where_it_was_opened() -> None:
    assert _faults("a: 1\nb: 'x\nc: 2\n")[0][:2] == (2, 4)
    assert _faults("a: 1\nb: [x,\n  y\nc: 2\n")[0][:2] == (2, 4)
    assert _faults("a: 1\nb: {x: 1,\n  y: 2\nc: 2\n")[0][:2] == (2, 4)


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000,
        "{a: " * 100_000,
        "- " * 100_000,
        "? " * 100_000,
        "[{a: " * 50_000,
        "[ " * 100_000,
        "".join(" " * i + "a:\n" for i in range(300)),
        "".join("  " * i + "- b:\n" for i in range(300)),
    ],
    ids=lambda t: t[:6],
)
def test_what_is_nested_too_deep_is_refused(text: str) -> None:
    [(_, _, message, rule)] = _faults(text)

    assert message.startswith("is nested ")
    assert rule == "yaml"


def test_forty_levels_are_read() -> None:
    assert isinstance(parse(b"[" * 40 + b"]" * 40), Document)
    assert isinstance(parse(b"[" * 41 + b"]" * 41), list)
    assert isinstance(parse("".join(" " * i + "a:\n" for i in range(39)).encode()), Document)


def test_an_alias_bomb_is_refused_before_it_unfolds() -> None:
    bomb = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"{key}: &{key} [{', '.join([f'*{last}'] * 9)}]\n"
        for last, key in zip("abcdefghijklm", "bcdefghijklmn", strict=True)
    )
    tracemalloc.start()

    faults = _faults(bomb)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert faults == [
        (line, 4, f'"&{key}" begins with &, which means an anchor in YAML', "yaml")
        for line, key in enumerate("abcdefghijklmn", 1)
    ]
    assert peak < 1_000_000


@pytest.mark.parametrize("text", ["", "\n\n", "# x\n", "---\n", "---\n...\n", "~", "null\n", "\ufeff"])
def test_a_file_without_content_is_empty(text: str) -> None:
    assert _faults(text) == [(1, 1, "is empty", "yaml")]


def test_a_long_value_is_cut_and_kept_on_one_line() -> None:
    assert short("one\n  two") == "one two"
    assert short("x" * 40) == "x" * 40
    assert short("x" * 41) == "x" * 39 + "…"
    assert short(5) == "5"
