"""Strict YAML: unique keys, no surprises (dates, `no`, `1e3` stay text), positions for every value.

The C parser composes nodes; we build plain data from them. Anchors, aliases and tags are refused:
a record is written out, and a small file can't unfold into a huge one.
"""

from __future__ import annotations

import codecs
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import yaml

from leaklore.problem import Finding, Pointer
from leaklore.records.syntax import BREAK, tell

MAX_DEPTH = 40
STR, INT, FLOAT, BOOL, NULL = (f"tag:yaml.org,2002:{t}" for t in ("str", "int", "float", "bool", "null"))
_MAP, _SEQ = "tag:yaml.org,2002:map", "tag:yaml.org,2002:seq"
_ODD = re.compile(rb"[&*!%]|(?:-[ \t]+){20}|^[ ]{80}|\?[ ]", re.MULTILINE)
_CONTROL = re.compile(r"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
LONGEST_NUMBER = 18
MOST_PIECES = 60
"""A record has some twenty keys; each piece is read with all that stands before it."""
_KEY = re.compile(r"^[A-Za-z_][\w-]*:(?=\s|\Z)", re.MULTILINE)
_ENTRY = re.compile(r"( *)(-(?= |$)|[A-Za-z_][\w()-]*:(?= |$))")
"""With what an entry of a list or of a map begins."""
_ALONE = re.compile(r" *[A-Za-z_][\w()-]*:[ ]*(?:#.*)?$")
"""A key whose value stands on the lines below."""
_TEXT = re.compile(r"[ ]*[^\s#]")
_DOCUMENT = re.compile(r"^(?:---|\.\.\.)", re.MULTILINE)
_BLANK = re.compile(r"[^\n\r\x85\u2028\u2029]")
_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp", "Zs")
_OF_KEYS = ("schema/required", "schema/unknown-key")
_UNESCAPED = "take the backslash and its number out"
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


def nothing() -> Document:
    """In place of a file of which nothing can be read."""
    root = yaml.compose("{}", Loader=StrictLoader)
    assert root is not None
    return Document({}, root)


class Faults(list[Finding]):
    """What is wrong with the YAML of a file. `document` is what of it can be read all the same."""

    def __init__(self, findings: Iterable[Finding], document: Document | None = None) -> None:
        super().__init__(findings)
        self.document = document
        self._places = {finding.pointer for finding in self if finding.pointer}
        self._above: set[Pointer] = set()
        self._loose: set[Pointer] = set()

    def beside(self, findings: Iterable[Finding]) -> list[Finding]:
        """Those of `findings` about the document that do not follow from these faults."""
        return [
            f
            for f in findings
            if not any(f.pointer[:n] in self._places for n in range(1, len(f.pointer) + 1))
            and not (f.rule == "schema/type" and f.pointer in self._above)
            and not (f.rule in _OF_KEYS and (f.pointer[:-1] if f.on_key else f.pointer) in self._loose)
        ]

    def distrust(self, places: Iterable[Pointer]) -> None:
        """Notes places of which nothing more is to be told, nor of the kind of what holds them."""
        for place in places:
            self._places.add(place)
            self._above.update(place[:n] for n in range(len(place)))

    def loosen(self, places: Iterable[Pointer]) -> Faults:
        """Notes maps of which keys could not be read: none is told as missing, and none as unknown."""
        self._loose.update(places)
        return self


class _RefusedError(Exception):
    def __init__(self, finding: Finding) -> None:
        self.finding = finding


def _at(
    mark: Any, message: str, instead: str, first_line: int, rule: str = "yaml", place: Pointer = ()
) -> Finding:
    return Finding(place, message, instead, rule, line=mark.line + first_line, column=mark.column + 1)


def short(value: object) -> str:
    """A value for a message: on one line, cut where it is long; signs that nobody sees are written by their number."""
    text = str(value)
    if not text.isprintable():
        text = "".join(map(_seen, text))
    text = " ".join(text.split())
    return text if len(text) <= 40 else text[:39] + "…"


def _seen(sign: str) -> str:
    if sign in " \t\n\r" or unicodedata.category(sign) not in _UNSEEN:
        return sign
    return f"\\u{ord(sign):04x}"


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


def parse(data: bytes, first_line: int = 1) -> Document | Faults:
    """Data and positions of one YAML document, or what is wrong with it."""
    text = decode(data)
    if isinstance(text, Finding):
        return Faults([text])
    odd = bool(
        _ODD.search(data) or data.count(b"[") + data.count(b"{") > 3000 or b"[[[[" in data or b"{{{{" in data
    )
    try:
        root = _composed(text, odd, first_line)
        if root is None or (isinstance(root, yaml.ScalarNode) and root.tag == NULL):
            return Faults(
                [Finding((), "is empty", "fill it in or delete it", "yaml", line=first_line, column=1)]
            )
        builder = _Builder(first_line)
        built = builder.build(root)
        if LOST.search(data):
            builder.findings += _lost(root, text, first_line)
    except _RefusedError as refused:
        return _in_pieces(text, odd, first_line, refused.finding)
    except yaml.YAMLError as fault:
        return _in_pieces(text, odd, first_line, tell(fault, text, first_line))
    except RecursionError:
        return Faults(
            [Finding((), "is nested too deeply", "write it flatter", "yaml", line=first_line, column=1)]
        )
    document = Document(built, root, first_line, text)
    return Faults(builder.findings, document).loosen(builder.loose) if builder.findings else document


def syntax_fault(data: bytes) -> Finding | None:
    """Where the YAML of another program's file can't be read; its tags and anchors are its own."""
    text = decode(data)
    if isinstance(text, Finding):
        return None if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) else text
    try:
        for _ in yaml.parse(text, Loader=StrictLoader):
            pass
    except yaml.YAMLError as fault:
        return tell(fault, text, 1)
    return None


