"""Imports go one way only. The layers, lowest first; a module may import its own layer and those below."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "generator" / "leaklore"

LAYERS: list[set[str]] = [
    {"errors", "problem"},
    {"workers", "cluster", "whole", "language", "marked", "ending"},
    {"own_words"},
    {"records"},
    {"trade"},
    {"analysis"},
    {"search", "pages", "intake"},
    {"report"},
    {"questions", "start"},
    {"ask"},
    {"cli", "website"},
]
"""Neighbours of one layer don't import each other."""

SERVES: dict[str, set[str]] = {"ask": {"cli"}, "questions": {"ask", "cli"}, "start": {"cli"}}
"""Modules beside `cli` for its commands `new` and `init`, and who alone may import them."""

ONLY: dict[str, set[str]] = {
    "report": {"problem"},
    "ending": set(),
    "errors": set(),
    "problem": set(),
}
"""What these import of ours, whatever lies below them."""

RECORDS = (
    "source",
    "parse",
    "schema",
    "model",
    "guide",
    "convert",
    "library",
    "rules",
    "check_guide",
    "check",
)
"""The pipeline inside records, first to last: none imports a later one. What is not named here serves them."""

OUTSIDE: dict[str, set[str]] = {
    "babel": {"language"},
    "jinja2": {"pages"},
    "mkdocs": {"website"},
    "click": {"cli", "ask"},
    "openpyxl": {"intake", "pages"},
    "yaml": {"records", "trade"},
    "jsonschema": {"records"},
    "markdown_it": {"pages"},
    "PIL": {"records.photo", "pages", "intake"},
    "pi_heif": {"records.photo"},
    "segno": {"pages"},
    "altair": {"pages"},
    "vl_convert": {"pages"},
    "distributed": {"cluster"},
}
"""Who may import what others wrote: a layer, or one module of it."""


def imports(source: str, module: str) -> Iterator[str]:
    """Every module that `source` imports, wherever in the file; relative ones made absolute.

    `from leaklore.records import guide` names `leaklore.records.guide`; that guide may also be a function
    of `leaklore.records` does not matter for a rule about layers.
    """
    package = module.split(".")
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join([*package[: len(package) - node.level], *([base] if base else [])])
            yield from (f"{base}.{alias.name}" for alias in node.names)


def modules() -> Iterator[tuple[str, str]]:
    """(dotted name, source) of every module of the package; packages carry `.__init__`."""
    for file in sorted(PACKAGE.rglob("*.py")):
        parts = file.relative_to(PACKAGE.parent).with_suffix("").parts
        yield ".".join(parts), file.read_text("utf-8")


def part(name: str, depth: int) -> str | None:
    """`leaklore.records.check` -> `records` (1) or `check` (2); None where there is none."""
    parts = name.split(".")
    return parts[depth] if parts[0] == "leaklore" and len(parts) > depth else None


def rank(layers: list[set[str]], key: str) -> int | None:
    """Which layer, None for an unknown one."""
    return next((i for i, layer in enumerate(layers) if key in layer), None)


def complaints(name: str, source: str) -> list[str]:
    """What is wrong with the imports of one module."""
    mine = part(name, 1)
    if mine in ("__init__", "__main__"):
        return []
    assert mine is not None
    out = []
    here = rank(LAYERS, mine)
    if here is None:
        return [f"{name}: leaklore.{mine} has no layer; give it one in tests/test_imports.py"]
    for target in imports(source, name):
        top = target.split(".")[0]
        if top in OUTSIDE and not {mine, f"{mine}.{part(name, 2)}"} & OUTSIDE[top]:
            out.append(f"{name} imports {target}; only {', '.join(sorted(OUTSIDE[top]))} may")
        theirs = part(target, 1)
        if theirs is None or theirs == "__version__":
            continue
        if theirs != mine:
            there = rank(LAYERS, theirs)
            if there is None:
                out.append(f"{name} imports {target}, which has no layer")
            elif there >= here:
                out.append(f"{name} imports {target}: {theirs} is not below {mine}")
            elif mine not in SERVES.get(theirs, {mine}):
                out.append(f"{name} imports {target}; only {', '.join(sorted(SERVES[theirs]))} may")
            elif mine in ONLY and theirs not in ONLY[mine]:
                out.append(f"{name} imports {target}; it may only import {sorted(ONLY[mine])}")
        elif mine == "records":
            out += inside_records(name, target)
    return out


