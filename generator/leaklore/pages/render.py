"""The Jinja environment: escaping on, nothing undefined, one set of helpers for all templates."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import ChoiceLoader, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from leaklore import language
from leaklore.pages import audience, display, links, translate
from leaklore.pages.book import Book
from leaklore.pages.environment import Compiled, QuickEnvironment
from leaklore.pages.figures import cases as count_cases
from leaklore.pages.recall import Recall
from leaklore.records.audience import unseen

FRAGMENTS = "fragments/leaklore"
_ENDS = frozenset("0123456789>")
"""What a number ends with, or the element that holds it."""


@cache
def theme() -> Path:
    """The shipped theme: beside the code in a wheel, at the repository's root in a checkout."""
    inside = Path(__file__).parents[1] / "theme"
    return inside if inside.is_dir() else Path(__file__).parents[3] / "site_overrides"


def styles(names: Iterable[str]) -> str:
    """Parts of the stylesheet, joined, for a file that stands alone."""
    return "\n".join((theme() / "css" / f"{name}.css").read_text("utf-8") for name in names)


def marks() -> Markup:
    """The sprite of our marks, for a file that stands alone."""
    return Markup((theme() / "img" / "marks.svg").read_text("utf-8"))


def hrefs(root: str) -> Callable[[str, str], str]:
    """What templates call `href`: (kind, key) -> address, on a page from which `root` leads to the site's root."""
    return lambda kind, key: root + links.address(kind, key)


def _tied(html: str) -> str:
    """With a space that no line ends at between a number and its sign of per cent."""
    before, *parts = html.split(" %")  # far quicker than a pattern
    out = [before]
    for part in parts:
        out += ["\u00a0%" if before[-1:] in _ENDS else " %", part]
        before = part
    return "".join(out)


class Templates:
    """Fragments rendered for one book, in its language, which is that of the process from then on.

    A company's own fragment in `overrides` wins over the shipped one. `compiled` keeps them compiled.
    """

    def __init__(self, book: Book, overrides: Path | None = None, compiled: Recall | None = None) -> None:
        folders = [theme() / FRAGMENTS]
        if overrides is not None and overrides.resolve() != theme().resolve():
            folders.insert(0, overrides / FRAGMENTS)
        self.book = book
        language.use(book.language)
        self.env = QuickEnvironment(
            loader=ChoiceLoader([FileSystemLoader(f) for f in folders]),
            extensions=[translate.Translate],
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,  # a template does not change while a site is made
            bytecode_cache=Compiled(compiled) if compiled else None,
        )
        translate.install(self.env)
        lib = book.library
        show = book.display
        self.env.globals.update(
            name=lambda kind, key: links.name_of(kind, key, lib),
            term=lib.vocabulary.name,
            company=lib.company,
            guide=lib.guide,
            names_told="systems/name" not in unseen("system", lib.audience),
            searches_told=lib.searched,
            shows=lambda address: audience.shown(lib.audience, address),
            show=show,
            edition=book.today,
            language=book.language.tag,
            direction=book.language.direction,
        )
        self.env.filters.update(
            q=show.quantity,
            day=display.day,
            minutes=display.minutes,
            percent=display.percent,
            number=display.number,
            years=display.years,
            cases=count_cases,
            mass=lambda v: show.both(v, "mass"),
            rate=lambda v: show.both(v, "leak rate"),
            pressure=lambda v: show.both(v, "pressure"),
            money=show.money,
        )

    def compile(self, templates: Iterable[str]) -> None:
        """Has them ready."""
        for name in templates:
            self.env.get_template(name)

    def render(self, template: str, url: str, **context: Any) -> Markup:
        """HTML of one fragment for the page at `url`."""
        root = links.root_from(url)
        prose = self.book.prose

        def md(text: str, heading: int = 2, ids: bool = True) -> Markup:
            return prose.block(text, root, heading, ids)

        def line(text: str) -> Markup:
            return prose.line(text, root)

        html = self.env.get_template(template).render(
            root=root, href=hrefs(root), md=md, line=line, **context
        )
        return Markup(_tied(html))
