"""What is kept between builds is found again for the same basis alone, and nothing broken is taken for it."""

from __future__ import annotations

import pickle
from dataclasses import replace
from pathlib import Path

import pytest

from leaklore.analysis import bm25
from leaklore.analysis.similar import Likenesses, likest
from leaklore.pages.book import Book
from leaklore.pages.recall import Recall

ONE, OTHER = "aa" * 32, "bb" * 32


def counted(recall: Recall, calls: list[int]) -> str:
    return recall("name", lambda: calls.append(1) or "made")  # type: ignore[func-returns-value]


def test_it_is_made_once_for_a_basis(tmp_path: Path) -> None:
    calls: list[int] = []
    for basis, times in ((ONE, 1), (ONE, 1), (OTHER, 2), (ONE, 3)):
        assert counted(Recall(tmp_path, basis), calls) == "made"
        assert len(calls) == times


@pytest.mark.parametrize("spoil", [lambda b: b[:-1], lambda b: b[:70] + b"x" + b[71:], lambda b: b""])
def test_a_broken_file_is_made_anew(tmp_path: Path, spoil: object) -> None:
    calls: list[int] = []
    counted(Recall(tmp_path, ONE), calls)
    file = tmp_path / "name"
    file.write_bytes(spoil(file.read_bytes()))  # type: ignore[operator]
    assert counted(Recall(tmp_path, ONE), calls) == "made"
    assert len(calls) == 2


def test_without_a_folder_nothing_is_kept(tmp_path: Path) -> None:
    calls: list[int] = []
    recall = Recall()
    counted(recall, calls)
    counted(recall, calls)
    assert len(calls) == 2


def test_elsewhere_it_keeps_nothing(tmp_path: Path) -> None:
    """A worker of a cluster has other disks."""
    assert pickle.loads(pickle.dumps(Recall(tmp_path, ONE))).folder is None


def test_tidy_leaves_what_was_asked_for(tmp_path: Path) -> None:
    Recall(tmp_path, ONE)("old", lambda: 1)
    recall = Recall(tmp_path, ONE)
    recall("new", lambda: 2)
    recall.tidy()
    assert [f.name for f in tmp_path.iterdir()] == ["new"]


def test_a_book_recalls_what_it_computes(demo_book: Book, tmp_path: Path) -> None:
    """The same likenesses, the same ranking and the same figures of trust, whether they are found or made."""
    plain = Book(demo_book.library, demo_book.today)
    first, again = (replace(plain, recall=Recall(tmp_path, ONE)) for _ in range(2))
    cases = demo_book.library.active
    for book in (first, again):
        assert book.likeness == plain.likeness == Likenesses(cases, likest(cases))
        assert book.adviser.causes == plain.adviser.causes
        assert [vars(s) if hasattr(s, "__dict__") else s for s in book.trust.ranking] == list(
            plain.trust.ranking
        )
        assert book.trust.searches == plain.trust.searches
    assert {f.name for f in tmp_path.iterdir()} == {"adviser", "likeness", "trust"}


def test_what_is_old_is_kept_anew(tmp_path: Path) -> None:
    """Made of what was kept, and put in its place only where that would spare the next one much."""
    recall = Recall(tmp_path, ONE)

    def grown(by: int) -> list[int]:
        return recall.renewed("row", lambda kept: [*(kept or []), by], lambda kept, made: made[-1] == 3)

    assert [grown(1), grown(2), grown(3), grown(4)] == [[1], [1, 2], [1, 3], [1, 3, 4]]
    other = Recall(tmp_path, OTHER)
    assert other.renewed("row", lambda kept: kept) is None


def test_words_are_read_once(demo_book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the facts are; a record that changed is read, and the others are not."""
    read: list[int] = []
    really = bm25.read
    monkeypatch.setattr(bm25, "read", lambda *given: read.append(1) or really(*given))
    counted_ = len(demo_book.library.counted)
    for facts, expected in (("a", counted_), ("b", 0)):
        book = replace(demo_book, recall=Recall(tmp_path / facts, ONE), words=Recall(tmp_path / "words", ONE))
        assert book.trust.ranking == demo_book.trust.ranking
        assert len(read) >= expected
        assert (len(read) > 0) == (expected > 0)
        read.clear()
