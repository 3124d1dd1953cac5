"""Strict YAML: unique keys, no surprises (dates, `no`, `1e3` stay text), positions for every value.

The C parser composes nodes; we build plain data from them. Anchors, aliases and tags are refused:
a record is written out, and a small file can't unfold into a huge one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import yaml

from leaklore.problem import Finding, Pointer

MAX_DEPTH = 40
MAX_NODES = 2_000_000
STR, INT, FLOAT, BOOL, NULL = (f"tag:yaml.org,2002:{t}" for t in ("str", "int", "float", "bool", "null"))
_MAP, _SEQ = "tag:yaml.org,2002:map", "tag:yaml.org,2002:seq"
_ODD = re.compile(rb"[&*!%]|(?:-[ \t]+){20}|^[ ]{80}|\?[ ]", re.MULTILINE)


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

    `first_line` is the number of the first line of the YAML within its file (from 1).
    """

    data: Any
    root: yaml.Node
    first_line: int = 1


class _RefusedError(Exception):
    def __init__(self, finding: Finding) -> None:
        self.finding = finding


def _at(mark: Any, message: str, instead: str, first_line: int, rule: str = "yaml") -> Finding:
    return Finding((), message, instead, rule, line=mark.line + first_line, column=mark.column + 1)


def decode(data: bytes) -> str | Finding:
    """The text of a file; a finding where it is not UTF-8 or holds control characters."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        before = data[: fault.start]
        line = before.count(b"\n") + 1
        column = fault.start - (before.rfind(b"\n") + 1) + 1
        return Finding(
            (),
            f"is not UTF-8 text (byte 0x{data[fault.start]:02x})",
            "save the file with the encoding UTF-8",
            "yaml",
            line=line,
            column=column,
        )
    bad = re.search(r"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", text)
    if bad:
        line = text.count("\n", 0, bad.start()) + 1
        column = bad.start() - (text.rfind("\n", 0, bad.start()) + 1) + 1
        return Finding(
            (),
            f"holds a control character (U+{ord(bad.group()):04X})",
            "delete it",
            "yaml",
            line=line,
            column=column,
        )
    return text


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
        if root is None:
            return [Finding((), "is empty", "write a record into it", "yaml", line=first_line, column=1)]
        findings: list[Finding] = []
        built = _build(root, first_line, findings, 0)
    except _RefusedError as refused:
        return [refused.finding]
    except yaml.YAMLError as fault:
        return [_syntax(fault, text, first_line)]
    except RecursionError:
        return [Finding((), "is nested too deeply", "write it flatter", "yaml", line=first_line, column=1)]
    if findings:
        return findings
    return Document(built, root, first_line)


def _refuse_odd_events(text: str, first_line: int) -> None:
    depth = 0
    for event in yaml.parse(text, Loader=StrictLoader):
        if isinstance(event, yaml.AliasEvent):
            raise _RefusedError(
                _at(
                    event.start_mark,
                    f'"*{event.anchor}" is an alias',
                    "write the value out; quote the text if it begins with *",
                    first_line,
                )
            )
        if getattr(event, "anchor", None):
            raise _RefusedError(
                _at(
                    event.start_mark,
                    f'"&{event.anchor}" is an anchor',
                    "leave it out; quote the text if it begins with &",
                    first_line,
                )
            )
        if getattr(event, "tag", None):
            raise _RefusedError(
                _at(
                    event.start_mark,
                    f'"{event.tag}" is a tag',
                    "leave it out; quote the text if it begins with !",
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
    tag = node.tag
    if isinstance(node, yaml.ScalarNode):
        if tag == STR:
            return node.value
        if tag == INT:
            if len(node.value) > 18:
                raise _RefusedError(
                    _at(
                        node.start_mark,
                        f'"{node.value[:12]}…" is too long a number',
                        "shorten it",
                        first_line,
                    )
                )
            return int(node.value)
        if tag == FLOAT:
            return float(node.value)
        if tag == BOOL:
            return node.value == "true"
        return None
    if isinstance(node, yaml.SequenceNode):
        return [_build(item, first_line, findings, depth + 1) for item in node.value]
    out: dict[str, Any] = {}
    for key_node, value_node in node.value:
        if not isinstance(key_node, yaml.ScalarNode):
            findings.append(
                _at(key_node.start_mark, "a key must be one word", "write `key: value`", first_line)
            )
            continue
        key = key_node.value
        if key in out:
            findings.append(
                _at(
                    key_node.start_mark,
                    f'"{key}" is given twice',
                    "keep one of them",
                    first_line,
                    "duplicate-key",
                )
            )
            continue
        out[key] = _build(value_node, first_line, findings, depth + 1)
    return out


_PLAIN = (
    (
        "found character '\\t'",
        "a tab stands where spaces must be",
        "indent with spaces",
    ),
    (
        "found character that cannot start any token",
        "a character stands here that can't begin a value",
        "put the text in quotes; indent with spaces, not tabs",
    ),
    (
        "mapping values are not allowed",
        "a colon with a space stands inside text or the line is indented wrongly",
        "put the text in quotes or line it up with the keys above",
    ),
    (
        "could not find expected ':'",
        "a key without its colon, or text that runs on without indent",
        "write `key: value` and indent the lines that follow",
    ),
    ("found unexpected end of stream", "a quote or bracket is never closed", "close it"),
    ("found unknown escape character", "a backslash stands inside double quotes", "use single quotes"),
    (
        "but found another document",
        "a second document begins with ---",
        "keep one record a file",
    ),
    (
        "expected the node content",
        "a value is missing here or a sign is out of place",
        "write the value",
    ),
    (
        "did not find expected key",
        "the indent or a bracket does not fit the lines above",
        "line the key up with its neighbours",
    ),
    (
        "did not find expected '-' indicator",
        "the indent does not fit the list above",
        "begin the line with `- ` under the items above",
    ),
    (
        "did not find expected ',' or ']'",
        "a list in brackets is not closed or lacks a comma",
        "write `[one, two]`",
    ),
    (
        "did not find expected ',' or '}'",
        "a map in braces is not closed or lacks a comma",
        "write `{key: value, key: value}`",
    ),
)


def _syntax(fault: yaml.YAMLError, text: str, first_line: int) -> Finding:
    mark = getattr(fault, "problem_mark", None) or getattr(fault, "context_mark", None)
    told = f"{getattr(fault, 'context', '') or ''} {getattr(fault, 'problem', '') or fault}"
    line, column = (mark.line, mark.column) if mark else (0, 0)
    lines = text.splitlines()
    here = lines[line] if line < len(lines) else ""
    if "\t" in here[: max(column, 1) + 1]:
        told = "found character '\\t'"
    message, instead = next(
        ((message, instead) for sign, message, instead in _PLAIN if sign in told),
        (f"is not valid YAML ({' '.join(told.split())})", "compare with the example in the schema"),
    )
    return Finding((), message, instead, "yaml", line=line + first_line, column=column + 1)


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
        row, col = finding.offset
        if node.style in ("|", ">"):
            indent = (key_node.start_mark.column if key_node is not None else 0) + 2
            return line + 1 + row, indent + col + 1
        return (line, column + col + (1 if node.style else 0)) if row == 0 else (line, column)
    return line, column


def _step(node: yaml.Node, part: str | int) -> tuple[yaml.Node | None, yaml.Node] | None:
    if isinstance(node, yaml.MappingNode):
        for key_node, value_node in node.value:
            if key_node.value == part:
                return key_node, value_node
    elif isinstance(node, yaml.SequenceNode) and isinstance(part, int) and part < len(node.value):
        return None, node.value[part]
    return None


def pointer_of(path: Any) -> Pointer:
    """A jsonschema error's path as a pointer."""
    return tuple(path)
