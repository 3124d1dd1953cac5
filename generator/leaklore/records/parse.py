"""Strict YAML: unique keys, no surprises (dates, `no`, `1e3` stay text), positions for every value.

The C parser composes nodes; we build plain data from them. Anchors, aliases and tags are refused:
a record is written out, and a small file can't unfold into a huge one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

from leaklore.problem import Finding
from leaklore.records.syntax import BREAK, tell

MAX_DEPTH = 40
STR, INT, FLOAT, BOOL, NULL = (f"tag:yaml.org,2002:{t}" for t in ("str", "int", "float", "bool", "null"))
_MAP, _SEQ = "tag:yaml.org,2002:map", "tag:yaml.org,2002:seq"
_ODD = re.compile(rb"[&*!%]|(?:-[ \t]+){20}|^[ ]{80}|\?[ ]", re.MULTILINE)
_CONTROL = re.compile(r"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
LONGEST_NUMBER = 18
LOST = re.compile(rb"[^\s][ \t]+#[^\s#]")
"""Where text behind a sign for comments may be lost, as in `title: Ice machine #3 leaks`."""
_COMMENT = re.compile(r"[ \t]+(#[^\s#][^\r\n]*)")


class StrictLoader(yaml.CSafeLoader):  # type: ignore[misc]
    """The C loader with our own, smaller idea of what a plain scalar means."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012


def _resolve(tag: str, pattern: str, first: str) -> None:
    for char in first:
        StrictLoader.yaml_implicit_resolvers.setdefault(char, []).append((tag, re.compile(pattern)))


_resolve(BOOL, r"^(?:true|false)$", "tf")
_resolve(INT, r"^-?(?:0|[1-9][0-9]*)$", "-0123456789")
_resolve(FLOAT, r"^-?(?:0|[1-9][0-9]*)\.[0-9]+$", "-0123456789")
StrictLoader.yaml_implicit_resolvers.setdefault("", []).append((NULL, re.compile(r"^$")))
_resolve(NULL, r"^(?:null|~)$", "n~")


@dataclass(frozen=True, slots=True)
class Document:
    """Plain data of a file and the node tree that tells where each value stands.

    `first_line` is the number of the first line of the YAML within its file (from 1); `text` is what
    was parsed.
    """

    data: Any
    root: yaml.Node
    first_line: int = 1
    text: str = field(default="", repr=False)


class _RefusedError(Exception):
    def __init__(self, finding: Finding) -> None:
        self.finding = finding


def _at(mark: Any, message: str, instead: str, first_line: int, rule: str = "yaml") -> Finding:
    return Finding((), message, instead, rule, line=mark.line + first_line, column=mark.column + 1)


def short(value: object) -> str:
    """A value for a message: on one line, cut where it is long."""
    text = " ".join(str(value).split())
    return text if len(text) <= 40 else text[:39] + "…"


def decode(data: bytes) -> str | Finding:
    """The text of a file; a finding where it is not UTF-8 or holds control characters."""
    data = data.removeprefix(b"\xef\xbb\xbf")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as fault:
        line, column = _end(data[: fault.start].decode("utf-8"))
        return Finding(
            (),
            f"is not UTF-8 text (byte 0x{data[fault.start]:02x})",
            "save the file with the encoding UTF-8",
            "yaml",
            line=line,
            column=column,
        )
    bad = control_character(text)
    if bad:
        line, column = _end(text[: bad.start()])
        return Finding((), _of_control(bad), "delete it", "yaml", line=line, column=column)
    return text


def control_character(text: str) -> re.Match[str] | None:
    """The first sign that no text file should hold."""
    return _CONTROL.search(text)


def _of_control(hit: re.Match[str]) -> str:
    return f"holds a control character (U+{ord(hit[0]):04X})"


