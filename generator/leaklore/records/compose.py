"""Writes a record in the house's form: fields in the schema's order, small maps and lists on one line.

Text stands plain wherever our own parser reads it back unchanged, else in double quotes; what has several lines
stands behind `|`. Nothing is lost: what `parse` reads from the result is the record that was given.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from leaklore.problem import Pointer
from leaklore.records import field, parse

FIRST_LINE = "# yaml-language-server: $schema=../../../schema/case.schema.json"
WIDTH = 120
"""Characters; a list of one map that does not fit on such a line is written below its key."""
_ENTRY_A_LINE = ("readings", "instruments", "search")
_ELSEWHERE = re.compile(
    r"[-+]?(?:[0-9._]+(?:e[-+]?[0-9]+)?|0x[0-9a-f]+|0o[0-7]+|\.inf)|\.nan|true|false|null|yes|no|on|off|y|n",
    re.IGNORECASE,
)
"""What other readers of YAML, editors among them, take for a number or for true and false."""
_ESCAPED = re.compile(r'[\\"\t\n\r\x85\u2028\u2029\ufeff]')


def compose(record: Mapping[str, Any]) -> str:
    """The record as the text of its file."""
    lines = [FIRST_LINE]
    for key, value in _ordered(record, ()).items():
        lines += _entry(key, value, "")
    return "\n".join(lines) + "\n"


def _ordered(value: Any, pointer: Pointer) -> Any:
    """The same with every map in the schema's order; keys that the schema does not know come last."""
    if isinstance(value, list):
        return [_ordered(item, (*pointer, 0)) for item in value]
    if not isinstance(value, Mapping):
        return value
    known = field.names(pointer)
    keys = [key for key in known if key in value] + [key for key in value if key not in known]
    return {key: _ordered(value[key], (*pointer, key)) for key in keys}


def _entry(key: str, value: Any, indent: str) -> list[str]:
    name = f"{indent}{_scalar(key, flow=True)}:"
    if isinstance(value, str):
        return [f"{name} {_text(value, indent)}"]
    line = f"{name} {_flow(value)}"
    if isinstance(value, dict) and _holds_map(value):
        return [name, *(row for k, v in value.items() for row in _entry(k, v, f"{indent}  "))]
    if isinstance(value, list) and _holds_map(value):
        below = key in _ENTRY_A_LINE or len(value) > 1 or len(line) > WIDTH
        return [name, *(f"{indent}  - {_flow(item)}" for item in value)] if below else [line]
    return [line]


def _holds_map(value: dict[str, Any] | list[Any]) -> bool:
    return any(isinstance(v, dict) for v in (value.values() if isinstance(value, dict) else value))


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_scalar(k, flow=True)}: {_flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    if isinstance(value, str):
        return _scalar(value, flow=True)
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    return str(value)


def _text(text: str, indent: str) -> str:
    """Text behind a key: several lines as a block, everything else on the key's line."""
    if "\n" in text:
        rows = "\n".join(f"{indent}  {row}" if row else "" for row in text.removesuffix("\n").split("\n"))
        for sign in ("|", "|-", "|+"):
            if _reads(f"a: {sign}\n{rows}\n", text):
                return f"{sign}\n{rows}"
    return _scalar(text, flow=False)


@lru_cache(maxsize=4096)
def _scalar(text: str, flow: bool) -> str:
    plain = f"{{a: {text}}}" if flow else f"a: {text}"
    if "\n" not in text and not _ELSEWHERE.fullmatch(text) and _reads(plain, text):
        return text
    return '"' + _ESCAPED.sub(lambda hit: _escape(hit[0]), text) + '"'


def _escape(sign: str) -> str:
    return {"\n": "\\n", "\t": "\\t"}.get(sign) or (f"\\{sign}" if sign in '\\"' else f"\\u{ord(sign):04x}")


def _reads(yaml: str, text: str) -> bool:
    """Does our parser read `text` from this?"""
    document = parse.parse(yaml.encode())
    return isinstance(document, parse.Document) and document.data == {"a": text}
