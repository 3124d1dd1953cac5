"""Long lists in pages whose contents stay."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from leaklore.pages.paging import sheets


def test_two_pages_by_hand() -> None:
    """Seven entries, three a page: the head has the newest four, the page behind it the oldest three."""
    head, back = sheets(["a", "b", "c", "d", "e", "f", "g"], "cases/2024/", 3)
    assert (head.url, head.items, head.first, head.last) == ("cases/2024/", ("g", "f", "e", "d"), 4, 7)
    assert (back.url, back.items, back.first, back.last) == ("cases/2024/1/", ("c", "b", "a"), 1, 3)
    assert (head.newest, head.newer, head.older, head.oldest) == ("", "", "cases/2024/1/", "cases/2024/1/")
    assert (back.newest, back.newer, back.older, back.oldest) == ("cases/2024/", "cases/2024/", "", "")
    assert head.is_head
    assert not back.is_head


def test_nothing_is_one_empty_page() -> None:
    """A list has a page even before it has entries."""
    nothing: list[str] = []
    (only,) = sheets(nothing, "cases/2024/", 3)
    assert (only.url, only.items, only.alone) == ("cases/2024/", (), True)


@given(st.integers(0, 300), st.integers(1, 20))
def test_every_entry_stands_once_and_pages_lead_to_each_other(total: int, each: int) -> None:
    """Head to tail by `older`, back by `newer`, newest first all the way."""
    made = sheets(range(total), "x/", each)
    by_url = {sheet.url: sheet for sheet in made}
    assert len(by_url) == len(made)
    assert [i for sheet in made for i in sheet.items] == list(reversed(range(total)))
    assert all(len(sheet.items) == each for sheet in made[1:])
    assert len(made[0].items) < 2 * each
    for newer, older in pairwise(made):
        assert (newer.older, older.newer) == (older.url, newer.url)
    assert made[0].alone == (len(made) == 1)
    assert {sheet.newest for sheet in made[1:]} <= {made[0].url}
    assert {sheet.oldest for sheet in made[:-1]} <= {made[-1].url}


@given(st.integers(0, 200), st.integers(1, 10))
def test_a_new_entry_changes_the_head_and_at_most_one_page_more(total: int, each: int) -> None:
    """Pages behind the head stay, word for word, but the one whose neighbour moves out of the head."""

    def said(count: int) -> dict[str, tuple[object, ...]]:
        found = sheets(range(count), "x/", each)
        return {s.url: (s.items, s.first, s.last, s.newest, s.newer, s.older) for s in found}

    before, after = said(total), said(total + 1)
    changed = [url for url in before if before[url] != after.get(url)]
    assert "x/" in changed
    assert len(changed) <= 2
