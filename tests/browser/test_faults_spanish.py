"""What a Spanish site says when something is wrong: in the form for a case, and where the search gets no piece."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import Route, expect

from .conftest import Complaints, Visit
from .test_bench_spanish import folder, spanish

__all__ = ["folder", "spanish"]


def test_the_form_says_in_spanish_what_is_missing_and_wrong(visit: Visit, spanish: str) -> None:
    """At its own field: what is missing is told there, though the block is at fault; a wrong amount as well."""
    page = visit("record/", at=spanish)
    page.wait_for_selector("[data-awake]")
    page.locator("[data-check]").click()
    problems = page.locator("[data-problems] li")
    told = problems.locator("[data-slot=what]").all_text_contents()
    assert told
    assert set(told) == {"Esto aún está por rellenar."}
    titles = problems.locator("a").all_text_contents()
    assert "Síntomas" in titles
    lost = page.locator("#step-lost [data-pointer='charge.lost']")
    page.locator("#step-lost > summary").click()
    lost.locator("input").first.fill("1,250 kg")
    expect(lost.locator("[data-problem]")).to_contain_text(
        '"1,250 kg" lleva una coma, que se puede leer de dos maneras; '
        'escriba por ejemplo "4 lb", "9 lb 8 oz" o "1.8 kg"'
    )


@pytest.mark.parametrize("how", ["cut", "other", "refused"])
def test_the_search_says_in_spanish_why_there_are_no_cases(
    visit: Visit, spanish: str, complaints: Complaints, how: str
) -> None:
    """A piece in pieces, one of another build, and none at all."""
    page = visit(None, service_workers="block")

    def broken(route: Route) -> None:
        if how == "refused":
            route.abort()
        else:
            body = route.fetch().body()
            route.fulfill(status=200, body=body[:5] if how == "cut" else bytes(4) + body[4:])

    page.route("**/data/search/terms/*", broken)
    page.goto(f"{spanish}search/?q=hissing")
    why = "Falló la conexión." if how == "refused" else "Una parte de la búsqueda no corresponde al resto"
    expect(page.locator("[data-status]")).to_have_text(re.compile(f"^No se pudieron cargar los casos. {why}"))
    complaints.clear()


def test_a_search_that_comes_in_pieces_is_told_in_spanish(visit: Visit, spanish: str) -> None:
    """The model itself was cut: the browser's own words for that are English."""
    page = visit(None, service_workers="block")
    page.route("**/data/search/model.json", lambda route: route.fulfill(status=200, body=json.dumps({})[:1]))
    page.goto(f"{spanish}search/?q=hissing")
    expect(page.locator("[data-status]")).to_have_text(
        re.compile("^No se pudo cargar la búsqueda. Una parte de la búsqueda no corresponde al resto")
    )