def _end(text: str, line: int = 1, column: int = 1) -> tuple[int, int]:
    """Line and column behind `text` that begins at `line` and `column`."""
    breaks = list(BREAK.finditer(text))
    if not breaks:
        return line, column + len(text)
    return line + len(breaks), len(text) - breaks[-1].end() + 1


def parse(data: bytes, first_line: int = 1) -> Document | list[Finding]:
    """Data and positions of one YAML document, or what is wrong with it."""
    text = decode(data)
    if isinstance(text, Finding):
        return [text]
    try:
        if (
            _ODD.search(data)
            or data.count(b"[") + data.count(b"{") > 3000
            or b"[[[[" in data
            or b"{{{{" in data
        ):
            _refuse_odd_events(text, first_line)
        loader = StrictLoader(text)
        try:
            root = loader.get_single_node()
        finally:
            loader.dispose()
        if root is None or (isinstance(root, yaml.ScalarNode) and root.tag == NULL):
            return [Finding((), "is empty", "fill it in or delete it", "yaml", line=first_line, column=1)]
        findings: list[Finding] = []
        built = _build(root, first_line, findings, 0)
        if LOST.search(data):
            findings += _lost(root, text, first_line)
    except _RefusedError as refused:
        return [refused.finding]
    except yaml.YAMLError as fault:
        return [tell(fault, text, first_line)]
    except RecursionError:
        return [Finding((), "is nested too deeply", "write it flatter", "yaml", line=first_line, column=1)]
    if findings:
        return findings
    return Document(built, root, first_line, text)


def _refuse_odd_events(text: str, first_line: int) -> None:
    depth = 0
    for event in yaml.parse(text, Loader=StrictLoader):
        if isinstance(event, yaml.AliasEvent):
            raise _RefusedError(
                _at(
                    event.start_mark,
                    f'"*{short(event.anchor)}" begins with a star, which means an alias in YAML',
                    "put the text in quotes, or write the value out",
                    first_line,
                )
            )
        if getattr(event, "anchor", None):
            raise _RefusedError(
                _at(
                    event.start_mark,
                    f'"&{short(event.anchor)}" begins with &, which means an anchor in YAML',
                    "put the text in quotes, or leave it out",
                    first_line,
                )
            )
        if getattr(event, "tag", None):
            raise _RefusedError(
                _at(
                    event.start_mark,
                    f'"{short(event.tag.replace("tag:yaml.org,2002:", "!!"))}" begins with !, which means a tag in YAML',
                    "put the text in quotes, or leave it out",
                    first_line,
                )
            )
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > MAX_DEPTH:
                raise _RefusedError(
                    _at(
                        event.start_mark,
                        f"is nested more than {MAX_DEPTH} deep",
                        "write it flatter",
                        first_line,
                    )
                )
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1


def _build(node: yaml.Node, first_line: int, findings: list[Finding], depth: int) -> Any:
    if depth > MAX_DEPTH:
        raise _RefusedError(
            _at(node.start_mark, f"is nested more than {MAX_DEPTH} deep", "write it flatter", first_line)
        )
    if isinstance(node, yaml.ScalarNode):
        return _scalar(node, first_line)
    if isinstance(node, yaml.SequenceNode):
        return [_build(item, first_line, findings, depth + 1) for item in node.value]
    out: dict[str, Any] = {}
    for key_node, value_node in node.value:
        if not isinstance(key_node, yaml.ScalarNode):
            findings.append(
                _at(
                    key_node.start_mark,
                    "a list or a map stands where a key must be",
                    "write `key: value`; put text that begins with a bracket in quotes",
                    first_line,
                )
            )
            continue
        key = _printable(key_node, first_line)
        if key in out:
            findings.append(
                _at(
                    key_node.start_mark,
                    f'"{short(key)}" is given twice',
                    "keep one of them",
                    first_line,
                    "duplicate-key",
                )
            )
            continue
        out[key] = _build(value_node, first_line, findings, depth + 1)
    return out


