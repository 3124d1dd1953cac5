"""A browser, the served demo site, and visits that fail for anything the browser complains about."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Error, Page, Request, Response

from site_fixture import Site, demo, served

__all__ = ["demo"]

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
USUAL = {"viewport": PHONE, "color_scheme": "light", "service_workers": "block"}
"""Of a visit: nothing is kept, so that each test sees what the server says; test_offline.py allows it."""
BLOCKED = "Service Worker registration blocked by Playwright"

WATCH = """
document.addEventListener("securitypolicyviolation", (e) => {
  console.error(`policy: ${e.violatedDirective} refuses ${e.blockedURI} ${e.sample}`);
});
"""


WIDE = """() => {
  const html = document.documentElement;
  const hides = [html, document.body].some((e) => getComputedStyle(e).overflowX !== "visible");
  const box = (e) => e.closest(".table-box, [data-scrolls]");
  const out = [...document.body.querySelectorAll("*")].filter((e) =>
    e.getBoundingClientRect().right > html.clientWidth + 0.5 && !box(e) && e.checkVisibility()
    && !e.closest("svg") && getComputedStyle(e).position !== "absolute");
  return [html.scrollWidth - html.clientWidth, hides, out.slice(0, 3).map((e) => e.outerHTML.slice(0, 120))];
}"""
"""[pixels that the page is too wide, whether it hides them, what stands out]; [0, false, []] where all fits."""


@pytest.fixture(scope="session")
def address(demo: Site) -> Iterator[str]:
    """The demo site under a path, as beside other sites of a company."""
    with served(demo.folder, "/leaks/") as at:
        yield at


@pytest.fixture(scope="session")
def rooted(demo: Site) -> Iterator[str]:
    """The demo site at the root of a host, where its 404 page can lead back."""
    with served(demo.folder) as at:
        yield at


class Complaints(list[str]):
    """What the browser said against a page."""

    def listen(self, page: Page) -> None:
        """Gathers errors and warnings of the console, errors of scripts, refused and failed loads."""
        page.on("console", self._console)
        page.on("pageerror", lambda fault: self.append(f"{page.url}: script: {fault}"))
        page.on("response", self._response)
        page.on("requestfailed", self._failed)
        page.on("request", lambda r: self._request(page, r.url))
        page.on("dialog", lambda d: (self.append(f"{page.url}: dialog: {d.message}"), d.dismiss()))

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and message.text != BLOCKED:
            self.append(f"{message.location.get('url', '')}: console: {message.text}")

    def _response(self, response: Response) -> None:
        if response.status >= 400:
            self.append(f"{response.url}: answered {response.status}")

    def _failed(self, request: Request) -> None:
        if request.failure != "net::ERR_ABORTED":  # the page was left before the load ended
            self.append(f"{request.url} failed: {request.failure}")

    def _request(self, page: Page, url: str) -> None:
        if not url.startswith(("http://127.0.0.1:", "data:", "blob:")):
            self.append(f"{page.url}: asks {url}")


@pytest.fixture
def complaints() -> Iterator[Complaints]:
    """Complaints of all pages of a test; any that is left at its end fails it."""
    found = Complaints()
    yield found
    assert not found, "\n".join(found)


Visit = Callable[..., Page]


@pytest.fixture
def visit(browser: Browser, address: str, complaints: Complaints) -> Iterator[Visit]:
    """`visit("cases/", viewport=PHONE, color_scheme="dark")`: a page in a context of its own."""
    contexts = []

    def go(path: str | None = "", *, at: str = address, init: str = "", **settings: Any) -> Page:
        context = browser.new_context(**{**USUAL, **settings})
        contexts.append(context)
        context.set_default_timeout(10_000)
        if settings.get("java_script_enabled", True):
            context.add_init_script(WATCH + init)
        page = context.new_page()
        complaints.listen(page)
        if path is not None:
            page.goto(at + path)
        return page

    yield go
    for context in contexts:
        for page in context.pages:
            page.unroute_all(behavior="ignoreErrors")  # a load still on its way would fail the next test
        context.close()


LOOK = "() => new Promise((told) => requestAnimationFrame(() => setTimeout(told)))"
"""Comes back when the scripts of the page have nothing to do just now."""
LOOKS = 5
"""In a row at which nothing is loaded."""


def settled(page: Page, address: str) -> None:
    """Opens an address and waits until its scripts load nothing more; Playwright's "networkidle" takes half a second more."""
    under_way: set[Request] = set()

    def begins(request: Request) -> None:
        under_way.add(request)

    def ends(request: Request) -> None:
        under_way.discard(request)

    page.on("request", begins)
    page.on("requestfinished", ends)
    page.on("requestfailed", ends)
    page.goto(address)
    limit, quiet = time.monotonic() + 30, 0
    while quiet < LOOKS:
        assert time.monotonic() < limit, [request.url for request in under_way]
        try:
            page.evaluate(LOOK)
            quiet = 0 if under_way else quiet + 1
        except Error:  # an old address leads on
            quiet = 0
    page.remove_listener("request", begins)
    page.remove_listener("requestfinished", ends)
    page.remove_listener("requestfailed", ends)


@pytest.fixture(scope="session")
def kinds(demo: Site) -> dict[str, str]:
    """One page of each kind: every page that is alone, and the heaviest of those that share a folder."""
    found: dict[str, str] = {}
    for url in demo.urls:
        path = url.removesuffix("index.html")
        folder, _, last = path.rstrip("/").rpartition("/")
        if path == "404.html":
            continue
        kind = (
            f"{folder}/..." if folder and not last.isdigit() else f"{folder}/year" if last.isdigit() else path
        )
        size = (demo.folder / url).stat().st_size
        if kind not in found or size > (demo.folder / f"{found[kind]}index.html").stat().st_size:
            found[kind] = path
    found["moved"] = next(
        url.removesuffix("index.html") for url in demo.urls if 'http-equiv="refresh"' in demo.text(url)
    )
    found["withdrawn"] = next(
        url.removesuffix("index.html")
        for url in demo.urls
        if url.startswith("cases/") and 'aria-label="Withdrawn"' in demo.text(url)
    )
    return found
