"""Strict YAML without positions, for the many records in which nothing is wrong.

What comes out is what `parse.parse` makes of the same bytes. Where that is in doubt nothing comes out, and parse.py,
which takes twice as long, says what is wrong or that nothing is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import yaml
from yaml.cyaml import CParser

from leaklore.records.parse import (
    BOOL,
    INT,
    LONGEST_NUMBER,
    LOST,
    MAX_DEPTH,
    NULL,
    StrictLoader,
    control_character,
)

PIECE = 60_000
"""Bytes; entries of a long list are read so many at a time."""
_SIGNS = re.compile(rb"(?<![A-Za-z0-9.)])(?:[&*!%]|\?[ ])")
"""Behind a letter, a digit, a full stop or a bracket, none of these begins an alias, an anchor, a tag or a key."""
_DEEP = re.compile(rb"(?:-[ \t]+){20}|^[ ]{80}", re.MULTILINE)
_BRACKETS = 3000
_INDENT = b" " * 80
_ORDINARY = bytes([0x09, 0x0A, 0x0D, *range(0x20, 0x7F)])
_TEXT = object()


class _DoubtError(Exception):
    """Leave it to parse.py."""


class _Loader(CParser):  # type: ignore[misc]
    """The C parser, whose nodes carry in `tag` their value, `_TEXT` where that is the text, None for collections."""

    def resolve(self, kind: type, value: Any, implicit: tuple[bool, bool]) -> Any:
        """Called by the C parser for each node."""
        if kind is not yaml.ScalarNode:
            return None
        if implicit[0]:
            for tag, pattern in StrictLoader.yaml_implicit_resolvers.get(value[:1], ()):
                if pattern.match(value):
                    return _value(tag, value)
        return _TEXT

    def descend_resolver(self, parent: Any, index: Any) -> None:
        """Called by the C parser; there are no rules by path here."""

    def ascend_resolver(self) -> None:
        """Called by the C parser."""


def _value(tag: str, text: str) -> int | float | bool | None:
    if tag == NULL:
        return None
    if tag == BOOL:
        return text == "true"
    if len(text) > LONGEST_NUMBER:
        raise _DoubtError
    return int(text) if tag == INT else float(text)


def data_of(data: bytes) -> Any:
    """Plain data of one YAML document; None where only `parse.parse` can tell what it is."""
    if _is_odd(data):
        return None
    try:
        if data.translate(None, _ORDINARY) and control_character(data.decode("utf-8")):
            return None
        loader = _Loader(data)
        root = loader.get_single_node()
        if root is None or root.__class__ is yaml.ScalarNode:
            return None
        if b"\\" in data:
            _look_at_texts(root)
        return _built(root, 0)
    except (UnicodeDecodeError, yaml.YAMLError, RecursionError, _DoubtError):
        return None


def data_with_lists(data: bytes, keys: tuple[str, ...]) -> Any:
    """As `data_of`, for a file whose last top-level keys, in this order, hold long lists of small entries.

    Each list is cut where a line begins with the dash of an entry. A piece that is read without doubt has closed all
    that it opened, so that the pieces hold what the whole holds.
    """
    *before, key = keys
    start = re.search(rb"^%s:[ ]*\n([ ]*)- " % key.encode(), data, re.MULTILINE)
    if start is None or b"\n---" in data or b"\n..." in data:
        return data_of(data)
    head = data[: start.start()]
    found = data_with_lists(head, tuple(before)) if before else data_of(head)
    if found is None and not head.strip():
        found = {}
    if not isinstance(found, dict) or key in found:
        return None
    entries: list[Any] = []
    for piece in _pieces(data[start.start(1) :], b"\n%s- " % start[1]):
        part = data_of(b"%s:\n%s" % (key.encode(), piece))
        if part is None or part.keys() != {key} or part[key].__class__ is not list:
            return None
        entries += part[key]
    return {**found, key: entries}


def _pieces(data: bytes, dash: bytes) -> Iterator[bytes]:
    """Runs of whole entries, each a little longer than `PIECE` but the last."""
    begin = 0
    while (end := data.find(dash, begin + PIECE)) >= 0:
        yield data[begin : end + 1]
        begin = end + 1
    yield data[begin:]


def _is_odd(data: bytes) -> bool:
    """May there be aliases, anchors, tags, directives, a byte order mark, text lost in a comment, or a nest too deep for the C parser?

    A plain search for a sign takes a tenth of the time of a pattern, and most records hold none.
    """
    return (
        (any(sign in data for sign in (b"&", b"*", b"!", b"%", b"? ")) and _SIGNS.search(data) is not None)
        or any(sign in data for sign in (b"[[[[", b"{{{{", b"\xef\xbb\xbf"))
        or (
            any(sign in data for sign in (b"- - ", b"-  ", b"-\t", _INDENT))
            and _DEEP.search(data) is not None
        )
        or ((b" #" in data or b"\t#" in data) and LOST.search(data) is not None)
        or data.count(b"[") + data.count(b"{") > _BRACKETS
    )


def _built(node: Any, depth: int) -> Any:
    """Data of a list or map that lies this deep."""
    if depth >= MAX_DEPTH:
        raise _DoubtError
    scalar = yaml.ScalarNode
    if node.__class__ is yaml.SequenceNode:
        return [
            item.value
            if item.tag is _TEXT
            else item.tag
            if item.__class__ is scalar
            else _built(item, depth + 1)
            for item in node.value
        ]
    out: dict[str, Any] = {}
    for key, item in node.value:
        if key.__class__ is not scalar:
            raise _DoubtError
        out[key.value] = (
            item.value
            if item.tag is _TEXT
            else item.tag
            if item.__class__ is scalar
            else _built(item, depth + 1)
        )
    if len(out) != len(node.value):
        raise _DoubtError
    return out


def _look_at_texts(node: Any) -> None:
    """A backslash in quotes can put a control character into a text."""
    if node.__class__ is yaml.ScalarNode:
        if not node.value.isprintable() and control_character(node.value):
            raise _DoubtError
        return
    for item in node.value:
        for one in item if isinstance(item, tuple) else (item,):
            _look_at_texts(one)
