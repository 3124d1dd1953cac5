"""What somebody typed -> the word of a vocabulary or the system of the register that was meant."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from leaklore.records.library import Library
from leaklore.records.model import System
from leaklore.records.near import did_you_mean
from leaklore.records.vocabulary import Vocabulary

_ALIKE = 80.0
"""Of 100: from here on a phrase is taken for a misspelling of another."""
_APART = 8.0
"""Of 100: by so much the next key must be less alike."""
_LIKELY = 60.0
"""Of 100: from here on a key is worth showing."""
_SHORTEST = 5
"""Letters; a shorter word is not taken for a misspelling."""
_MOST = 6


@dataclass(frozen=True, slots=True)
class Heard:
    """`key` where one word is meant beyond doubt, else the `nearest` keys, best first."""

    key: str | None = None
    nearest: tuple[str, ...] = ()


def word(vocabulary: Vocabulary, kind: str, typed: str) -> Heard:
    """The key that is meant by a key, a name, or a phrase as a technician types it."""
    from rapidfuzz import fuzz, process

    phrases: dict[str, str] = {_plain(k): key for k, key in vocabulary.spoken.get(kind, {}).items()}
    phrases |= {_plain(key): key for key in vocabulary.terms.get(kind, {})}
    said = _plain(typed)
    if not said:
        return Heard()
    tight = {phrase.replace(" ", ""): key for phrase, key in phrases.items()}
    if said.replace(" ", "") in tight:
        return Heard(tight[said.replace(" ", "")])
    found = dict.fromkeys(key for phrase, key in phrases.items() if f" {said}" in f" {phrase}")
    holding = sorted(found, key=lambda key: f" {said}" not in f" {_plain(key)}")
    if any(sign.isdigit() for sign in said):
        return Heard(nearest=tuple(holding[:_MOST]))  # a digit may be all the difference
    best: dict[str, float] = {}
    for phrase, likeness, _ in process.extract(said, list(phrases), scorer=fuzz.ratio, limit=None):
        best.setdefault(phrases[phrase], likeness)
    ranked = sorted(best, key=lambda key: -best[key])
    first, second = (*(best[key] for key in ranked[:2]), 0.0, 0.0)[:2]
    if len(said) >= _SHORTEST and first >= _ALIKE and first - second >= _APART:
        return Heard(ranked[0])
    if len(holding) == 1:
        return Heard(holding[0])
    return Heard(nearest=tuple(holding[:_MOST] or [key for key in ranked[:3] if best[key] >= _LIKELY]))


def systems(library: Library, typed: str, branch: str) -> list[System]:
    """Systems by number (`S-0412`, `412`) or by words of the site's and the system's name, the branch's first."""
    number = re.fullmatch(r"s?[- ]*([0-9]{1,6})", typed.strip().lower())
    if number:
        return [s for s in library.systems.values() if int(s.id.removeprefix("S-")) == int(number[1])]
    words = _plain(typed).split()
    found = [s for s in library.systems.values() if words and all(w in _name(s) for w in words)]
    return sorted(found, key=lambda s: (s.site.branch != branch, s.id))


def near_system(library: Library, typed: str) -> str:
    """What to write instead of the name of a site or the number of a system that nobody knows."""
    if re.match(r"(?i)s?-?[0-9]", typed):
        return did_you_mean(typed, library.systems, "Enter describes a system that is not in the register")
    sites: Iterable[str] = (site.name for site in library.sites.values())
    return did_you_mean(typed, sites, "write a number such as S-0412, or a part of the site's name", 50)


def _name(system: System) -> str:
    return _plain(f"{system.site.name} {system.site.key} {system.name}")


def _plain(text: str) -> str:
    """Small letters without accents, words apart by one space."""
    bare = unicodedata.normalize("NFKD", text.lower()).encode("ascii", "ignore").decode()
    return " ".join(re.findall(r"[a-z0-9]+", bare))
