"""The whole way of a case, without signal on site: recorded with two photos, shared, taken in, built, found by search."""

from __future__ import annotations

import base64
import re
import shutil
from pathlib import Path

from playwright.sync_api import BrowserContext, expect

from site_fixture import ROOT, built, run, write_config

from .test_offline import Host, first_visit, host, older, phone
from .test_record import CLOCK, again, attach, picture, rest, saved, whole

__all__ = ["host", "older", "phone"]

SHARE = """
navigator.canShare = () => true;
navigator.share = async ({ files }) => {
  const letters = [...new Uint8Array(await files[0].arrayBuffer())].map((b) => String.fromCharCode(b)).join("");
  window.shared = [files[0].name, files[0].type, btoa(letters)];
};
"""
"""A share sheet, which headless Chromium has none of: it keeps what it was given."""
TITLE = "Flare on a wall unit weeps in the cold"


def test_from_a_unit_without_signal_into_the_library(
    phone: BrowserContext, host: Host, tmp_path: Path
) -> None:
    phone.add_init_script(CLOCK + SHARE)
    page = first_visit(phone, host)
    host.stop()
    try:
        page.goto(f"{host.at}record/")
        expect(page.locator("[data-record]")).to_have_attribute("data-register", "here")
        whole(page)
        attach(page, ("IMG_1.jpg", "image/jpeg", picture(2400, 1200)))
        attach(page, ("IMG_2.jpg", "image/jpeg", picture(400, 200, 6)))
        captions = page.locator(".photo").get_by_label("Caption")
        captions.nth(0).fill("Split flare face")
        captions.nth(1).fill("The nut")
        shown = ("photo-1.jpg", "Split flare face"), ("photo-2.jpg", "The nut")
        saved(page, photos=[{"file": file, "caption": caption} for file, caption in shown])
        again(page)
        rest(page)
        saved(page, title=TITLE)
        expect(page.locator("[data-todo]")).to_have_text("Complete")
        page.get_by_role("button", name=re.compile("^Send")).click()
        expect(page.locator("[data-sent]")).to_contain_text("Handed over")
        name, kind, sent = page.evaluate("window.shared")
    finally:
        host.start()
    assert kind == "application/zip"
    package = tmp_path / name
    package.write_bytes(base64.b64decode(sent))

    library = Path(shutil.copytree(ROOT / "cases", tmp_path / "cases"))
    before = {p.name for p in library.glob("records/2026/*.yaml")}
    done = run("leaklore", "take", package, "--cases", library)
    assert done.returncode == 0, done.stdout + done.stderr
    (record,) = [p for p in library.glob("records/2026/*.yaml") if p.name not in before]
    case = record.stem
    assert sorted(p.name for p in (library / "photos" / case).iterdir()) == ["photo-1.jpg", "photo-2.jpg"]
    host.folder = built(write_config(tmp_path / "new", library))

    page.goto(f"{host.at}search/")
    page.get_by_role("button", name="Use it").click()
    expect(page.locator("[data-newer]")).to_be_hidden()
    host.stop()
    try:
        box = page.get_by_role("searchbox")
        box.fill("flare on a wall unit weeps in the cold, split face")
        expect(page.locator("[data-search]")).to_have_attribute("data-answered", re.compile("split face"))
        expect(page.locator("[data-cases]")).to_contain_text(TITLE)
    finally:
        host.start()
    page.locator("[data-cases]").get_by_role("link", name=re.compile(TITLE)).click()
    expect(page).to_have_url(re.compile(f"/cases/{case}/"))
    expect(page.locator("h1")).to_have_text(TITLE)
    pictures = page.locator("main figure img")
    expect(pictures).to_have_count(2)
    expect(page.get_by_text("Split flare face")).to_be_visible()
    for n in range(2):
        pictures.nth(n).scroll_into_view_if_needed()
        expect(pictures.nth(n)).to_have_js_property("complete", True)
        assert pictures.nth(n).evaluate("e => e.naturalWidth") > 100
