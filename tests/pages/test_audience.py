"""Parts of the site that are made for some only, and pages without links to them."""

from __future__ import annotations

import pytest
from markupsafe import Markup

from leaklore.pages import site
from leaklore.pages.audience import LEFT_OUT, PARTLY, made, shown, unlinked
from leaklore.records.model import AUDIENCES, Audience

BODY = Markup(
    '<p>See <a class="x" href="../../bench/air/?case=A-1">the <b>work</b> bench</a>, <a href="../../cases/">cases</a> '
    'and <a href="#here">here</a>, <a href="../A-2/">A-2</a>.</p>'
)


def test_links_to_what_is_not_there_become_their_words() -> None:
    said = unlinked(BODY, "../../", "customer")
    assert said == str(BODY).replace(
        '<a class="x" href="../../bench/air/?case=A-1">the <b>work</b> bench</a>', "the <b>work</b> bench"
    )


@pytest.mark.parametrize("audience", ["crew", "all"])
def test_other_links_stay(audience: Audience) -> None:
    assert unlinked(BODY, "../../", audience) == BODY


def test_parts_of_a_room_can_be_left_out_alone() -> None:
    assert shown("crew", "reading/first-week/")
    assert not shown("crew", "reading/trainer/")
    assert not shown("customer", "reading/first-week/")
    assert made("crew", "evidence")
    assert not made("crew", "patterns")
    assert made("customer", "data")


def test_what_is_left_out_is_there_for_all() -> None:
    """A room under another name than in site.py would be made for everybody."""
    for audience in AUDIENCES:
        assert set(LEFT_OUT[audience]) <= set(site.ROOMS)
        assert all(made("all", room) for room in LEFT_OUT[audience])
    assert set(LEFT_OUT["crew"]) <= set(LEFT_OUT["customer"])
    assert set(site.ROOMS) >= PARTLY
