"""Under `leaklore serve` a page that is open shows a changed record by itself."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import expect

from website.serving import CASE, LEAKLORE, TITLE, Server

from .conftest import Visit


def test_an_open_page_shows_the_change(visit: Visit, tmp_path: Path) -> None:
    server = Server(tmp_path, LEAKLORE)
    try:
        server.until(CASE, lambda status, _: status == 200)
        page = visit(CASE, at=f"http://127.0.0.1:{server.port}/")
        expect(page.locator("h1")).to_have_text(TITLE)
        server.rewrite(TITLE, "Capless port empties the cellar")
        expect(page.locator("h1")).to_have_text("Capless port empties the cellar", timeout=30_000)
        page.context.close()
    finally:
        server.stop()
