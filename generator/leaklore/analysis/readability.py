"""How hard a text is to read: the US school grade of Flesch and Kincaid.

Source: Kincaid, Fishburne, Rogers, Chissom (1975), Derivation of new readability formulas for Navy enlisted personnel:
grade = 0.39 words a sentence + 11.8 syllables a word - 15.59.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

_SENTENCE = re.compile(r"[.!?]+")
_WORD = re.compile(r"[^\W_]+(?:['’-][^\W_]+)*")
_VOWELS = re.compile(r"[aeiouy]+")
_SPLIT = re.compile(r"i[ao](?!u)|eo|ua(?!r)|[aeiouy]ing$")
"""Vowels side by side that are mostly said apart."""
_JOINED = re.compile(r"[tcsg]i[ao]")
"""As in station or special, where they are not."""
_MUTE_E = re.compile(
    r"(?:[^aeiouyl]|[aeiouy]l)e$|(?:[^aeiouytdl]|[aeiouy]l)ed$|(?:[^aeiouylsxzcgh]|[aeiouy]l|[^cs]h)es$"
)


@lru_cache(maxsize=20_000)
def syllables(word: str) -> int:
    """Syllables of an English word, by its letters: right for most words, and within few per cent over a page."""
    letters = "".join(re.findall(r"[a-z]", word.lower()))
    count = len(_VOWELS.findall(letters)) + len(_SPLIT.findall(letters)) - len(_JOINED.findall(letters))
    if _MUTE_E.search(letters) and count > 1:
        count -= 1
    return max(count, 1)


def grade(texts: Iterable[str]) -> float:
    """US school grade of texts read one after the other; each of them ends a sentence. 0 where there is no word."""
    words = sentences = said = 0
    for text in texts:
        for sentence in _SENTENCE.split(text):
            found = _WORD.findall(sentence)
            if found:
                sentences += 1
                words += len(found)
                said += sum(map(syllables, found))
    return 0.39 * words / sentences + 11.8 * said / words - 15.59 if words else 0.0