def _lost(root: yaml.Node, text: str, first_line: int) -> Iterator[Finding]:
    """Plain values that are cut off by a # without a space behind it, which is more often a number than a comment."""
    nodes = [root]
    while nodes:
        node = nodes.pop()
        if isinstance(node, yaml.ScalarNode):
            if not node.style and (hit := _COMMENT.match(text, node.end_mark.index)):
                message = f'"{short(hit[1])}" would be lost, for # begins a comment'
                instead = "put the text in quotes, or write a comment with a space behind #"
                yield _at(node.end_mark, message, instead, first_line)
        elif isinstance(node, yaml.MappingNode):
            nodes += [value for _, value in node.value]
        else:
            nodes += node.value


def _scalar(node: yaml.ScalarNode, first_line: int) -> str | int | float | bool | None:
    tag = node.tag
    if tag == STR:
        return _printable(node, first_line)
    if tag in (INT, FLOAT):
        if len(node.value) > LONGEST_NUMBER:
            raise _RefusedError(
                _at(node.start_mark, f'"{node.value[:12]}…" is too long a number', "shorten it", first_line)
            )
        return int(node.value) if tag == INT else float(node.value)
    if tag == BOOL:
        return bool(node.value == "true")
    return None


def _printable(node: yaml.ScalarNode, first_line: int) -> str:
    """The text of a node; refused where "\\x1b" or the like puts a control character into it."""
    text: str = node.value
    if not text.isprintable() and (bad := control_character(text)):
        raise _RefusedError(
            _at(node.start_mark, _of_control(bad), "take the backslash and its number out", first_line)
        )
    return text


def locate(document: Document, finding: Finding) -> tuple[int, int]:
    """Line and column (from 1) of a finding: its value, its key, or a line inside its text."""
    if finding.line is not None:
        return finding.line, finding.column or 1
    node = document.root
    key_node: yaml.Node | None = None
    for part in finding.pointer:
        step = _step(node, part)
        if step is None:
            break
        key_node, node = step
    mark = (key_node if finding.on_key and key_node is not None else node).start_mark
    line, column = mark.line + document.first_line, mark.column + 1
    if finding.offset is not None and isinstance(node, yaml.ScalarNode):
        return _inside(document, node, *finding.offset)
    return line, column


def _inside(document: Document, node: yaml.ScalarNode, row: int, column: int) -> tuple[int, int]:
    """Line and column in the file of a place (row and column from 0) in a node's text.

    YAML takes indent away and folds lines, but keeps the signs that are not space in their order.
    """
    rows = node.value.split("\n")
    before = "".join(rows[:row]) + rows[row][:column]
    number = sum(not sign.isspace() for sign in before)
    start, end = node.start_mark, node.end_mark
    raw = document.text[start.index : end.index]
    at = next((i for n, i in enumerate(_signs(raw, node.style)) if n == number), 0)
    return _end(raw[:at], start.line + document.first_line, start.column + 1)


def _signs(raw: str, style: str | None) -> Iterator[int]:
    """Where in `raw`, text as it stands in the file, each sign begins that is not space."""
    quoted = style in ("'", '"')
    block = BREAK.search(raw) if style in ("|", ">") else None
    i = block.end() if block else int(quoted)
    while i < len(raw) - quoted:
        step = 1
        if style == "'" and raw.startswith("''", i):
            step = 2
        elif style == '"' and raw[i] == "\\":
            step = {"x": 4, "u": 6, "U": 10}.get(raw[i + 1], 2)
        if not (raw[i].isspace() or (step == 2 and raw[i + 1] in " \t\r\nntNLP_")):
            yield i
        i += step


def _step(node: yaml.Node, part: str | int) -> tuple[yaml.Node | None, yaml.Node] | None:
    if isinstance(node, yaml.MappingNode):
        for key_node, value_node in node.value:
            if key_node.value == part:
                return key_node, value_node
    elif isinstance(node, yaml.SequenceNode) and isinstance(part, int) and part < len(node.value):
        return None, node.value[part]
    return None
