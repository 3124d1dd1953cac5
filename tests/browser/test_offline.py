"""The site without signal, in Chromium on a phone: first visit, keeping everything, a newer library, what goes wrong.

The server is really stopped, or cuts, alters and refuses what it sends.
"""

from __future__ import annotations

import json
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from http.server import ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from site_fixture import ROOT, Handler, Site, built, once, site_at, write_config

from .conftest import PHONE, WATCH, Complaints

CASE = "KW-2025-014"
OLD, NEW = "Cold room core left weeping under a cap", "Cold room core kept weeping below its cap"
SLOW = 60_000
"""ms; the machine may be busy with other tests."""
Send = Callable[[bytes], bytes | None]
"""What the server sends in place of a file; None: it hangs up."""


def _copy(tmp_path_factory: pytest.TempPathFactory, name: str, title: str) -> Site:
    """The demo site of a copy of its library (which has no history to date its pages by), with one title as given."""

    def make(at: Path) -> None:
        library = Path(shutil.copytree(ROOT / "cases", at / "cases"))
        record = library / f"records/2025/{CASE}.yaml"
        text = record.read_text("utf-8")
        assert OLD in text
        record.write_text(text.replace(OLD, title), "utf-8")
        built(write_config(at, library))

    return site_at(once(tmp_path_factory, name, make) / "site")


