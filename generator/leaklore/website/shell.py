"""The shell: one page goes through the page engine, every other page fills its slots."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from markupsafe import escape

from leaklore.errors import LeakloreError
from leaklore.pages.links import root_from
from leaklore.pages.spec import Page

SLOTS = ("ROOT", "TITLE", "DESCRIPTION", "BODY", "BANNER", "EXTRA_HEAD", "CURRENT")
_FULL = re.compile(r"@@FULL@@(.*?)@@/FULL@@", re.DOTALL)
_SLOT = re.compile(r"@@(" + "|".join((*SLOTS, r"AT:\w+")) + r")@@")


@dataclass(frozen=True)
class Shell:
    """The pieces between the slots, split once: of the whole shell, and of the one without head, foot and bar."""

    parts: tuple[str, ...]
    light: tuple[str, ...]
    _known: dict[tuple[bool, str, str], tuple[str, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @classmethod
    def split(cls, html: str) -> Shell:
        """Cuts the shell at its slots; every kind of slot has to be there."""
        parts = _SLOT.split(_FULL.sub(r"\1", html))
        for slot in ("ROOT", "TITLE", "DESCRIPTION", "BODY", "BANNER", "EXTRA_HEAD"):
            if slot not in parts[1::2]:
                raise LeakloreError(f"the shell has no slot @@{slot}@@")
        return cls(tuple(parts), tuple(_SLOT.split(_FULL.sub("", html))))

    def values(
        self, page: Page, site: str, root: str | None = None, banner: str = "", extra_head: str = ""
    ) -> dict[str, str]:
        """What fills the slots, by name; SECTION is the part of the site in which the page stands."""
        title = site if not page.url else f"{page.title}: {site}"
        return {
            "ROOT": str(escape(root if root is not None else root_from(page.url))),
            "TITLE": str(escape(title)),
            "DESCRIPTION": str(escape(page.description)),
            "BODY": str(page.body),
            "BANNER": banner,
            "EXTRA_HEAD": str(page.head) + extra_head,
            "SECTION": page.section,
        }

    def fill(
        self, page: Page, site: str, root: str | None = None, banner: str = "", extra_head: str = ""
    ) -> str:
        """The page in its shell. `root` leads to the site's root, by default from the page's address."""
        return self.filled(self.values(page, site, root, banner, extra_head), page.light)

    def filled(self, values: Mapping[str, str], light: bool = False) -> str:
        """The shell with these values in its slots; worker.js does the same on the phone, always with the whole shell."""
        out = list(self._between(light, values["ROOT"], values["SECTION"]))
        for i in range(1, len(out), 2):
            out[i] = values[out[i]]
        return "".join(out)

    def _between(self, light: bool, root: str, section: str) -> tuple[str, ...]:
        """Pieces and slots of a page of this section that lies as deep: what is the same on all of them is filled in."""
        key = light, root, section
        if key not in self._known:
            out = [""]
            parts = self.light if light else self.parts
            for piece, name in zip(parts[::2], (*parts[1::2], ""), strict=True):
                out[-1] += piece
                if name == "ROOT":
                    out[-1] += root
                elif name.startswith("AT:"):
                    out[-1] += ' aria-current="page"' if name[3:] == section else ""
                elif name:
                    out += [name, ""]
            self._known[key] = tuple(out)
        return self._known[key]
