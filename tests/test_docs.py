"""README, DEVELOPERS and docs/ name only what there is: links, files, names in files, commands, options, make's targets."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from leaklore.cli import main
from leaklore.records.check import check

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
TREES = ("cases", "docs", "generator", "schema", "site_overrides", "tests")
MADE = {
    "README.md": {"case.yaml", "photos/NAME.jpg"},
    "DEVELOPERS.md": {"symptom.yaml", "js/search.mjs", "js/record.mjs"},
    "serving.md": set[str](),
    "licences.md": {"js/vega-bundle.js", "js/vega-bundle.LICENSE.txt"},
}
"""Files that these pages name and that nobody has written here: a build makes them, or a company does."""
BUILT = (
    "data/",
    "feed.xml",
    "sitemap",
    "app.webmanifest",
    "failure-modes.json",
    "techniques.json",
    "groups.json",
)
BUILT += ("systems.json", "cases.csv", "cases.json", "cases/KW-", "site/", "records/KW-")
"""How the names of files of a site begin."""
SUFFIX = re.compile(r"\.(py|mjs|js|html|yaml|yml|json|css|md|toml|lock|cfg|po|csv|xml|pdf|jpg|txt)$")
SLOT = re.compile(r"\b(KEY|NAME|NUMBER|YEAR|LANGUAGE)\b|(?<=_)KEY\b|(?<=-)N\b")
FENCE = re.compile(r"^ *```(\w*)\n(.*?)^ *```", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\]\(([^)\s]+)\)")
CODE = re.compile(r"`([^`\n]+)`")
each_page = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)


def _prose(page: Path) -> str:
    return FENCE.sub("", page.read_text("utf-8"))


def _files() -> list[str]:
    found = [f for tree in TREES for f in (ROOT / tree).rglob("*") if "__pycache__" not in f.parts]
    found += ROOT.iterdir()
    return [f"/{f.relative_to(ROOT).as_posix()}" for f in found if f.is_file()]


FILES = _files()


def _each(name: str) -> list[str]:
    """`js/{a,b*,…}.mjs` -> `js/a.mjs` and `js/b*.mjs`."""
    some = re.search(r"\{(.*?)\}", name)
    parts = [part for part in some[1].split(",") if part != "…"] if some else []
    return [name.replace(some[0], part) for part in parts] if some else [name]


def _matching(name: str) -> list[str]:
    """Files whose path ends in `name`; in it `*` and words in capitals stand for others."""
    pattern = re.escape(SLOT.sub("*", name)).replace(r"\*", "[^/]*")
    return [f for f in FILES if re.search(f"/{pattern}$", f)]


def _anchors(page: Path) -> set[str]:
    heads = re.findall(r"^#+ (.+)$", _prose(page), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@each_page
def test_each_link_leads_somewhere(page: Path) -> None:
    links = [link for link in LINK.findall(_prose(page)) if not link.startswith("http")]
    assert links or page.name in ("licences.md", "serving.md")
    for link in links:
        name, _, anchor = link.partition("#")
        to = (page.parent / name).resolve() if name else page
        assert to.exists(), link
        assert not anchor or anchor in _anchors(to), link


@each_page
def test_each_file_that_is_named_is_there(page: Path) -> None:
    wrong = []
    for said in CODE.findall(_prose(page)):
        name, _, inside = said.partition("::")
        if " " in said or "/house/" in said or not SUFFIX.search(name) or not SUFFIX.sub("", name):
            continue
        if name in MADE[page.name] or name.startswith(BUILT):
            continue
        found = [_matching(one) for one in _each(name)]
        texts = [(ROOT / f[1:]).read_text("utf-8") for files in found for f in files] if inside else []
        if not all(found) or (inside and not any(re.search(rf"\b{inside}\b", text) for text in texts)):
            wrong.append(said)
    assert wrong == []


OF_TEMPLATES = {"company.labour_rate", "templates.render"}
"""What templates and page models ask for by a name of their own."""


def test_each_name_in_a_module_or_class_is_there() -> None:
    """`write.MANY`, `Book.recall`, `pages.needs`."""
    package = ROOT / "generator/leaklore"
    texts = {f: f.read_text("utf-8") for f in package.rglob("*.py")}
    seen, wrong = 0, []
    for said in CODE.findall(_prose(ROOT / "DEVELOPERS.md")):
        found = re.fullmatch(r"((?:\w+\.)*?)(\w+)\.(\w+)", re.sub(r"\(.*\)$", "", said))
        if not found or SUFFIX.search(said) or found[0] in OF_TEMPLATES or said.startswith("leaklore."):
            continue
        seen += 1
        owner, name = found[2], found[3]
        named = rf"^\s*(?:(?:async )?def|class) {name}\b|^\s*{name}\b ?[:=]"
        there = [
            f for f, text in texts.items() if f.stem == owner or re.search(rf"(?m)^class {owner}\b", text)
        ]
        if not (package / owner / f"{name}.py").exists() and not any(
            re.search(named, texts[f], re.MULTILINE) for f in there
        ):
            wrong.append(said)
    assert seen > 20
    assert wrong == []


def _commands(page: Path) -> Iterator[list[str]]:
    """Words behind `leaklore` wherever a command stands."""
    text = page.read_text("utf-8")
    lines = [line for kind, block in FENCE.findall(text) if kind == "sh" for line in block.splitlines()]
    for line in (*lines, *CODE.findall(_prose(page))):
        if told := re.match(r"(?:\S*/)?leaklore +([a-z].*)", line.split("  #")[0]):
            yield told[1].split()


@pytest.mark.parametrize("page", [p for p in PAGES if p.name != "licences.md"], ids=lambda page: page.name)
def test_each_command_and_option_is_there(page: Path) -> None:
    commands = list(_commands(page))
    assert commands
    for name, *rest in commands:
        command = main.commands.get(name)
        assert isinstance(command, click.Command), name
        known = {option for param in command.params for option in param.opts}
        assert {word for word in rest if re.match(r"--?[a-z]", word)} <= known, [name, *rest]


@each_page
def test_each_target_of_make_is_there(page: Path) -> None:
    targets = set(re.findall(r"^([a-z][\w-]*):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    text = page.read_text("utf-8")
    blocks = "\n".join(block for kind, block in FENCE.findall(text) if kind == "sh")
    said = re.findall(r"^make ([\w-]+)", blocks, re.MULTILINE) + re.findall(r"`make\s+([\w-]+)`", text)
    assert set(said) <= targets


def test_the_layout_names_each_part_of_the_program() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    layout = text.split("## How it is laid out")[1].split("```")[1]
    parts = [f for f in (ROOT / "generator/leaklore").iterdir() if not f.name.startswith("_")]
    named = {f.name + ("/" if f.is_dir() else "") for f in parts} - {
        "locale/"
    }  # said in the line of language.py
    assert {name for name in named if not re.search(rf"(?m)(^  | ){re.escape(name)}( |$)", layout)} == set()


def test_the_examples_pass_the_check(tmp_path: Path) -> None:
    """A case, a change and words of a company's own, as DEVELOPERS.md has them, in the made-up library."""
    blocks = FENCE.findall((ROOT / "DEVELOPERS.md").read_text("utf-8"))
    examples = [body for kind, body in blocks if kind in ("yaml", "po")]
    case, actions, words = examples
    for file in ("company.yaml", "systems.yaml"):
        shutil.copy(ROOT / "cases" / file, tmp_path / file)
    number = re.findall(r"^id: (.+)$", case, re.MULTILINE)[0]
    (tmp_path / "records/2025").mkdir(parents=True)
    (tmp_path / "house").mkdir()
    (tmp_path / f"records/2025/{number}.yaml").write_text(case, "utf-8")
    (tmp_path / "house/actions.yaml").write_text(actions, "utf-8")
    (tmp_path / "house/words.po").write_text(words, "utf-8")
    result = check(tmp_path)
    assert [problem.text() for problem in result.problems] == []
    assert result.library is not None
    assert [found.id for found in result.library.cases] == [number]