def _composed(text: str, odd: bool, first_line: int) -> yaml.Node | None:
    """The nodes of a text; `odd`: there may be what is refused in it."""
    if odd:
        _refuse_odd_events(text, first_line)
    loader = StrictLoader(text)
    try:
        return loader.get_single_node()
    finally:
        loader.dispose()


def _in_pieces(text: str, odd: bool, first_line: int, first: Finding) -> Faults:
    """The faults of a text that the parser gave up: it is cut where a key begins on the left edge, so that what is wrong
    below one key does not hide what is wrong below the others."""
    starts = [hit.start() for hit in _KEY.finditer(text)] or [0]
    if len(starts) > MOST_PIECES or _DOCUMENT.search(text, starts[0]):
        return Faults([first])
    values: list[tuple[yaml.Node, yaml.Node]] = []
    faults: list[Finding] = []
    unread: list[Pointer] = []
    root: yaml.Node | None = None
    for start, end in zip(starts, [*starts[1:], len(text)], strict=True):
        before = _BLANK.sub(" ", text[:start])  # so that the places of what follows stay what they are
        try:
            root, told, places = _read_piece(before, text[start:end], odd, first_line)
        except RecursionError:
            return Faults([first])
        faults += told
        unread += places
        values += root.value if isinstance(root, yaml.MappingNode) else ()
    faults = [first if fault.line == first.line else fault for fault in faults] or [first]
    if values:
        root = yaml.MappingNode(_MAP, values, values[0][0].start_mark, values[-1][1].end_mark)
    elif not isinstance(root, yaml.SequenceNode):
        return Faults(faults)
    builder = _Builder(first_line)
    try:
        built = builder.build(root)
    except _RefusedError:
        return Faults(faults)
    document = Document(built, root, first_line, text)
    found = Faults([*faults, *builder.findings, *_lost(root, text, first_line)], document)
    # a value that is empty may be what stands in a piece of its own, without indent
    found.distrust([*unread, *((key.value,) for key, value in values if not value.value)])
    return found.loosen([(), *builder.loose, *(place[:-1] for place in unread)])


