"""From a text to items: words, typing mistakes, and the phrases that mean something.

The browser's twin is js/search/phrases.mjs.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from leaklore.analysis import text
from leaklore.search.amounts import Amount
from leaklore.search.lexicon import KINDS, Lexicon, Meaning

SKIPS = 2
"""Fillers that may stand between the words of a phrase."""
_CLAUSE = re.compile(r"[,.;:!?\n]")


@dataclass(frozen=True, slots=True)
class Token:
    word: str
    stem: str
    start: int
    end: int
    clause: int
    filler: bool
    near: tuple[str, ...] = ()
    loose: bool = False


@dataclass(frozen=True, slots=True)
class Item:
    meaning: tuple[Meaning, ...]
    start: int
    end: int
    clause: int
    word: str = ""
    stem: str = ""
    filler: bool = False
    stems: tuple[str, ...] = ()
    loose: bool = False
    inside: Meaning | None = None
    """A place named within the phrase: oil at the flare."""


def tokens_of(folded: str, found: Sequence[Amount], lexicon: Lexicon) -> list[Token]:
    out: list[Token] = []
    clause, last = 0, 0
    for hit in re.finditer(r"[a-z0-9]+", folded):
        start, end = hit.span()
        clause += len(_CLAUSE.findall(folded[last:start]))
        last = end
        amount = next((a for a in found if start < a.end and a.start < end), None)
        if amount is not None and not amount.loose:
            clause += 1  # nothing is denied, and no phrase goes on, across an amount
            continue
        word = hit[0]
        parts: tuple[str, ...] = (word,)
        if not lexicon.knows(text.stem(word)) and word in lexicon.joined:
            parts = lexicon.joined[word]
        for part in parts:
            if part in lexicon.articles and len(parts) == 1:
                continue
            s = text.stem(part)
            # a word that stands for itself may still be a slip inside a longer phrase: loosing charge
            strange = not lexicon.knows(s)
            slip = amount is None and (len(part) >= 4 or strange) and not any(c.isdigit() for c in part)
            near = tuple(n for n in lexicon.near(part) if n != s) if slip else ()
            blurred = strange and len(part) >= 4 and bool(near) and lexicon.dull.issuperset(near)
            filler = amount is None and (part in lexicon.fillers or blurred)
            out.append(Token(part, s, start, end, clause, filler, near, amount is not None))
    return out


@dataclass(frozen=True, slots=True)
class _Match:
    """`length` tokens taken by a phrase of `words` words with `slips` misspelt ones."""

    length: int
    words: int
    slips: int
    pattern: tuple[str, ...]
    meaning: tuple[Meaning, ...]


def _matches(tokens: Sequence[Token], i: int, lexicon: Lexicon) -> list[_Match]:
    """Phrases that begin at a token, one for each number of tokens taken: most words, then fewest slips."""
    first = tokens[i]
    best: dict[int, _Match] = {}
    for k, start in enumerate((first.stem, *first.near)):
        for pattern, meaning in lexicon.starts.get(start, ()):
            slips = 1 if k else 0
            known = bool(k) and _known(first, lexicon)
            j, skipped, n = i + 1, 0, 1
            while n < len(pattern) and j < len(tokens) and tokens[j].clause == first.clause:
                token = tokens[j]
                if token.stem == pattern[n]:
                    n, skipped = n + 1, 0
                elif pattern[n] in token.near:
                    n, skipped, slips = n + 1, 0, slips + 1
                    known = known or _known(token, lexicon)
                elif token.filler and skipped < SKIPS:
                    skipped += 1
                else:
                    break
                j += 1
            if n < len(pattern) or (slips == n and known):
                continue  # known words alone are no slips; hising is no form of his
            if slips and n == 1 and not _sure(first, start, lexicon):
                continue
            found, old = _Match(j - i, n, slips, pattern, meaning), best.get(j - i)
            if old is None or (n, -slips) > (old.words, -old.slips):
                best[j - i] = found
    return [best[length] for length in sorted(best)]


def _known(token: Token, lexicon: Lexicon) -> bool:
    return lexicon.knows(token.stem) and token.stem not in lexicon.articles


def _sure(token: Token, meant: str, lexicon: Lexicon) -> bool:
    """Is it a slip of that stem even where it stands alone? Not a short word that lacks a letter, and not one as near
    to a word that says nothing alone: behnd."""
    swapped = sorted(token.word) == sorted(meant)
    return (len(token.word) > 3 or swapped) and lexicon.alone.issuperset(token.near)


def _cover(tokens: Sequence[Token], lexicon: Lexicon) -> list[tuple[int, _Match | None]]:
    """The tokens cut into phrases and single words: long phrases count by the square of their words."""
    best: list[tuple[float, _Match | None]] = [(0.0, None)] * (len(tokens) + 1)
    for i in reversed(range(len(tokens))):
        score, chosen = best[i + 1][0], None
        for m in _matches(tokens, i, lexicon):
            value = m.words**2 - 0.5 * m.slips + best[i + m.length][0]
            if value > score or (value == score and chosen is None):
                score, chosen = value, m
        best[i] = score, chosen
    out = []
    i = 0
    while i < len(tokens):
        found = best[i][1]
        out.append((i, found))
        i += found.length if found else 1
    return out


def items_of(tokens: Sequence[Token], lexicon: Lexicon) -> list[Item]:
    out: list[Item] = []
    for i, m in _cover(tokens, lexicon):
        t = tokens[i]
        if m is None:
            out.append(Item((), t.start, t.end, t.clause, t.word, t.stem, t.filler, loose=t.loose))
            continue
        inside = _inside(tokens[i + 1 : i + m.length], lexicon) if m.length > 1 else None
        last = tokens[i + m.length - 1]
        stems = tuple(s for s in m.pattern if s not in lexicon.dull)
        out.append(
            Item(m.meaning, t.start, last.end, t.clause, t.word, t.stem, t.filler, stems, inside=inside)
        )
    return out


def _inside(tokens: Sequence[Token], lexicon: Lexicon) -> Meaning | None:
    """The place that the rest of a phrase ends with."""
    for i in range(len(tokens)):
        for m in reversed(_matches(tokens, i, lexicon)):
            if i + m.length == len(tokens):
                return next((k for k in m.meaning if k.kind == "place"), None)
    return None


def likeliest(meaning: Sequence[Meaning]) -> Meaning | None:
    for kind in KINDS:
        for m in meaning:
            if m.kind == kind:
                return m
    return None


def has_office(item: Item, name: str) -> bool:
    return any(m.kind == name for m in item.meaning)
