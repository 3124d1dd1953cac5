"""The word that somebody meant who wrote another."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str], likeness: float = 60) -> str | None:
    """The most similar of the known words, at least `likeness` of 100; the same in every run."""
    from rapidfuzz import fuzz, process  # slow to import; only needed where something is wrong

    hit = process.extractOne(
        word, sorted(known), scorer=fuzz.ratio, processor=str.lower, score_cutoff=likeness
    )
    return str(hit[0]) if hit else None


def did_you_mean(word: str, known: Iterable[str], otherwise: str, likeness: float = 60) -> str:
    """A question with the nearest word, or `otherwise` where none is near."""
    near = nearest(word, known, likeness)
    return f'did you mean "{near}"?' if near else otherwise