def _read_piece(
    before: str, piece: str, odd: bool, first_line: int
) -> tuple[yaml.Node | None, list[Finding], list[Pointer]]:
    """The nodes of a piece as far as it can be read, what is wrong in it, and the places of which nothing is known.

    Entries of lists and maps that can't be read by themselves are left out, where the rest can be read then.
    """
    try:
        return _composed(before + piece, odd, first_line), [], []
    except (_RefusedError, yaml.YAMLError) as fault:
        first = _told(fault, before + piece, first_line)
    row = len(BREAK.findall(before))
    lines = piece.splitlines(keepends=True)
    broken = _broken(lines, first_line + row, odd)
    kept = [*lines]
    for entry in broken:
        for i in range(entry.begin, entry.end):
            width = entry.width if i == entry.begin else 0
            kept[i] = lines[i][:width] + _BLANK.sub(" ", lines[i][width:])
    try:
        root = _composed(before + "".join(kept), odd, first_line)
    except (_RefusedError, yaml.YAMLError):  # how they stand together is wrong, too
        return None, [first], []
    rows = {row + entry.begin for entry in broken}
    empty = [place for node, place in _nodes(root) if not node.value and node.start_mark.line in rows]
    return root, [entry.finding for entry in broken], empty


@dataclass(frozen=True, slots=True)
class _Broken:
    """Lines that can't be read by themselves, `begin` to `end`; of the first one `width` signs, a key or a dash, can."""

    begin: int
    end: int
    width: int
    finding: Finding


def _told(fault: _RefusedError | yaml.YAMLError, text: str, first_line: int) -> Finding:
    return fault.finding if isinstance(fault, _RefusedError) else tell(fault, text, first_line)


def _broken(
    lines: Sequence[str], first_line: int, odd: bool, begin: int = 0, width: int = 0
) -> list[_Broken]:
    """The smallest entries among the lines that can't be read by themselves; the lines follow `begin` others."""
    text = "".join(lines)
    try:
        _composed(text, odd, first_line + begin)
        return []
    except (_RefusedError, yaml.YAMLError) as fault:
        told = _told(fault, text, first_line + begin)
    found = [
        broken
        for i, part, inner in _entries(lines)
        for broken in _broken(part, first_line, odd, begin + i, inner)
    ]
    return found or [_Broken(begin, begin + len(lines), width, told)]


def _entries(lines: Sequence[str]) -> Iterator[tuple[int, Sequence[str], int]]:
    """The entries of the list or map that the lines hold, each with the number of lines before it and the width of its
    dash or key. What one entry holds, where they hold that alone."""
    found = _level(lines, 0)
    if len(found) == 1 and (only := found[0])[0] == 0:
        if only[1] == "-":
            lines = [lines[0].replace("-", " ", 1), *lines[1:]]
            found = [entry for entry in _level(lines, 0) if entry[1] != "-"]  # no record has a list in a list
        elif _ALONE.match(lines[0].rstrip()):
            found = _level(lines, 1)
        else:
            return
    if found and _is_left_early(lines[found[0][0] :]):
        return
    ends = [*(i for i, *_ in found), len(lines)][1:]
    for (i, _, width), end in zip(found, ends, strict=True):
        yield i, lines[i:end], width


def _level(lines: Sequence[str], begin: int) -> list[tuple[int, str, int]]:
    """Where entries begin that are indented as the first line with text from `begin` on: line, sign, width."""
    first = next((i for i in range(begin, len(lines)) if _TEXT.match(lines[i])), len(lines))
    hits = [(i, _ENTRY.match(lines[i].rstrip("\r\n"))) for i in range(first, len(lines))]
    found = [(i, hit[1] + hit[2][-1], hit) for i, hit in hits if hit]
    kind = found[0][1] if found and found[0][0] == first else ""
    return [(i, sign[-1], hit.end()) for i, sign, hit in found if sign == kind]


