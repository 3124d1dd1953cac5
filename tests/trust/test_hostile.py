"""A library of hostile text, looked at in Chromium: nothing runs, nothing is fetched, nothing becomes an element.

`complaints` (tests/browser/conftest.py) fails a test for any dialog, script error, line of the console, refusal of the
Content-Security-Policy and request to another host. What a page is made of, `LOOK` tells.
"""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
import yaml
from playwright.sync_api import Page, expect

from browser.conftest import WIDE, Visit
from site_fixture import Site, tell

from .library import RECORDS, Pen, fill, kinds, schema, text_fields, values, vectors

LOOK = r"""() => {
  const told = [];
  const kinds = "iframe:not(.player iframe), object, embed, base, marquee, audio, video, style, math, foreignObject, plaintext, xmp, form form";
  if ("__hit" in window) told.push("a script ran");
  for (const e of document.querySelectorAll("*")) {
    const shown = e.outerHTML.slice(0, 120);
    if (/^hit/.test(e.id) || e.matches(kinds) || (e.matches("script") && (!e.src || e.text))) told.push(shown);
    for (const { name, value } of e.attributes) {
      if (/^on/i.test(name) || (name === "style" && !/^(block|font)-size: [\d.]+(px|mm);?$/.test(value) && !e.closest("svg, [role=graphics-document]"))) told.push(`${name} in ${shown}`);
      if (/^(xlink:)?(href|src|action|formaction|data|poster|srcset)$/.test(name) && /^[\0-\x20]*(javascript|vbscript|data:text|file):?/i.test(value)) told.push(`${name} in ${shown}`);
    }
  }
  if (getComputedStyle(document.body).display === "none") told.push("nothing is shown");
  return told;
}"""
TURNED = r"""() => {
  const odd = /[\u202a-\u202e\u2066-\u2069\u200e\u200f\u0590-\u08ff]/;
  const told = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const box = (node, at) => {
    const one = document.createRange();
    one.setStart(node, at);
    one.setEnd(node, at + 1);
    return one.getBoundingClientRect();
  };
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const at = node.data.search(/\S\S/);
    const holder = node.parentElement;
    if (at < 0 || odd.test(holder.matches("mark") ? holder.parentElement.textContent : node.data) || !holder.checkVisibility()) continue;
    const [first, second] = [box(node, at), box(node, at + 1)];
    if (first.width && second.width && first.top === second.top && second.left < first.left) told.push(holder.outerHTML.slice(0, 120));
  }
  return told;
}"""
"""Words that stand beside a text with signs of direction, and are themselves turned by them."""


# The corpus.


def test_the_corpus_is_whole() -> None:
    assert len(set(vectors())) == len(vectors()) >= 80
    assert len(vectors(refused=True)) >= 8
    assert len({k.name for k in kinds()}) == len(kinds()) >= 15
    assert all(len(k.why) > 30 and len(k.vectors) >= 5 for k in kinds())


def files(hostile: Path, pattern: str) -> list[Any]:
    """Data of the library's files."""
    return [yaml.safe_load(p.read_text("utf-8")) for p in sorted((hostile / "cases").glob(pattern))]


def test_every_vector_stands_in_a_record_and_every_text_field_holds_one(hostile: Path) -> None:
    records = files(hostile, "records/*/*.yaml")
    assert len(records) == RECORDS
    stories = "\n".join(r["story"] for r in records)
    assert [v for v in vectors() if v not in stories] == []
    held = set(vectors())
    for part, found in (
        (schema("case"), records),
        (schema("system"), files(hostile, "systems.yaml")),
        (schema("company"), files(hostile, "company.yaml")),
        (schema("reading"), files(hostile, "reading/*.yaml")),
        (schema("actions"), files(hostile, "house/actions.yaml")),
    ):
        for field in text_fields(part):
            texts = [t for one in found for t in values(one, field.path)]
            assert texts, field.path
            assert all(any(t.startswith(v) or v in t for v in held) for t in texts), field.path


def test_a_new_text_field_is_filled_by_itself() -> None:
    """Also inside something that no record has yet."""
    part = schema("case") | {}
    part["properties"] = part["properties"] | {
        "weather": {
            "type": "object",
            "properties": {"said": {"type": "string", "maxLength": 40}},
            "examples": [{"said": "Rain."}],
        }
    }
    made = fill({}, part, Pen(["<b id=hit>"]))
    assert made["weather"] == {"said": "<b id=hit>"}


# Pages as files.


def test_no_vector_becomes_an_element_or_an_attribute(site: Site) -> None:
    assert len(site.urls) > 200
    faults = []
    for page in site.pages:
        for element in page.elements:
            name = str(element.tag).lower()
            if (element.get("id") or "").startswith("hit") or name in (
                "b/id",
                "iframe",
                "object",
                "embed",
                "base",
                "math",
                "style",
            ):
                faults.append(f"{page.url}: <{name} {dict(element.attrib)}>")
            if name == "script" and (
                element.text or not (element.get("src") or "").endswith((".js", ".mjs"))
            ):
                faults.append(f"{page.url}: a script of its own")
            faults += [f"{page.url}: <{name} {a}>" for a in element.attrib if str(a).lower().startswith("on")]
    assert not faults, tell(faults)


