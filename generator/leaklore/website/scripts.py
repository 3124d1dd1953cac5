"""Modules that a page always needs together, joined into one file: a phone pays for every round trip.

Joined modules use `export` before a declaration, one-line imports of names by a relative path, and top-level names
that no other joined module has; the names are checked here, so that a clash fails the build and not the phone.
"""

from __future__ import annotations

import posixpath
import re
import shutil
from collections.abc import Mapping
from pathlib import Path

from leaklore.errors import LeakloreError

JOINED: Mapping[str, tuple[str, ...]] = {
    "page.mjs": ("words", "theme", "filter", "print", "keep/register", "page"),
    "search.mjs": (
        "search/text",
        "search/amounts",
        "search/lexicon",
        "search/phrases",
        "search/negation",
        "search/understand",
        "search/causes",
        "search/places",
        "search/order",
        "search/advice",
        "search/index",
        "search/named",
        "search/find",
        "search/reasons",
        "search/second",
        "search/address",
        "search/hand",
        "search/trail",
        "search/unanswered",
        "search/view",
        "search/page",
    ),
    "record.mjs": (
        "give",
        "record/store",
        "record/calm",
        "record/pick",
        "record/form",
        "record/other_unit",
        "record/photos_ui",
        "record/register",
        "record/said",
        "record/parcel",
        "record/shelf",
        "record/handed",
        "record/page",
    ),
    "explore.mjs": ("explore/filter", "explore/address", "explore/charts", "explore/view", "explore/page"),
    "learn.mjs": (
        "give",
        "learn/progress",
        "learn/out",
        "learn/sheet",
        "learn/gathered",
        "learn/mine",
        "learn/trainer",
        "learn/learn",
    ),
    "unknown.mjs": ("learn/unknown", "learn/unknown_page"),
    "questions.mjs": (
        "learn/progress",
        "learn/questions_make",
        "learn/questions_pressure",
        "learn/questions_finding",
        "learn/questions_rates",
        "learn/questions_modes",
        "learn/questions",
        "learn/questions_page",
    ),
}
"""File -> modules in the order in which each needs those before it."""
PACKAGE = "package"
"""Modules of packages for a learning management system: no page of the site has them."""
_IMPORT = re.compile(r'^import \{ ([\w$]+(?:, [\w$]+)*) \} from "(\.\.?/[^"]+)\.mjs";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|class|const|let)\b)", re.MULTILINE)
_EXPORTED = re.compile(r"^export (?:async )?(?:function\*?|class|const|let)\s+([\w$]+)", re.MULTILINE)
_NAME = re.compile(r"^(?:async )?(?:function\*?|class|const|let)\s+([\w$]+)", re.MULTILINE)
_OTHER = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)


def join(folder: Path) -> None:
    """Puts the joined files in the place of their parts; a company's own module of the same name is joined."""
    made = {
        target: joined({part: (folder / f"{part}.mjs").read_text("utf-8") for part in parts})
        for target, parts in JOINED.items()
    }
    for part in {part for parts in JOINED.values() for part in parts}:  # a part may be in several
        (folder / f"{part}.mjs").unlink()
    for target, text in made.items():
        (folder / target).write_text(text, "utf-8")
    shutil.rmtree(folder / PACKAGE, ignore_errors=True)
    for emptied in [f for f in folder.iterdir() if f.is_dir() and not any(f.iterdir())]:
        emptied.rmdir()


def joined(sources: Mapping[str, str]) -> str:
    """One module of several, by name."""
    names: dict[str, str] = {}
    exported: dict[str, set[str]] = {}
    out = []
    for part, source in sources.items():
        for wanted, near in _IMPORT.findall(source):
            other = posixpath.normpath(posixpath.join(posixpath.dirname(part), near))
            if other not in exported:
                raise LeakloreError(f"js/{part}.mjs: js/{other}.mjs is not joined before it")
            for name in wanted.split(", "):
                if name not in exported[other]:
                    raise LeakloreError(f"js/{part}.mjs: js/{other}.mjs exports no {name}")
        exported[part] = set(_EXPORTED.findall(source))
        text = _EXPORT.sub("", _IMPORT.sub("", source))
        left = _OTHER.search(text)
        if left:
            raise LeakloreError(
                f"js/{part}.mjs: {left[0]!r} can't be joined; write a one-line import or export"
            )
        for name in _NAME.findall(text):
            if name in names:
                raise LeakloreError(
                    f"js/{part}.mjs: {name} is also in js/{names[name]}.mjs; give one another name"
                )
            names[name] = part
        out.append(lean(text))
    return "\n".join(out) + "\n"


def lean(text: str) -> str:
    """Without lines of comment, empty lines and indentation; a text that runs over lines is left as it is."""
    lines = text.splitlines()
    if any(line.count("`") % 2 for line in lines):
        return text.strip()
    kept = (line.strip() for line in lines)
    return "\n".join(line for line in kept if line and not line.startswith("//"))
