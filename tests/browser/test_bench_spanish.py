"""The work bench of a Spanish library: the browser fills it with the words that the build put there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from site_fixture import built, copy_library, once, served, site_at, text_of, write_config

from .conftest import Visit

BENCHES = ("leak-rate", "vacuum-hold", "which-technique", "standing-test")
"""Those whose answers are put together from messages, or take a unit that is a word."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library's site in Spanish."""

    def make(at: Path) -> None:
        cases = copy_library(at)
        company = cases / "company.yaml"
        company.write_text(f"{company.read_text('utf-8')}language: es-MX\n", "utf-8")
        built(write_config(at, cases))

    return once(tmp_path_factory, "bench-spanish", make) / "site"


@pytest.fixture(scope="module")
def spanish(folder: Path) -> Iterator[str]:
    """The same, served."""
    with served(folder) as at:
        yield at


@pytest.mark.parametrize("key", BENCHES)
def test_the_live_answer_is_the_example_in_spanish(
    visit: Visit, spanish: str, folder: Path, key: str
) -> None:
    """Every slot says live what the build wrote: units, days, reasons of rules and techniques."""
    url = f"bench/{key}/"
    page = visit(f"{url}?on=2026-12-31", at=spanish)
    page.wait_for_selector("[data-awake]")
    slots = [
        (e.get("data-out") or e.get("data-in"), text_of(e))
        for e in site_at(folder).page(f"{url}index.html").elements
        if e.get("data-out") or e.get("data-in")
    ]
    live = page.eval_on_selector_all(
        "[data-out], [data-in]",
        "all => all.map((e) => [e.dataset.out ?? e.dataset.in, e.textContent.split(/\\s+/).filter(Boolean).join(' ')])",
    )
    assert [tuple(one) for one in live] == slots


def test_what_the_page_says_of_fields_and_records_is_spanish(visit: Visit, spanish: str) -> None:
    """A field that can't be read, one that is empty, one out of its limits, and where the figures come from."""
    page = visit("bench/leak-rate/?case=KW-2025-002", at=spanish)
    page.wait_for_selector("[data-awake]")
    expect(page.locator("[data-bench-from]")).to_contain_text("Tomado del registro: ")
    lost = page.locator("[name=lost]")
    lost.fill("dos")
    expect(page.locator("#p-lost")).to_have_text("«dos» no es un número. Escríbalo como 2.4.")
    expect(page.locator("[data-bench-state]")).to_have_text(
        "Algo en los campos no se puede leer; ahí se dice qué."
    )
    lost.fill("")
    expect(page.locator("[data-bench-state]")).to_have_text("Falta: carga perdida.")
    lost.fill("-1")
    expect(page.locator("[data-bench-state]")).to_contain_text(
        "No hay respuesta para este dato (carga perdida)"
    )