@pytest.fixture(scope="session")
def older(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """What the phone keeps first."""
    return _copy(tmp_path_factory, "demo-older", OLD)


@pytest.fixture(scope="session")
def newer(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """The same with one record changed."""
    return _copy(tmp_path_factory, "demo-newer", NEW)


class Host:
    """A server that can be stopped, given another site, and told to misbehave; it notes what it was asked for."""

    def __init__(self, folder: Path, under: str) -> None:
        self.folder, self.under, self.port = folder, under, 0
        self.asked: list[str] = []
        self.wrong: dict[str, list[Send]] = {}
        """Path -> what to do with the next requests for it, in their order; the last is done from then on."""
        self.start()

    def start(self) -> None:
        host = self

        class Wilful(Handler):
            under = host.under

            def __init__(self, *args: Any) -> None:
                super().__init__(*args, directory=str(host.folder))

            def do_GET(self) -> None:  # noqa: N802 - the library names it
                path = unquote(urlsplit(self.path).path).removeprefix(host.under)
                host.asked.append(path)
                sends = host.wrong.get(path, [])
                if not sends:
                    super().do_GET()
                    return
                send = sends.pop(0) if len(sends) > 1 else sends[0]
                whole = (host.folder / path).read_bytes()
                sent = send(whole)
                if sent is None:
                    self.close_connection = True
                    return
                self.send_response(200)
                self.send_header("Content-Type", self.guess_type(path))
                self.send_header("Content-Length", str(len(sent)))
                self.end_headers()
                self.wfile.write(sent)

        self.server = ThreadingHTTPServer(("127.0.0.1", self.port), Wilful)
        self.port = self.server.server_address[1]
        self.thread = threading.Thread(
            target=self.server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True
        )
        self.thread.start()

    def stop(self) -> None:
        """No signal."""
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()

    @property
    def at(self) -> str:
        return f"http://127.0.0.1:{self.port}{self.under}"


def right(content: bytes) -> bytes:
    return content


def cut(content: bytes) -> bytes:
    return content[: len(content) // 2]


def altered(content: bytes) -> bytes:
    return bytes([content[0] ^ 1]) + content[1:]


def hang_up(_: bytes) -> None:
    return None


@pytest.fixture
def host(older: Site) -> Iterator[Host]:
    """The demo site under a path of its own server."""
    made = Host(older.folder, "/leaks/")
    yield made
    made.stop()


@pytest.fixture
def phone(browser: Browser, complaints: Complaints, host: Host) -> Iterator[BrowserContext]:
    """A phone that may keep things; whatever a page complains of fails the test. It is put away before its host."""
    context = browser.new_context(viewport=PHONE, color_scheme="light", service_workers="allow")
    context.set_default_timeout(SLOW)
    expect.set_options(timeout=SLOW)
    context.add_init_script(WATCH)
    context.on("page", complaints.listen)
    yield context
    context.close()


def ready(page: Page) -> Page:
    """Once the worker has kept what it keeps by itself, and answers for this page."""
    page.wait_for_function(
        "() => navigator.serviceWorker.ready.then((at) => at.active.state === 'activated' && !!navigator.serviceWorker.controller)"
    )
    return page


def first_visit(phone: BrowserContext, host: Host, path: str = "") -> Page:
    page = phone.new_page()
    page.goto(host.at + path)
    return ready(page)


def awake(page: Page) -> Page:
    """The page "keep" once it knows what is there."""
    expect(page.locator("[data-keep]")).to_have_attribute("data-awake", "")
    return page


def offline_page(page: Page) -> None:
    expect(page.locator("h1")).to_have_text("This page is not on this phone")
    expect(page.locator("[data-theme-switch]")).to_be_visible()


def keep_cases(page: Page, host: Host) -> Page:
    page.goto(f"{host.at}keep/")
    awake(page).get_by_role("button", name="Keep cases").click()
    expect(page.locator("[data-told]")).to_contain_text("All of it is on this phone")
    return page


def kept_files(page: Page) -> int:
    """How many contents are in the store."""
    found = page.evaluate(
        """async () => {
          const keys = await Promise.all((await caches.keys()).map(async (n) => (await caches.open(n)).keys()));
          return keys.flat().filter((k) => k.url.includes("/__file__/")).length;
        }"""
    )
    return int(found)


def listed(site: Site) -> dict[str, list[Any]]:
    """data/offline.json: path -> its row."""
    return {row[0]: row for row in json.loads(site.text("data/offline.json"))["files"]}


def fetched_by_themselves(site: Site, group: int) -> dict[str, str]:
    """Path -> hash of what a phone fetches of a group."""
    return {p: row[2] for p, row in listed(site).items() if len(row) == 4 and row[3] == group}


# After the first visit.


def test_after_one_visit_a_learner_goes_on_without_signal(phone: BrowserContext, host: Host) -> None:
    """What the trainer gave, the list, a round of questions and the result sheet; a case says how to have it next time."""
    page = first_visit(phone, host, "reading/mine/?list=first-week&for=AB")
    page.get_by_role("button", name="Accept it").click()
    host.stop()
    try:
        page.goto(f"{host.at}reading/first-week/")
        page.get_by_role("button", name="I have read this: Bubble test").click()
        page.goto(f"{host.at}reading/questions/?topic=order-of-checks&n=1&seed=1")
        page.locator("[data-choices] button").first.click()
        page.get_by_role("button", name="To the score").click()
        page.goto(f"{host.at}reading/mine/")
        expect(page.locator(".learn-card__done")).to_contain_text("2 of 12 done")
        page.get_by_role("button", name="Result sheet").click()
        expect(page.locator("[data-slot=sheet-code]")).to_have_text(re.compile("[0-9A-Z-]{29}"))
        page.goto(f"{host.at}cases/OS-2021-008/")
        offline_page(page)
        page.get_by_role("link", name="My reading").click()
        expect(page.locator("h1")).to_have_text("My reading")
    finally:
        host.start()


def test_after_one_visit_search_guide_and_bench_work_without_signal(
    phone: BrowserContext, host: Host
) -> None:
    page = first_visit(phone, host)
    host.stop()
    try:
        page.get_by_role("searchbox").fill("oil at flare minisplit")
        page.get_by_role("searchbox").press("Enter")
        expect(page.locator("[data-search]")).to_have_attribute("data-answered", "oil at flare minisplit")
        expect(page.locator("[data-causes] [data-slot=name]").first).to_have_text("Flare joint leak")
        assert page.locator("[data-cases] [data-slot=id]").count() > 3
        page.get_by_role("searchbox").fill("formicary corrosion on a wall unit")
        expect(page.locator("[data-search]")).to_have_attribute("data-answered", re.compile("formicary"))
        page.goto(f"{host.at}guide/failure-modes/flare-joint/")
        expect(page.locator("h1")).to_have_text("Flare joint leak")
        assert page.evaluate("getComputedStyle(document.querySelector('.site-bar')).position") == "fixed"
        page.goto(f"{host.at}bench/leak-rate/")
        page.wait_for_selector("[data-awake]")
        page.get_by_label("Charge lost", exact=True).fill("2")
        page.get_by_label("Over", exact=True).fill("12")
        expect(page.locator(".bench .answer__value:visible").first).to_have_text("2 lb/yr")
        page.goto(f"{host.at}guide")  # a folder without its slash
        expect(page).to_have_url(f"{host.at}guide/")
        page.goto(f"{host.at}cases/{CASE}/?from=search")
        offline_page(page)
        page.locator("main").get_by_role("link", name="The search").click()
        expect(page.locator("h1")).to_have_text("Start from what you see")
        assert page.url == f"{host.at}search/"
    finally:
        host.start()
    page.goto(f"{host.at}cases/{CASE}/")
    expect(page.locator("h1")).to_contain_text(OLD)


def test_it_works_on_plain_localhost_at_the_root(older: Site, browser: Browser) -> None:
    host = Host(older.folder, "/")
    context = browser.new_context(viewport=PHONE)
    try:
        context.set_default_timeout(SLOW)
        page = context.new_page()
        page.goto(f"http://localhost:{host.port}/")
        ready(page)
        host.stop()
        page.goto(f"http://localhost:{host.port}/guide/techniques/bubble-test/")
        expect(page.locator("h1")).to_be_visible(timeout=SLOW)
        page.goto(f"http://localhost:{host.port}/no/such/page/at/all/")
        offline_page(page)
    finally:
        context.close()


# Keeping everything.


def test_all_pages_kept_are_the_server_s_to_the_byte(phone: BrowserContext, host: Host, older: Site) -> None:
    page = keep_cases(first_visit(phone, host), host)
    expect(page.locator("[data-size=cases]")).to_contain_text("all here")
    host.stop()
    try:
        page.goto(f"{host.at}cases/{CASE}/")
        expect(page.locator("h1")).to_contain_text(OLD)
        page.reload()
        expect(page.locator("h1")).to_contain_text(OLD)
        paths = [p for p, row in listed(older).items() if row[3] in (0, 2) and not p.endswith(".pack")]
        differing = page.evaluate(
            """async ([root, files]) => {
              const wrong = [];
              for (const [path, hash] of files) {
                const bytes = await (await fetch(root + path)).arrayBuffer().catch(() => new ArrayBuffer(0));
                const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)).subarray(0, 8);
                if ([...digest].map((b) => b.toString(16).padStart(2, "0")).join("") !== hash) wrong.push(path);
              }
              return wrong;
            }""",
            [host.at, [[p, listed(older)[p][2]] for p in paths if not p.startswith("data/offline")]],
        )
        assert len(paths) > 1000
        assert differing == []
        page.goto(f"{host.at}keep/")
        expect(page.locator("[data-told]")).to_contain_text("All of it is on this phone")
    finally:
        host.start()


def test_photos_are_kept_when_asked_for(phone: BrowserContext, host: Host, older: Site) -> None:
    page = first_visit(phone, host, "keep/")
    assert re.search(r"\d MB, still to fetch: \d", awake(page).locator("[data-size=photos]").inner_text())
    page.get_by_role("button", name="Keep photos too").click()
    expect(page.locator("[data-told]")).to_contain_text("All of it is on this phone")
    assert {p for p in host.asked if p.startswith("photos/")} == {
        p for p in older.files if p.startswith("photos/")
    }
    shown = next(u for u in older.urls if u.startswith("cases/") and "photos/" in older.text(u))
    host.stop()
    try:
        page.goto(host.at + shown.removesuffix("index.html"))
        page.locator("img[src*='photos/']").first.scroll_into_view_if_needed()
        page.wait_for_function("() => document.querySelector(\"img[src*='photos/']\").naturalWidth > 100")
    finally:
        host.start()


def test_stop_go_on_after_the_tab_was_closed_and_remove(
    phone: BrowserContext, host: Host, older: Site
) -> None:
    packs = sorted(fetched_by_themselves(older, 2))
    gate = threading.Event()

    def wait(content: bytes) -> bytes:
        gate.wait(SLOW / 1000)
        return content

    page = awake(first_visit(phone, host, "keep/"))
    core = kept_files(page)
    host.wrong = {p: [wait] for p in packs[5:]}
    page.get_by_role("button", name="Keep cases").click()
    expect(page.locator("[data-told]")).to_have_text(
        re.compile(r"^\d+ of \d+ files, [\d.]+ MB of [\d.]+ MB$")
    )
    page.get_by_role("button", name="Stop").click()
    gate.set()
    expect(page.locator("[data-told]")).to_contain_text("Stopped.")
    some = kept_files(page)
    assert core < some < core + len(packs)
    page.close()
    host.asked.clear()
    page = phone.new_page()
    page.goto(f"{host.at}keep/")
    expect(awake(page).locator("[data-told]")).to_contain_text("Begun and not finished")
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("[data-told]")).to_contain_text("All of it is on this phone")
    again = [p for p in host.asked if p in packs]
    assert len(again) == len(set(again)) == core + len(set(fetched_by_themselves(older, 2).values())) - some
    page.evaluate(
        "caches.open('leaklore /other/').then((c) => c.put('../other/__file__/0', new Response('not ours')))"
    )
    page.get_by_role("button", name="Remove from this phone").click()
    expect(page.locator("[data-told]")).to_contain_text("off this phone")
    assert kept_files(page) == core + 1, "and another site's on the same host is left alone"
    expect(page.get_by_role("button", name="Keep cases")).to_be_visible()
    host.stop()
    try:
        page.goto(f"{host.at}systems/")
        offline_page(page)
        page.goto(f"{host.at}guide/")
        expect(page.locator("h1")).to_be_visible()
    finally:
        host.start()


def test_a_full_phone_is_told_in_plain_words(phone: BrowserContext, host: Host) -> None:
    page = awake(first_visit(phone, host, "keep/"))
    session = phone.new_cdp_session(page)
    origin = f"http://127.0.0.1:{host.port}"
    used = page.evaluate("navigator.storage.estimate().then((e) => e.usage)")
    session.send("Storage.overrideQuotaForOrigin", {"origin": origin, "quotaSize": used + 150_000})
    page.get_by_role("button", name="Keep cases").click()
    expect(page.locator("[data-told]")).to_contain_text("The phone is full")
    expect(page.get_by_role("button", name="Go on")).to_be_visible()
    host.stop()
    try:
        page.goto(f"{host.at}search/?q=oil")
        expect(page.locator("[data-search]")).to_have_attribute("data-answered", "oil")
    finally:
        host.start()
    session.send("Storage.overrideQuotaForOrigin", {"origin": origin})
    page.goto(f"{host.at}keep/")
    awake(page).get_by_role("button", name="Go on").click()
    expect(page.locator("[data-told]")).to_contain_text("All of it is on this phone")


def test_what_the_phone_took_away_is_told_and_fetched_again(phone: BrowserContext, host: Host) -> None:
    page = keep_cases(first_visit(phone, host), host)
    page.evaluate(
        """async () => {
          const cache = await caches.open((await caches.keys())[0]);
          const said = await (await fetch("../data/offline.json")).json();
          const [, , hash] = said.files.find(([path]) => path.startsWith("data/packs/cases-cases-"));
          for (const key of await cache.keys()) if (key.url.endsWith(hash)) await cache.delete(key);
        }"""
    )
    page.reload()
    expect(awake(page).locator("[data-told]")).to_contain_text("taken away a part")
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("[data-told]")).to_contain_text("All of it is on this phone")


# Files that arrive wrong.


def test_a_cut_and_an_altered_file_are_fetched_again(phone: BrowserContext, host: Host) -> None:
    host.wrong = {
        "data/search/facets.bin": [cut, right],
        "icons/app-192.png": [right, altered, hang_up, right],  # the page's own request comes first
        "data/shell.json": [altered, cut, right],
    }
    page = first_visit(phone, host)
    assert host.asked.count("data/search/facets.bin") == 2
    assert host.asked.count("data/shell.json") == 3
    host.stop()
    try:
        page.goto(f"{host.at}guide/")
        expect(page.locator("h1")).to_be_visible()
    finally:
        host.start()


def test_where_a_file_never_comes_right_the_old_library_stays(
    phone: BrowserContext, host: Host, newer: Site
) -> None:
    page = keep_cases(first_visit(phone, host), host)
    changed = next(
        p
        for p, h in fetched_by_themselves(newer, 2).items()
        if h not in fetched_by_themselves(site_at(host.folder), 2).values()
    )
    host.wrong = {changed: [altered]}
    host.folder = newer.folder
    page.goto(f"{host.at}guide/")
    failed = (
        page.evaluate(
            """() => new Promise((done) => navigator.serviceWorker.ready.then((at) => {
          at.addEventListener("updatefound", () => {
            const { installing } = at;
            installing.addEventListener("statechange", () => done(installing.state));
          });
          at.update().catch(() => {});
        }))"""
        )
        if not host.asked.count(changed) >= 3
        else "redundant"
    )
    assert failed == "redundant"
    expect(page.locator("[data-newer]")).to_be_hidden()
    host.stop()
    try:
        page.goto(f"{host.at}cases/{CASE}/")
        expect(page.locator("h1")).to_contain_text(OLD)
    finally:
        host.wrong = {}
        host.start()
    page.goto(f"{host.at}cases/{CASE}/")
    expect(page.locator("[data-newer]")).to_be_visible()


# A newer library.


def test_a_newer_library_waits_until_it_is_used_and_is_never_mixed(
    phone: BrowserContext, host: Host, older: Site, newer: Site
) -> None:
    page = keep_cases(first_visit(phone, host), host)
    page.goto(f"{host.at}search/")
    expect(page.locator("[data-search]")).to_have_attribute("data-awake", "")
    other = phone.new_page()
    other.goto(f"{host.at}cases/{CASE}/")
    expect(other.locator("h1")).to_contain_text(OLD)
    host.folder = newer.folder
    host.asked.clear()
    other.goto(f"{host.at}cases/")
    expect(other.locator("[data-newer]")).to_be_visible()
    expect(page.locator("[data-newer]")).to_be_visible()
    # only what is new came over the wire
    had = {row[2] for row in listed(older).values()}
    new = {p for g in (0, 2) for p, h in fetched_by_themselves(newer, g).items() if h not in had}
    assert {p for p in host.asked if p != "worker.js"} - new == {"data/offline.json"}
    assert new <= set(host.asked)
    assert not any(
        p.startswith(("css/", "js/", "img/", "icons/", "data/packs/core-parts")) for p in host.asked
    )
    # the old library goes on, pages opened anew included
    other.goto(f"{host.at}cases/{CASE}/")
    expect(other.locator("h1")).to_contain_text(OLD)
    said = "fetch(new URL('data/search/model.json', document.querySelector('link[rel=manifest]').href)).then((r) => r.json()).then((m) => m.index.number)"
    numbers = [json.loads(s.text("data/search/model.json"))["index"]["number"] for s in (older, newer)]
    assert numbers[0] != numbers[1]
    assert page.evaluate(said) == numbers[0]
    host.stop()
    try:
        with other.expect_navigation():
            other.get_by_role("button", name="Use it").click()
        expect(other.locator("h1")).to_contain_text(NEW)
        expect(other.locator("[data-newer]")).to_be_hidden()
        assert other.evaluate(said) == numbers[1]
        # the page that was open keeps the library that it was opened with, to pieces it had not asked for yet
        assert page.evaluate(said) == numbers[0]
        page.get_by_role("searchbox").fill("cold room core weeping under a cap")
        expect(page.locator("[data-search]")).to_have_attribute("data-answered", re.compile("^cold room"))
        expect(page.locator("[data-cases]")).to_contain_text(OLD)
        page.reload()
        assert page.evaluate(said) == numbers[1]
        expect(page.locator("[data-cases]")).to_contain_text(NEW)
        other.goto(f"{host.at}keep/")
        expect(awake(other).locator("[data-told]")).to_contain_text("All of it is on this phone")
    finally:
        host.start()


def test_a_page_that_is_not_kept_comes_from_a_newer_server_whole(
    phone: BrowserContext, host: Host, newer: Site
) -> None:
    page = first_visit(phone, host)
    host.folder = newer.folder
    host.asked.clear()
    page.goto(f"{host.at}cases/{CASE}/")
    expect(page.locator("h1")).to_contain_text(NEW)
    page.wait_for_load_state("load")
    assert {"css/leaklore.css", "js/page.mjs"} <= set(host.asked), "its style and script came with it"


def test_an_old_library_is_told_at_the_foot(phone: BrowserContext, host: Host, newer: Site) -> None:
    page = phone.new_page()
    for day, old in (("2027-01-20", False), ("2027-02-15", True)):
        page.clock.set_fixed_time(f"{day}T12:00:00Z")
        page.goto(host.at)
        expect(page.locator("[data-age]")).to_contain_text("Library of 31 December 2026.")
        assert ("more than 30 days old" in page.locator("[data-age]").inner_text()) is old


# Beside the pages.


def test_the_browser_takes_the_manifest(phone: BrowserContext, host: Host) -> None:
    page = first_visit(phone, host)
    session = phone.new_cdp_session(page)
    found = session.send("Page.getAppManifest")
    assert found["errors"] == []
    said = json.loads(found["data"])
    assert said["name"] == "Leaklore Ketterwick Air & Cold"
    assert session.send("Page.getInstallabilityErrors")["installabilityErrors"] in (
        [],
        [{"errorId": "in-incognito", "errorArguments": []}],
    )