def _is_left_early(lines: Sequence[str]) -> bool:
    """Does a line stand further left than what an entry holds? What follows may then belong to something else."""
    begin = len(lines[0]) - len(lines[0].lstrip(" "))
    least = begin + 2 if lines[0].lstrip(" ").startswith("-") else begin
    return any(
        len(line) - len(line.lstrip(" ")) < least
        for line in lines[1:]
        if _TEXT.match(line) and not line.lstrip(" ").startswith(("-", "\t"))
    )


def _nodes(root: yaml.Node | None) -> Iterator[tuple[yaml.Node, Pointer]]:
    """Every node that is no key, with its place."""
    nodes: list[tuple[yaml.Node, Pointer]] = [(root, ())] if root is not None else []
    while nodes:
        node, place = nodes.pop()
        yield node, place
        if isinstance(node, yaml.MappingNode):
            nodes += [(value, (*place, str(key.value))) for key, value in node.value]
        elif isinstance(node, yaml.SequenceNode):
            nodes += [(item, (*place, i)) for i, item in enumerate(node.value)]


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


class _Builder:
    """Plain data of nodes; what is wrong with a key or a value is noted and left out, and the rest is read."""

    def __init__(self, first_line: int) -> None:
        self._first_line = first_line
        self.findings: list[Finding] = []
        self.loose: list[Pointer] = []

    def build(self, node: yaml.Node, place: Pointer = ()) -> Any:
        """Data of the node at `place`. Raises _RefusedError where it is too deep."""
        if len(place) > MAX_DEPTH:
            message = f"is nested more than {MAX_DEPTH} deep"
            raise _RefusedError(_at(node.start_mark, message, "write it flatter", self._first_line))
        if isinstance(node, yaml.ScalarNode):
            return self._scalar(node, place)
        if isinstance(node, yaml.SequenceNode):
            return [self.build(item, (*place, i)) for i, item in enumerate(node.value)]
        out: dict[str, Any] = {}
        for key_node, value_node in node.value:
            if not isinstance(key_node, yaml.ScalarNode):
                self._tell(
                    key_node,
                    "a list or a map stands where a key must be",
                    "write `key: value`; put text that begins with a bracket in quotes",
                    place=place,
                )
                self.loose.append(place)
                continue
            key: str = key_node.value
            if not key.isprintable() and (bad := control_character(key)):
                self._tell(key_node, _of_control(bad), _UNESCAPED)
                self.loose.append(place)
            elif key in out:
                message = f'"{short(key)}" is given twice'
                self._tell(key_node, message, "keep one of them", "duplicate-key", (*place, key))
            else:
                out[key] = self.build(value_node, (*place, key))
        return out

    def _scalar(self, node: yaml.ScalarNode, place: Pointer) -> str | int | float | bool | None:
        tag, text = node.tag, str(node.value)
        if tag == STR:
            if not text.isprintable() and (bad := control_character(text)):
                self._tell(node, _of_control(bad), _UNESCAPED, place=place)
            return text
        if tag in (INT, FLOAT):
            if len(text) > LONGEST_NUMBER:
                self._tell(node, f'"{text[:12]}…" is too long a number', "shorten it", place=place)
                return 0
            return int(text) if tag == INT else float(text)
        if tag == BOOL:
            return text == "true"
        return None

    def _tell(
        self, node: yaml.Node, message: str, instead: str, rule: str = "yaml", place: Pointer = ()
    ) -> None:
        self.findings.append(_at(node.start_mark, message, instead, self._first_line, rule, place))


def _lost(root: yaml.Node, text: str, first_line: int) -> Iterator[Finding]:
    """Plain values that are cut off by a # without a space behind it, which is more often a number than a comment."""
    for node, place in _nodes(root):
        if not isinstance(node, yaml.ScalarNode) or node.style:
            continue
        if hit := _COMMENT.match(text, node.end_mark.index):
            message = f'"{short(hit[1])}" would be lost, for # begins a comment'
            instead = "put the text in quotes, or write a comment with a space behind #"
            yield _at(node.end_mark, message, instead, first_line, place=place)


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
