"""Markdown of records and guide -> HTML. Raw HTML is shown as text; [[references]] become links."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape

from markdown_it import MarkdownIt
from markdown_it.rules_inline import StateInline
from markdown_it.token import Token
from markupsafe import Markup, escape

from leaklore.pages import links
from leaklore.records import prose
from leaklore.records.library import Library

Link = Callable[[str], tuple[str, str] | None]


def _reference_rule(state: StateInline, silent: bool) -> bool:
    if not state.src.startswith("[[", state.pos):
        return False
    hit = prose.REFERENCE.match(state.src, state.pos)
    if not hit:
        return False
    if not silent:
        link: Link = state.env["link"]
        found = link(hit[1].strip())
        shown = hit[2] or (found[1] if found else hit[1])
        if found:
            token = state.push("link_open", "a", 1)
            token.attrs = {"href": found[0]}
        state.push("text", "", 0).content = shown
        if found:
            state.push("link_close", "a", -1)
    state.pos = hit.end()
    return True


_LINK = re.compile(r"\[([^\[\]]*)\]\([^()\s]*\)")
_LINE_MARK = re.compile(r"^[ \t]*(?:#{1,6}[ \t]+|>[ \t]?|[-*+][ \t]+|[|:-][ \t|:-]*$)", re.MULTILINE)
_MARK = re.compile(r"\*+(?=\S)|(?<=\S)\*+|`+|(?<!\w)_+(?=\w)|(?<=\w)_+(?!\w)")


def _make() -> MarkdownIt:
    md = MarkdownIt("commonmark", {"html": False, "linkify": False, "typographer": False}).enable("table")
    md.inline.ruler.before("link", "leaklore_reference", _reference_rule)
    md.disable(["image", "link", "autolink"])  # links are [[references]], which are checked
    return md


_MD = _make()
_MARKED = re.compile(r"[\\`*_\[\]<>&!\n]")
_BLOCK_MARKED = re.compile(r"[\\`*_\[\]<>&!~|\t\r\0]|^(?: |[#+=:-]|\d{1,9}[.)])| $", re.MULTILINE)
"""Whatever may make more of a text than paragraphs."""
_PLAIN_MARKED = re.compile(r"[\[*`_|#>]|^[ \t]*[-+:]", re.MULTILINE)
"""Whatever may make another text of one without marks."""
_BETWEEN_PARAGRAPHS = re.compile(r"\n\n+")


_APART = re.compile(r"(<(pre|code)\b.*?</\2>|<[^>]*>)", re.DOTALL)
"""Code and tags in HTML, in which nothing is looked for."""


def heading_id(text: str) -> str:
    """`## Where it sits` -> `where-it-sits`."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "part"


def _paragraphs(text: str) -> Markup:
    """What the parser makes of a text without a mark."""
    parts = _BETWEEN_PARAGRAPHS.split(text.strip("\n"))
    quoted = [part.strip().replace('"', "&quot;") for part in parts if part]
    return Markup("".join(f"<p>{part}</p>\n" for part in quoted))


class Prose:
    """Renders prose for one library; links are relative to the page that shows it."""

    def __init__(self, library: Library) -> None:
        self.library = library

    def _link(self, root: str) -> Link:
        def link(target: str) -> tuple[str, str] | None:
            hit = prose.resolve(target, self.library.guide)
            if hit is None:
                return None
            kind, key = hit
            if kind == "case":
                case = self.library.case(key)
                return (root + links.address("case", case.id), case.id) if case else None
            if kind == "system" and key not in self.library.systems:
                return None
            name = links.name_of(kind, key, self.library)
            return root + links.address(kind, key), name if kind == "refrigerant" else name.lower()

        return link

    def block(self, text: str, root: str, heading: int = 2, ids: bool = True) -> Markup:
        """Block HTML. Headings begin at level `heading`; with `ids` they can be linked to.

        Prose of records goes without ids, so that it can't take one that the page uses. Tables get a box to
        scroll in, and alignment by class: the Content-Security-Policy forbids style attributes.
        """
        if not _BLOCK_MARKED.search(text):  # most stories are plain, and a parser is dear
            return _paragraphs(text)
        env: dict[str, object] = {"link": self._link(root)}
        tokens = _MD.parse(text, env)
        self._tidy(tokens, heading, ids)
        html = _MD.renderer.render(tokens, _MD.options, env)
        html = html.replace("<table>", '<div class="table-box"><table>').replace("</table>", "</table></div>")
        return Markup(html)

    def line(self, text: str, root: str) -> Markup:
        """Inline HTML of one line of text."""
        if not _MARKED.search(text):  # most lines are plain, and a parser is dear
            return Markup(escape(text))
        return Markup(_MD.renderInline(text, {"link": self._link(root)}))

    def linked(self, html: str, root: str) -> str:
        """HTML that another parser made of a note, with its [[references]] outside of code as links."""
        link = self._link(root)

        def put(hit: re.Match[str]) -> str:
            found = link(unescape(hit[1]).strip())
            shown = hit[2] or (escape(found[1]) if found else hit[1])
            return f'<a href="{escape(found[0])}">{shown}</a>' if found else shown

        if "[[" not in html:
            return html
        done = 0
        out = []
        for apart in _APART.finditer(html):
            out += [prose.REFERENCE.sub(put, html[done : apart.start()]), apart[0]]
            done = apart.end()
        return "".join([*out, prose.REFERENCE.sub(put, html[done:])])

    @staticmethod
    def _tidy(tokens: list[Token], heading: int, ids: bool) -> None:
        first = 7
        for token in tokens:
            if token.type == "heading_open":
                first = min(first, int(token.tag[1]))
        taken: set[str] = set()
        last = heading - 1
        for i, token in enumerate(tokens):
            if token.type == "heading_open":
                last = min(6, last + 1, int(token.tag[1]) - first + heading)  # no level is skipped
                token.tag = f"h{last}"
            elif token.type == "heading_close":
                token.tag = f"h{last}"
            if token.type in ("th_open", "td_open") and "style" in token.attrs:
                token.attrs = {"class": "num"} if "right" in str(token.attrs["style"]) else {}
            if token.type == "heading_open" and ids:
                name = base = heading_id(tokens[i + 1].content)
                number = 1
                while name in taken:
                    number += 1
                    name = f"{base}-{number}"
                taken.add(name)
                token.attrs = {"id": name}

    @staticmethod
    def plain(text: str) -> str:
        """Text without marks, for descriptions and feeds."""
        if not _PLAIN_MARKED.search(text):  # as for `block`
            return " ".join(text.split())
        text = prose.REFERENCE.sub(lambda hit: hit[2] or hit[1].split(":")[-1], text)
        text = _LINE_MARK.sub("", _LINK.sub(r"\1", text))
        return " ".join(_MARK.sub("", text.replace("|", " ")).split())

    @staticmethod
    def opening(text: str, length: int) -> str:
        """As `plain`, of as many paragraphs as it takes for `length` characters: the rest need not be read."""
        found = ""
        for part in _BETWEEN_PARAGRAPHS.split(text):
            found = f"{found} {Prose.plain(part)}".strip()
            if len(found) > length:
                break
        return found


def shorten(text: str, length: int = 155) -> str:
    """Text cut at a word."""
    if len(text) <= length:
        return text
    return text[: length - 1].rsplit(" ", 1)[0].rstrip(",;:.") + "…"
