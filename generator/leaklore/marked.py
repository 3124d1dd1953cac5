"""Finds the messages that Babel's own extractors don't see: tables marked with `later`, and what schemas say of fields."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator, Mapping
from typing import IO, Any

Message = tuple[int, str, str | tuple[str, ...], list[str]]
"""Line, function, message (or its forms) and comments, as Babel wants them."""

HINT = 30
"""Letters of a field's description from which the form for a case shows it: a shorter one says no more than the title."""
CALLS = {"_": 1, "gettext": 1, "ngettext": 2}
"""Functions that translate, with how many messages they take."""
_KEY = re.compile(r"[\W\d_]*|[a-z0-9_./@#-]+")
"""What stands beside words in a table and is none: keys, addresses, marks."""
_BARE = re.compile(r"\{[\w-]+\}|\d*")
"""A slot or a figure alone: the same in every language."""


def python(file: IO[bytes], keywords: object, tags: object, options: object) -> Iterator[Message]:
    """Messages of a module: of calls that translate, and in `later(...)` every text that is no key."""
    for node in ast.walk(ast.parse(file.read())):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        if count := CALLS.get(node.func.id):
            said = [_text(arg) for arg in node.args[:count]]
            if all(text is not None for text in said):
                words = tuple(str(text) for text in said)
                yield node.lineno, node.func.id, words if count > 1 else words[0], []
        elif node.func.id == "later":
            for line, text in _table(node.args[0], told=True):
                yield line, "gettext", text, []


def _text(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _table(node: ast.AST, told: bool = False) -> Iterator[tuple[int, str]]:
    """Texts below a node. `told`: it is a message whatever it looks like, as the value of a mapping is."""
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str) and not (_BARE if told else _KEY).fullmatch(node.value):
            yield node.lineno, node.value
    elif isinstance(node, ast.Dict):
        for value in node.values:
            yield from _table(value, told=True)
    else:
        for child in ast.iter_child_nodes(node):
            yield from _table(child)


def schema(file: IO[bytes], keywords: object, tags: object, options: object) -> Iterator[Message]:
    """Titles of a schema's fields, and the descriptions that the form for a case shows."""
    text = file.read().decode()
    for said in _said(json.loads(text)):
        yield text[: text.index(json.dumps(said, ensure_ascii=False))].count("\n") + 1, "gettext", said, []


def _said(node: Any) -> Iterator[str]:
    if isinstance(node, Mapping):
        for key, value in node.items():
            if key == "title" and isinstance(value, str):
                yield value
            elif key == "description" and isinstance(value, str):
                yield from [value] if len(value) >= HINT else []
            elif key != "examples":
                yield from _said(value)
    elif isinstance(node, list):
        for value in node:
            yield from _said(value)
