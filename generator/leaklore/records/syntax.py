"""What the YAML parser complains about, in plain words and with what to write instead."""

from __future__ import annotations

import re
from collections.abc import Sequence

import yaml

from leaklore.problem import Finding

BREAK = re.compile(r"\r\n|[\n\r\x85\u2028\u2029]")
"""What YAML takes for the end of a line."""

# sign in libyaml's words -> what is wrong, what to write instead
_PLAIN = (
    (
        "a tab character",
        "a tab stands where spaces must be",
        "indent with spaces",
    ),
    (
        "left open",
        "a quote is opened here and not closed on this line",
        "close it, and write an apostrophe inside '…' twice",
    ),
    (
        "behind a quote in brackets",
        "the text goes on behind its closing quote, or a comma is missing",
        "add the comma, or write an apostrophe inside '…' twice",
    ),
    (
        "behind a quote",
        "the text goes on behind its closing quote",
        "put all of it in quotes, and write an apostrophe inside '…' twice",
    ),
    (
        "found character that cannot start any token",
        "a character stands here that can't begin a value",
        "put the text in quotes",
    ),
    (
        "mapping values are not allowed",
        "a colon with a space stands inside text or the line is indented wrongly",
        "put the text in quotes, line it up with the keys above, or end the key above with a colon",
    ),
    (
        "found unexpected ':'",
        "a colon stands here without a space and a value behind it",
        "write `key: value`, or put the text in quotes",
    ),
    (
        "could not find expected ':'",
        "a key without a colon and a space behind it, or text that runs on without indent",
        "write `key: value` and indent the lines that follow",
    ),
    ("found unexpected end of stream", "a quote is opened here and never closed", "close it"),
    ("unexpected document indicator", "a quote is opened here and never closed", "close it"),
    ("found unknown escape character", "a backslash stands inside double quotes", "use single quotes"),
    (
        "while parsing a quoted scalar",
        "a backslash stands inside double quotes",
        "use single quotes",
    ),
    (
        "but found another document",
        "a second document begins with ---",
        "keep one record a file",
    ),
    (
        "<document start>",
        "a second document begins here",
        "keep one record a file",
    ),
    ("did not find expected closing bracket", "a bracket is opened and never closed", "close it"),
    (
        "did not find expected node content",
        "a value is missing here or a sign is out of place",
        "write the value, or put the text in quotes",
    ),
    (
        "did not find expected key",
        "the indent or a bracket does not fit the lines above",
        "line the key up with its neighbours",
    ),
    (
        "did not find expected '-' indicator",
        "the indent does not fit the list above",
        "line it up with the lines above, or begin it with `- ` under the items above",
    ),
    (
        "cut off in brackets",
        "a number sign with a space before it begins a comment, so that the bracket before it is never closed",
        "put the text in quotes",
    ),
    (
        "did not find expected ',' or ']'",
        "a list in brackets is not closed or lacks a comma",
        "write `[one, two]`, with quotes round text that holds a bracket",
    ),
    (
        "did not find expected ',' or '}'",
        "a map in braces is not closed or lacks a comma",
        "write `{key: value, key: value}`, with quotes round text that holds a comma or a bracket",
    ),
    (
        "directive",
        "the line begins with %, which means something else in YAML",
        "leave the line out",
    ),
    ("maximum nesting depth", "is nested far too deep", "write it flatter"),
    (
        "comment or line break",
        "text stands on the same line as | or >",
        "begin the text on the next line, indented",
    ),
    (
        "block sequence entries are not allowed",
        "a list can't begin on the line of its key",
        "begin each entry on a line of its own, or write `[one, two]`",
    ),
    (
        "mapping keys are not allowed",
        "a question mark with a space begins the text",
        "put the text in quotes",
    ),
    (
        "while scanning an a",  # an alias, an anchor
        "* or & begins the text, which means something else in YAML",
        "put the text in quotes",
    ),
    (
        "while scanning a tag",
        "! begins the text, which means something else in YAML",
        "put the text in quotes",
    ),
    (
        "incompatible YAML document",
        "the line begins with %, which means something else in YAML",
        "leave the line out",
    ),
)
_BRACKETS = ("',' or ']'", "',' or '}'", "closing bracket")
_OPENED_EARLIER = (
    "unexpected end of stream",
    "unexpected document indicator",
    "',' or ']'",
    "',' or '}'",
    "could not find expected ':'",
)


_BEGINS_QUOTED = re.compile(r"\s*(?:- )?[\w()-]+: +(?=([\"']))")
"""A key whose value begins with a quote."""
_LOST_BRACKET = re.compile(r"[^'\"\[\]{}]*[{\[].*?[ \t](?=#[^\s#])")
"""What stands before a comment in which the end of a list or map may be lost."""


def _left_open(lines: Sequence[str]) -> tuple[int, int] | None:
    """Where the last of these values begins that opens a quote and does not close it on its line: what YAML takes for the
    end of it is often the beginning of the next one."""
    for number in range(len(lines) - 1, -1, -1):
        begins = _BEGINS_QUOTED.match(lines[number])
        if begins and lines[number].count(begins[1]) % 2:
            return number, begins.end()
    return None


def _tab_indents(line: str) -> bool:
    return "\t" in line[: len(line) - len(line.lstrip())]


def _begins_deeper(above: Sequence[str], line: str) -> bool:
    """Is the first line with text indented more than this one?"""
    first = next((one for one in above if one.strip() and not one.lstrip().startswith("#")), "")
    return len(first) - len(first.lstrip()) > len(line) - len(line.lstrip())


def tell(fault: yaml.YAMLError, text: str, first_line: int) -> Finding:
    """The fault that the YAML parser found in `text`, for somebody who does not know YAML."""
    context = getattr(fault, "context_mark", None)
    mark = getattr(fault, "problem_mark", None) or context
    told = f"{getattr(fault, 'context', '') or ''} {getattr(fault, 'problem', '') or fault}"
    if context and mark and mark.line > context.line and any(sign in told for sign in _OPENED_EARLIER):
        mark = context  # where it was opened tells more than where the parser gave up
    line, column = (mark.line, mark.column) if mark else (0, 0)
    lines = BREAK.split(text)
    tab = line < len(lines) and _tab_indents(lines[line])
    if (
        mark and not tab and not text[mark.index :].strip()
    ):  # the parser read on to the end: tell the last line with text
        lines = BREAK.split(text.rstrip())
        line, column = len(lines) - 1, len(lines[-1])
        told = told.replace("node content", "closing bracket")
    here = lines[line] if line < len(lines) else ""
    if _tab_indents(here) or here[column : column + 1] == "\t":
        told = "a tab character"
    elif here[:column].rstrip().endswith(("'", '"')) and "did not find expected" in told:
        told = "behind a quote in brackets" if "','" in told else "behind a quote"
        opened = _left_open(lines[:line])
        if opened is not None:
            line, column = opened
            told = "left open"
    elif "<document start>" in told and _begins_deeper(lines[:line], here):
        told = "did not find expected key"
    elif any(sign in told for sign in _BRACKETS) and (lost := _LOST_BRACKET.match(here)):
        column, told = lost.end(), "cut off in brackets"
    message, instead = next(
        ((message, instead) for sign, message, instead in _PLAIN if sign in told),
        (f"is not valid YAML ({' '.join(told.split())})", "compare with the example in the schema"),
    )
    return Finding((), message, instead, "yaml", line=line + first_line, column=column + 1)
