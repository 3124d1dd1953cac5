"""Words of a text: folded, split and reduced to stems, the same here and in the browser (js/search/text.mjs).

The stemmer takes plural, -ing, -ed, -ly and a last e or y, but leaves the e of four letters: fine is no
fin. It is smaller than Porter's on purpose, so that both sides stay equal, and it only has to be consistent, not right.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache

from rapidfuzz.distance import OSA

_GAS = re.compile(r"(?<![a-z0-9])r[ \t-\r-]?([0-9]{2,4}[a-z]{0,2})(?:\(([ez])\))?(?![a-z0-9])")
_MARK = re.compile("[\u0300-\u036f]")
_BEYOND = re.compile("[\U00010000-\U0010ffff]")
"""What takes two places in the browser: emoji, and what a few rare signs are made of."""
_APOSTROPHES = "'\u2019\u2018\u02bc\u00b4`"
_WORD = re.compile(r"[a-z0-9]+")
_VOWEL = re.compile(r"[aeiouy]")
_SHORT = re.compile(r"[^aeiouy][aeiouy][^aeiouywx]")
_DOUBLE = re.compile(r"([bdgmnprt])\1$")


def fold(text: str) -> str:
    """Lower case without accents and apostrophes; `R-410A` and `r 410a` become `r410a`, a half 1/2, an emoji a space."""
    return _GAS.sub(lambda m: f"r{m[1]}{m[2] or ''}", text.translate(_FOLDED))


def fold_at(text: str) -> tuple[str, list[tuple[int, int]]]:
    """Folded text, and for each of its characters where that of the text begins and ends."""
    found = [(f, (i, i + 1)) for i, c in enumerate(text) for f in _plain(c)]
    out: list[tuple[str, tuple[int, int]]] = []
    last = 0
    for hit in _GAS.finditer("".join(f for f, _ in found)):
        kept = [hit.start(), *range(*hit.span(1)), *(range(*hit.span(2)) if hit[2] else ())]
        out += found[last : hit.start()] + [found[k] for k in kept]
        letter, (begins, _) = out[-1]
        out[-1] = letter, (begins, found[hit.end() - 1][1][1])  # with its bracket
        last = hit.end()
    out += found[last:]
    return "".join(f for f, _ in out), [place for _, place in out]


@cache
def _plain(c: str) -> str:
    """One character folded: each for itself, so that places in the text are kept."""
    if c in _APOSTROPHES:
        return ""
    if _BEYOND.match(c):
        return " "
    plain = _BEYOND.sub(" ", _MARK.sub("", unicodedata.normalize("NFKD", c.lower())))
    if "\u2044" in plain:  # 1½ is one and a half
        plain = plain.replace("\u2044", "/")
        return f" {plain}" if len(plain) > 1 else plain
    return plain


class _Folds(dict[int, str]):
    """Code of a character -> what it is folded to, found when it is first met."""

    def __missing__(self, code: int) -> str:
        self[code] = _plain(chr(code))
        return self[code]


_FOLDED = _Folds()


def words(text: str) -> list[str]:
    """Words of folded text."""
    return _WORD.findall(text)


@cache
def stem(word: str) -> str:
    """Stem of a folded word; words with digits stay as they are."""
    if len(word) < 3 or any(c.isdigit() for c in word):
        return word
    w = word
    if w.endswith("ies") and len(w) > 4:
        w = w[:-3] + "y"
    elif w.endswith(("sses", "ches", "shes", "xes", "zes")):
        w = w[:-2]
    elif w.endswith("s") and not w.endswith(("ss", "us", "is")) and len(w) > 3:
        w = w[:-1]
    for end in ("ing", "ed"):
        if w.endswith(end) and len(w) - len(end) >= 3 and _VOWEL.search(w[: -len(end)]):
            w = w[: -len(end)]
            if _DOUBLE.search(w):
                w = w[:-1]
            elif _SHORT.fullmatch(w):
                w += "e"  # piping is of pipe, not of pip
            break
    if w.endswith("ly") and len(w) > 5:
        w = w[:-2]
    if w.endswith("y") and len(w) > 3:
        w = w[:-1] + "i"
    elif w.endswith("e") and len(w) > 4:
        w = w[:-1]
    return w


def stems(text: str) -> list[str]:
    """Stems of any text, in order."""
    return [stem(w) for w in words(fold(text))]


def distance(a: str, b: str, most: int) -> int:
    """Edits from a to b: a letter put in, left out, changed, or two neighbours swapped; above `most` gives most + 1.

    Optimal string alignment distance.
    """
    return int(OSA.distance(a, b, score_cutoff=most))


def edits_allowed(word: str) -> int:
    """Typing mistakes that a word of this length may hold: none below 4 letters, one below 8, then two."""
    n = len(word)
    return 0 if n < 4 else 1 if n < 8 else 2