def inside_records(name: str, target: str) -> list[str]:
    """The finer order of records."""
    a, b = part(name, 2), part(target, 2)
    if a not in RECORDS or b not in RECORDS or RECORDS.index(a) >= RECORDS.index(b):
        return []
    return [f"{name} imports {target}: {b} comes after {a}"]


ALL = dict(modules())


@pytest.mark.parametrize("name", ALL)
def test_imports_go_downwards_only(name: str) -> None:
    """Inline imports and those for type checking count too."""
    assert complaints(name, ALL[name]) == []


def test_nothing_goes_in_a_circle() -> None:
    """No module imports itself by way of others."""
    known = {n.removesuffix(".__init__") for n in ALL}

    def ours(target: str) -> str | None:
        while target and target not in known:
            target = target.rpartition(".")[0]
        return target or None

    graph = {
        name.removesuffix(".__init__"): {
            t for i in imports(source, name) if (t := ours(i)) and t != "leaklore"
        }
        for name, source in ALL.items()
    }
    done: set[str] = set()

    def walk(node: str, way: tuple[str, ...]) -> None:
        assert node not in way, " -> ".join((*way[way.index(node) :], node))
        if node in done:
            return
        for target in sorted(graph[node] - {node}):
            walk(target, (*way, node))
        done.add(node)

    for node in sorted(graph):
        walk(node, ())


def test_the_walk_sees_the_whole_package() -> None:
    """Every layer that exists is walked."""
    seen = {part(name, 1) for name in ALL}
    assert {"records", "trade", "analysis", "pages", "website", "cli", "report", "problem", "errors"} <= seen
    assert len(ALL) > 50


@pytest.mark.parametrize(
    ("name", "source", "wrong"),
    [
        ("leaklore.records.check", "from leaklore.analysis import costs", True),
        ("leaklore.records.check", "def f():\n    import leaklore.pages.book", True),
        ("leaklore.analysis.costs", "from leaklore.pages.display import number", True),
        ("leaklore.analysis.costs", "from leaklore.trade import units", False),
        ("leaklore.pages.book", "from leaklore.search import tokens", True),
        ("leaklore.search.tokens", "from leaklore.pages.book import Book", True),
        ("leaklore.pages.book", "from leaklore import report", True),
        ("leaklore.cli", "if True:\n    from leaklore.website import plugin", True),
        ("leaklore.website.plugin", "from leaklore.cli import main", True),
        ("leaklore.website.plugin", "from leaklore import report", False),
        ("leaklore.report", "from leaklore.problem import Problem", False),
        ("leaklore.report", "from leaklore.records.model import Case", True),
        ("leaklore.cli", "from leaklore import __version__", False),
        ("leaklore.cli", "from leaklore.ask import ask_case", False),
        ("leaklore.website.plugin", "from leaklore.ask import ask_case", True),
        ("leaklore.ask", "from leaklore.questions import Prompt", False),
        ("leaklore.questions", "from leaklore import ask", True),
        ("leaklore.website.plugin", "import jinja2", True),
        ("leaklore.pages.render", "import jinja2.ext", False),
        ("leaklore.pages.site", "from mkdocs.plugins import BasePlugin", True),
        ("leaklore.records.photo", "from PIL import Image", False),
        ("leaklore.records.check", "from PIL import Image", True),
        ("leaklore.website.plugin", "import PIL.Image", True),
        ("leaklore.pages.photos", "from PIL import Image", False),
        ("leaklore.analysis.patterns.rates", "import altair as alt", True),
        ("leaklore.website.plugin", "import vl_convert", True),
        ("leaklore.pages.patterns.drawing", "import vl_convert", False),
        ("leaklore.pages.site", "from ..website import plugin", True),
        ("leaklore.pages.site", "from .book import Book", False),
        ("leaklore.records.rules.ids", "from .. import check", True),
        ("leaklore.records.rules.ids", "from leaklore.records.check import check", True),
        ("leaklore.records.source", "from leaklore.records.parse import parse", True),
        ("leaklore.records.parse", "from leaklore.records.schema import Schemas", True),
        ("leaklore.records.schema", "from leaklore.records import parse", False),
        ("leaklore.intake.desk", "from leaklore.pages.book import Book", True),
        ("leaklore.intake.desk", "from leaklore.records.draft import Bench", False),
        ("leaklore.newcomer", "import os", True),
    ],
)
def test_the_rule_itself(name: str, source: str, wrong: bool) -> None:
    """It finds what it is there to find, and nothing else."""
    assert bool(complaints(name, source)) == wrong
