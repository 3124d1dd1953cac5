"""Words, stems and typing mistakes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.analysis import text

WORDS = st.text("abcdeginsy", max_size=9)


@pytest.mark.parametrize(
    ("said", "folded"),
    [
        ("R-410A", "r410a"),
        ("r 410a", "r410a"),
        ("R410A low", "r410a low"),
        ("R-1234ze(E)", "r1234zee"),
        ("R-1234ze(Z)", "r1234zez"),
        ("R-1234ze", "r1234ze"),
        ("FLARE", "flare"),
        ("Café", "cafe"),
        ("it's the customer’s", "its the customers"),
        ("for 12 r 7", "for 12 r 7"),
        ("for-410a", "for-410a"),
    ],
)
def test_fold(said: str, folded: str) -> None:
    """Case, accents and apostrophes go; refrigerants have one spelling; other words with an r are left alone."""
    assert text.fold(said) == folded


def test_words_are_letters_and_digits() -> None:
    """Everything else parts them."""
    assert text.words("oil/dust, r410a 3.5-lb") == ["oil", "dust", "r410a", "3", "5", "lb"]


@pytest.mark.parametrize(
    "alike",
    [
        "leak leaks leaking leaked",
        "flare flares flared flaring",
        "corrode corroded corroding corrodes",
        "fit fitting fitted fits",
        "body bodies",
        "hiss hisses hissing hissed",
        "weep weeps weeping",
        "patch patches patched patching",
        "slow slowly",
        "rub rubbed rubbing rubs",
        "oil oils oiled oiling",
    ],
)
def test_forms_of_a_word_have_one_stem(alike: str) -> None:
    """All forms that the trade writes."""
    assert len({text.stem(w) for w in alike.split()}) == 1, {w: text.stem(w) for w in alike.split()}


@pytest.mark.parametrize(
    ("one", "other"),
    [("flare", "flange"), ("coil", "oil"), ("gas", "gasket"), ("cut", "cutter"), ("ring", "ran")],
)
def test_different_words_stay_apart(one: str, other: str) -> None:
    """A stemmer that takes everything off would pass the test above."""
    assert text.stem(one) != text.stem(other)


@pytest.mark.parametrize("word", ["410a", "r22", "3s", "is", "gas", "glass", "ring", "bus", "red", "oil"])
def test_what_the_stemmer_leaves_alone(word: str) -> None:
    """Short words, words with digits, and endings that only look like one."""
    assert text.stem(word) == word


def test_stems_of_a_text_keep_their_order() -> None:
    """Each as often as it is said."""
    assert text.stems("Leaking R-410A, leaks at the FLARES") == ["leak", "r410a", "leak", "at", "the", "flar"]


@given(WORDS, WORDS, st.integers(0, 3))
def test_distance_is_symmetric_and_stops_at_most(a: str, b: str, most: int) -> None:
    """Beyond `most` it is most + 1 whatever it would be; a cut never changes what is within."""
    whole = text.distance(a, b, 99)
    assert text.distance(a, b, most) == text.distance(b, a, most) == min(whole, most + 1)
    assert (whole == 0) == (a == b)
    assert abs(len(a) - len(b)) <= whole <= max(len(a), len(b))


@pytest.mark.parametrize(
    ("a", "b", "edits"),
    [
        ("flare", "flrae", 1),
        ("flare", "flar", 1),
        ("flare", "fflare", 1),
        ("flare", "flate", 1),
        ("", "abc", 3),
        ("flare", "falre", 1),
    ],
)
def test_one_slip_is_one_edit(a: str, b: str, edits: int) -> None:
    """Left out, put in, changed, swapped."""
    assert text.distance(a, b, 5) == edits


@pytest.mark.parametrize(
    ("word", "edits"), [("cap", 0), ("coil", 1), ("ductles", 1), ("ductless", 2), ("", 0)]
)
def test_edits_allowed(word: str, edits: int) -> None:
    """None below 4 letters, one below 8, then two."""
    assert text.edits_allowed(word) == edits