def test_words_of_templates_and_slots_stay_words(site: Site) -> None:
    story = "\n".join(site.page(f"cases/KW-2025-{n:03d}/index.html").text for n in range(1, RECORDS + 1))
    for vector in (
        "{{7*7}}",
        "{% raw %}",
        "@@BODY@@",
        "@@ROOT@@ @@AT:cases@@",
        "@@/FULL@@",
        "${7*7}",
        "<%= 7*7 %>",
        "{name} {n} {why}",
        "__proto__",
    ):
        assert " ".join(vector.split()) in story, vector
    for page in site.pages:
        assert len(page.find("main")) <= 1, page.url
    assert "@@CURRENT@@ @@BODY@@. Local codes" in site.page("index.html").text


def test_the_files_that_programs_read_are_whole(site: Site) -> None:
    for name in sorted(f for f in site.files if f.endswith((".json", ".webmanifest"))):
        json.loads(site.text(name))
    for name in sorted(f for f in site.files if f.endswith((".xml", ".svg"))):
        ET.fromstring(site.text(name))
    assert {r["title"] for r in site.cases} == {
        r["title"]
        for r in (
            yaml.safe_load(p.read_text("utf-8"))
            for p in (site.folder.parent / "cases/records").rglob("*.yaml")
        )
    }


def test_every_page_of_the_demo_carries_the_policy(demo: Site) -> None:
    """Of each HTML file as it lies there, also of those that move a reader on."""
    (policy,) = set(re.findall(r'Content-Security-Policy"? content="([^"]*)"', demo.text("index.html")))
    assert policy.startswith("default-src 'none'; style-src 'self'; script-src 'self'; ")
    assert "unsafe" not in policy
    for url in demo.urls:
        head = demo.text(url).partition("<body")[0]
        assert head.count(policy) == 1, url
        assert head.index(policy) < min(head.index("<script"), head.index("<link")), url


# Pages in the browser.


def look(page: Page, where: str, faults: list[str]) -> None:
    """Notes what a vector has made of a page."""
    faults += [f"{where}: {told}" for told in page.evaluate(LOOK)]
    pixels, hidden, out = page.evaluate(WIDE)
    if pixels or hidden:
        faults.append(f"{where}: too wide by {pixels}: {out}")
    faults += [f"{where}: turned: {told}" for told in page.evaluate(TURNED)]


def shown(site: Site) -> list[str]:
    """Every kind of page: the longest in each folder, and all of the folders where hostile things differ most."""
    found: dict[str, str] = {}
    for url in site.urls:
        if url == "404.html" or 'http-equiv="refresh"' in site.text(url):
            continue
        path = url.removesuffix("index.html")
        folder, _, _ = path.rstrip("/").rpartition("/")
        whole = path.startswith(("reading/list", "patterns/")) or not folder
        kind = path if whole else f"{folder}/{path.rstrip('/')[-1] in '147'}"
        if kind not in found or len(site.text(url)) > len(site.text(f"{found[kind]}index.html")):
            found[kind] = path
    return sorted(found.values())


def test_nothing_happens_on_any_kind_of_page(site: Site, visit: Visit, address: str) -> None:
    pages = shown(site)
    assert len(pages) > 45
    page, faults = visit(None), list[str]()
    for path in pages:
        page.goto(address + path)
        look(page, path, faults)
    page.route(
        "**/favicon.ico", lambda route: route.fulfill(body="")
    )  # a feed names no icon, and Chromium asks
    page.goto(f"{address}feed.xml")
    assert page.evaluate("'__hit' in window") is False
    assert not faults, tell(faults)


def groups(size: int) -> Iterator[str]:
    """All vectors, so many at a time; addresses that might be followed stand alone, or first."""
    alone = [v for v in vectors() if re.match(r"(?i)(javascript:|data:|file:|//)", v)]
    yield from alone
    rest = [v for v in vectors() if v not in alone]
    for i in range(0, len(rest), size):
        yield " ".join(rest[i : i + size])


ASKED = {
    "search/": ("q", "did", "branch", "mode", "second"),
    "cases/": ("q", "with"),
    "reading/mine/": ("list", "for", "due"),
    "reading/trainer/": ("list",),
    "reading/questions/": ("topic", "n", "seed"),
    "reading/unknown/": ("case", "kind", "setting"),
    "patterns/explore/": ("mode", "branch", "from", "to", "age-from"),
    "bench/leak-rate/": ("refrigerant", "charge", "lost", "system", "case"),
    "record/": ("system", "draft", "begin"),
}
"""Pages that read their address, and the names that they look for."""


@pytest.mark.parametrize("path", ASKED)
def test_no_shared_address_does_anything(visit: Visit, address: str, path: str) -> None:
    page, faults = visit(None), list[str]()
    names, texts = ASKED[path], list(groups(24))
    for i in range(0, len(texts), len(names)):
        some = (texts[i:] + texts)[: len(names)]
        asked = "&".join(f"{name}={quote(text)}" for name, text in zip(names, some, strict=True))
        page.goto(f"{address}{path}?{asked}#{quote(some[0])}")
        look(page, f"{path} {some}", faults)
    assert page.url.startswith(address + path)
    assert not faults, tell(faults)


def test_results_for_a_hostile_query_are_text(visit: Visit) -> None:
    page, faults = visit("search/"), list[str]()
    for some in groups(24):
        page.get_by_role("searchbox").fill(f"oil flare {some}")
        page.wait_for_function(
            "() => { const s = document.querySelector('[data-search]');"
            " return s.dataset.answered === document.querySelector('#q').value; }"
        )
        look(page, f"search {some}", faults)
    expect(page.locator("main")).to_contain_text("KW-2025-")
    assert not faults, tell(faults)
