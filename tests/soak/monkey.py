"""A monkey at the demo site: it presses what it sees, writes into what it finds and turns back, from a seed.

    .venv/bin/python tests/soak/monkey.py [--walks 2000] [--steps 6] [--seed 1] [--site site]

After each step the page has to be whole: one head, words in its main part, no script or console error, no refused or
failed load, nothing wider than the screen, no word that only a programme says. Each fault is told with the walk's own
seed, so that `--walks 1 --seed SEED` shows it again. Exit status 1 if there was one.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from playwright.sync_api import Browser, Dialog, Page, sync_playwright
from playwright.sync_api import Error as Lost

from chromium import CHROMIUM, FLAGS
from site_fixture import ROOT, served

STARTS = ("", "search/", "cases/", "guide/", "record/", "bench/", "patterns/", "reading/", "places/", "keep/")
"""Where a walk may begin; all else it has to find."""
SIZES = ((390, 844), (320, 640), (844, 390), (1280, 900))
WORDS = (
    "oil at the flare",
    "r-410a short of charge",
    "12",
    "-3.5",
    "1e9",
    "0",
    "2026-02-31",
    "KW-2025-014",
    "<b>x</b>",
    "\"'`$" + "{7*7}",
    "(((((",
    "\u202eleak",
    "\u00fcn\u00efc\u00f6d\u00e9",
    " ",
    "a" * 3000,
)
"""What it writes: sense, nonsense and what breaks programmes."""

SEEN = """() => {
  const leads = (e) => e.localName === "a" ? new URL(e.href.baseVal ?? e.href, document.baseURI) : null; // in a drawing, too
  const away = (e, to) => to && (to.origin !== location.origin || e.hasAttribute("download") || /[.](?!html)[a-z.]+$/.test(to.pathname));
  const all = document.querySelectorAll("a[href], button, summary, input, select, textarea");
  window.seen = [...all].filter((e) => e.checkVisibility() && !e.disabled && e.type !== "file" && !e.closest("[inert]")
    && !away(e, leads(e)));
  return window.seen.map((e) => e.localName === "input" ? e.type : e.localName);
}"""
"""What can be pressed or filled, by kind; links to files and to other hosts are left alone."""
PRESS = """([at, value]) => {
  const e = window.seen?.[at];
  if (!e?.isConnected) return;
  e.focus();
  if (e.localName === "select") {
    e.selectedIndex = value % Math.max(1, e.options.length);
    e.dispatchEvent(new Event("change", { bubbles: true }));
  } else if (typeof value === "string") {
    e.value = value;
    for (const told of ["input", "change"]) e.dispatchEvent(new Event(told, { bubbles: true }));
  } else e.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true, view: window }));
}"""
# the page about the data files speaks of null and such: it is for those who compute with them
WHOLE = """() => {
  const faults = [], html = document.documentElement;
  const heads = [...document.querySelectorAll("h1")].filter((e) => e.checkVisibility());
  if (heads.length !== 1) faults.push(`${heads.length} heads`);
  const words = document.querySelector("main")?.innerText ?? "";
  if (words.trim().length < 20) faults.push("nothing in its main part");
  const odd = !document.querySelector(".file-table") && words.match(/\\b(undefined|NaN|null|Infinity)\\b|\\[object \\w+\\]|\\{\\{|\\$\\{(?!7)/);
  if (odd) faults.push(`says "${odd[0]}"`);
  if (html.scrollWidth > html.clientWidth) faults.push(`${html.scrollWidth - html.clientWidth} px too wide`);
  return faults;
}"""
STANDS = """async (argument) => {
  await new Promise((done) => {
    const look = () => document.readyState === "complete" ? setTimeout(done, 15) : setTimeout(look, 5);
    look();
  });
  return (SCRIPT)(argument);
}"""
"""A script as soon as the page is loaded and its scripts have had a moment; in one, for a press may lead elsewhere."""
WATCH = """document.addEventListener("securitypolicyviolation", (e) =>
  console.error(`policy: ${e.violatedDirective} refuses ${e.blockedURI}`));"""
OF_BROWSER = ("Service Worker registration blocked", "Ignoring too frequent calls to print")
"""What the browser says of our settings, and of a monkey that prints twice in a breath."""
ELSEWHERE = "context was destroyed|navigat"
TEXT = {"text", "search", "number", "date", "month", "tel", "email", "url", "textarea", "time"}


@dataclass(frozen=True)
class Fault:
    """Something wrong, and the way to it."""

    seed: int
    way: tuple[str, ...]
    what: str

    def __str__(self) -> str:
        return f"walk {self.seed}: {self.what}\n    " + "\n    ".join(self.way)


def walk(browser: Browser, base: str, seed: int, steps: int) -> list[Fault]:
    """One walk of so many steps in a context of its own."""
    random = Random(seed)
    width, height = random.choice(SIZES)
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme=random.choice(("light", "dark")),
        service_workers="block",
        accept_downloads=False,
    )
    context.set_default_timeout(20_000)
    context.add_init_script(WATCH)
    way: list[str] = [f"{width}x{height}"]
    found: list[Fault] = []

    def fault(what: str) -> None:
        found.append(Fault(seed, tuple(way), what))

    try:
        page = context.new_page()
        _listen(page, fault, random)
        start = random.choice(STARTS)
        way.append(f"opens {start or 'home'}")
        page.goto(base + start)
        for left in range(steps, -1, -1):
            for what in _ask(page, WHOLE):
                fault(f"{page.url}: {what}")
            if left:
                way.append(_step(page, random))
    except Lost as lost:
        fault(f"{lost.message.splitlines()[0]}")
    finally:
        context.close()
    return found


def _listen(page: Page, fault: Callable[[str], None], random: Random) -> None:
    def said(message: Any) -> None:
        if message.type in ("error", "warning") and not any(t in message.text for t in OF_BROWSER):
            fault(f"{page.url}: console: {message.text}")

    def asked(dialog: Dialog) -> None:  # "really?": the monkey does not know
        dialog.accept() if random.random() < 0.5 else dialog.dismiss()

    page.on("console", said)
    page.on("pageerror", lambda error: fault(f"{page.url}: script: {error}"))
    page.on("response", lambda r: fault(f"{r.url}: answered {r.status}") if r.status >= 400 else None)
    page.on("dialog", asked)


def _ask(page: Page, script: str, argument: Any = None) -> Any:
    """What a script of the page answers, as soon as the page stands: a press may have led elsewhere."""
    for _ in range(20):
        try:
            return page.evaluate(STANDS.replace("SCRIPT", script), argument)
        except Lost as lost:
            if not re.search(ELSEWHERE, lost.message):
                raise
    raise Lost("the page never comes to rest")


def _press(page: Page, script: str, argument: Any = None) -> None:
    try:
        page.evaluate(script, argument)
    except Lost as lost:  # it led elsewhere
        if not re.search(ELSEWHERE, lost.message):
            raise


def _step(page: Page, random: Random) -> str:
    kinds: Sequence[str] = _ask(page, SEEN)
    if random.random() < 0.07 or not kinds:
        _press(page, "() => { if (navigation.canGoBack) history.back(); }")
        return "turns back"
    # a page has far more links than anything else
    wanted = random.choice(sorted(set(kinds)))
    at = random.choice([i for i, kind in enumerate(kinds) if kind == wanted])
    name = _ask(page, "(at) => window.seen?.[at]?.outerHTML.slice(0, 100)", at)
    value: str | int = random.choice(WORDS) if wanted in TEXT else random.randrange(1000)
    if wanted == "number":
        value = random.choice(("12", "-3.5", "1e9", "0", ""))
    elif wanted in ("date", "month", "time"):
        value = ""
    _press(page, PRESS, [at, value])
    return f"{page.url}: {name} {value!r:.60}"


def walks(base: str, seeds: Sequence[int], steps: int) -> list[Fault]:
    """Walks one after the other in a browser of their own."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            return [fault for seed in seeds for fault in walk(browser, base, seed, steps)]
        finally:
            browser.close()


def _cut(seeds: range, size: int) -> Iterator[range]:
    for i in range(0, len(seeds), size):
        yield seeds[i : i + size]


def main() -> int:
    """The command."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--walks", type=int, default=2000)
    ask.add_argument("--steps", type=int, default=6)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--processes", type=int, default=2)
    ask.add_argument("--site", type=Path, default=ROOT / "site")
    asked = ask.parse_args()
    start, done = time.monotonic(), 0
    faults: list[Fault] = []
    with served(asked.site) as base, ProcessPoolExecutor(asked.processes) as pool:
        parts = list(_cut(range(asked.seed, asked.seed + asked.walks), 25))
        for part, told in zip(
            parts, pool.map(walks, [base] * len(parts), parts, [asked.steps] * len(parts)), strict=True
        ):
            done += len(part)
            faults += told
            for fault in told:
                print(fault, flush=True)
            print(f"{done} walks, {len(faults)} faults, {time.monotonic() - start:.0f} s", flush=True)
    for what, count in Counter(re.sub(r"http://[^ ]*?\d/", "", f.what) for f in faults).most_common(20):
        print(f"{count} times: {what}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
