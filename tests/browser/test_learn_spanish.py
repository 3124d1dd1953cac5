"""Questions, an exercise, the learner's page and the trainer's in a Spanish library: what scripts say is Spanish, too."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from leaklore import language
from leaklore.analysis.questions.draw import draw
from leaklore.analysis.questions.material import material
from leaklore.analysis.questions.question import Question
from leaklore.pages.learn.questions import writer
from leaklore.records.check import check
from site_fixture import FLARE, built, copy_library, once, served, write_config

from .conftest import Visit
from .test_unknown import ask, name

NOW = 'Date.now = () => Date.parse("%sT17:00:00Z");'


def _make(folder: Path) -> None:
    library = copy_library(folder)
    (library / "records" / "2025" / "KW-2025-099.yaml").write_text(FLARE, "utf-8")
    company = library / "company.yaml"
    company.write_text(f"{company.read_text('utf-8')}language: es-MX\n", "utf-8")
    built(write_config(folder, library))


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library with an exercise in Spanish, its site beside it."""
    return once(tmp_path_factory, "learn-spanish", _make)


@pytest.fixture(scope="session")
def address(folder: Path) -> Iterator[str]:
    """Its address: visits go there and not to the demo."""
    with served(folder / "site", "/leaks/") as at:
        yield at


@pytest.fixture(scope="module")
def rules(folder: Path) -> tuple[int, tuple[Question, ...]]:
    """A seed and its questions on the rules, one of them explained by reasons that the trade gives."""
    language.use(language.load("es-MX"))
    try:
        library = check(folder / "cases", today=dt.date(2026, 12, 31)).library
        assert library
        found, write = material(library, told=language.gettext), writer(library)
        drawn = ((seed, draw("rules", seed, 3, found, write)) for seed in range(100))
        return next((s, qs) for s, qs in drawn if any("no contiene" in q.explanation for q in qs))
    finally:
        language.use(language.ENGLISH)


def test_the_browser_asks_in_spanish_what_python_asks(
    visit: Visit, rules: tuple[int, tuple[Question, ...]]
) -> None:
    """Text, choices and explanation to the letter, with units, days, names of rules and reasons."""
    seed, questions = rules
    page = visit(f"reading/questions/?topic=rules&n=3&seed={seed}")
    for question in questions:
        expect(page.locator("[data-text]")).to_have_text(question.text)
        choices = page.locator(".quiz__choice [data-slot=text]")
        assert choices.all_text_contents() == list(question.choices)
        page.locator(".quiz__choice").nth(question.right[0]).click()
        assert page.text_content("[data-verdict]") == "Correcto."
        assert page.text_content("[data-why]") == question.explanation
        page.locator("[data-next]").click()
    assert page.text_content("[data-score]") == "3 de 3 correctas"


def test_an_exercise_to_its_end(visit: Visit) -> None:
    """What each check says, and what the search was worth."""
    page = visit("reading/unknown/?case=KW-2025-099")
    page.wait_for_selector("[data-unknown][data-awake]")
    assert page.locator("[data-facts] dt").first.text_content() == "Equipo"
    said = ask(page, "Infrared detector", "indoor-flare")
    assert said == (
        "Localizada Infrared detector: Flare at the indoor unit. 12 min, 12 min hasta ahora. "
        "85 ppm, fondo 1 ppm. Una segunda técnica ahí la confirmaría."
    )
    assert "Muestra algo" in ask(page, "Infrared detector", "service-port")
    name(page, "indoor-flare", "flare-joint")
    told = page.inner_text("[data-debrief]")
    assert "Correcto: Flare joint leak, lugar: flare at the indoor unit." in told
    assert "Usted 12 min; la cuadrilla 29 min; el orden de revisiones" in told
    assert "Una técnica la localizó. Para probarla hace falta una segunda" in told
    page.goto(page.url.partition("?")[0])
    expect(page.locator("[data-item-state]").first).to_contain_text("Hecho, ")


@pytest.fixture
def learner(visit: Visit) -> Page:
    """A learner who has taken a list on the first of December."""
    page = visit("reading/mine/?list=first-week&for=AB&due=2026-12-10", init=NOW % "2026-12-01")
    page.wait_for_selector("main[data-awake]")
    return page


def test_the_learner_and_the_trainer(learner: Page, address: str, tmp_path: Path) -> None:
    """The offer, the due day, the sheet; at the trainer a sheet that was altered, one that is none, and a code."""
    page = learner
    expect(page.locator("[data-offer-said]")).to_contain_text(
        "Para AB. Para el 10 de diciembre de 2026. 3 elementos"
    )
    page.click("[data-accept]")
    expect(page.locator(".learn-card__due")).to_have_text("Para el 10 de diciembre de 2026, en 9 días")
    page.click("[data-open-sheet]")
    assert "sin terminar: 0 de 3 hechos" in page.inner_text("[data-sheet]")
    with page.expect_download() as got:
        page.click("[data-save]")
    sheet = json.loads(Path(got.value.path()).read_text("utf-8"))

    page.goto(f"{address}reading/trainer/")
    page.wait_for_selector("main[data-awake]")
    false = [{**sheet, "initials": "CD"}, {**sheet, "again": -1}, {**sheet, "due": "soon"}]
    page.fill("[data-paste]", "\n".join(json.dumps(one) for one in [sheet, *false]))
    page.click("[data-take]")
    expect(page.locator("[data-gather-told]")).to_have_text("1 de 4 hojas aceptadas.")
    expect(page.locator("[data-topic-head]")).to_contain_text("Tema y elemento")
    refused = page.locator("[data-refused-rows] li")
    for i, why in enumerate(
        (
            "se alteró después de hecha: su código no coincide con lo que dice",
            "Pegado 3: no es un número entero hasta 9999: preguntas por repetir",
            "Pegado 4: no es un día: fecha límite",
        )
    ):
        expect(refused.nth(i)).to_contain_text(why)
    page.fill("[data-code]", "ABC")
    page.click("[data-code-form] button")
    expect(page.locator("[data-code-told]")).to_have_text(
        "No es un código: un código tiene 25 letras y cifras, y este tiene 3."
    )
