"""Every link, picture, style, script and anchor of the demo site leads somewhere, inside the site."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from site_fixture import Document, Site, local, tell

from .links import CSS_ADDRESS, JS_IMPORT, POINTERS, addresses, code, fault, target

ANY_DEPTH = {"404.html"}
"""Hosts show this page at every depth, so that only addresses from the root can work on it."""


def test_every_address_leads_somewhere_inside_the_site(demo: Site) -> None:
    faults, seen = [], 0
    for page in demo.pages:
        for name, address in addresses(page):
            seen += 1
            wrong = fault(demo, page.url, address, from_root=page.url in ANY_DEPTH)
            if wrong:
                faults.append(f"{page.url}: <{name}> {address!r} {wrong}")
    assert seen > 20 * len(demo.urls), "the pages have links"
    assert not faults, tell(faults)


def test_names_that_point_at_ids_find_them_on_their_page(demo: Site) -> None:
    faults, seen = [], 0
    for page in demo.pages:
        known = set(page.ids)
        for element in page.elements:
            for attribute in POINTERS:
                for name in (element.get(attribute) or "").split():
                    seen += 1
                    if name not in known:
                        faults.append(f"{page.url}: <{local(element)} {attribute}={name!r}> names no id")
    assert seen > len(demo.urls)
    assert not faults, tell(faults)


def test_every_list_that_a_filter_names_is_there(demo: Site) -> None:
    found = 0
    for page in demo.pages:
        for form in page.find("form"):
            name = form.get("data-filter")
            if name is not None:
                found += 1
                assert {name, f"{name}-empty"} <= set(page.ids), f"{page.url}: filter of {name}"
    assert found >= 2


def test_no_page_carries_a_style_a_script_or_an_event_handler_of_its_own(demo: Site) -> None:
    faults = []
    for page in demo.pages:
        for element in page.elements:
            name = local(element)
            if name == "style" or (name == "script" and (element.get("src") is None or element.text)):
                faults.append(f"{page.url}: <{name}> inline")
            for attribute, value in element.attrib.items():
                if (
                    attribute == "style"
                    or attribute.startswith("on")
                    or re.match(r"\s*(javascript|vbscript|data)\s*:", value, re.IGNORECASE)
                ):
                    faults.append(f"{page.url}: <{name} {attribute}={value!r}>")
    assert not faults, tell(faults)


def test_every_page_forbids_what_it_does_not_need(demo: Site) -> None:
    for page in demo.pages:
        (policy,) = [
            m.get("content") for m in page.find("meta") if m.get("http-equiv") == "Content-Security-Policy"
        ]
        rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
        assert rules["default-src"] == "'none'", page.url
        assert rules["script-src"] == "'self'", page.url
        assert rules["style-src"] == "'self'", page.url
        assert rules["connect-src"] == "'self'", page.url
        assert "http" not in policy.replace("http-equiv", ""), page.url


def test_ids_are_given_once_a_page(demo: Site) -> None:
    faults = [
        f"{page.url}: id {name!r} {page.ids.count(name)} times"
        for page in demo.pages
        for name in sorted(set(page.ids))
        if page.ids.count(name) > 1
    ]
    assert not faults, tell(faults)
    assert all(name and not re.search(r"\s", name) for page in demo.pages for name in page.ids)


def test_addresses_in_stylesheets_and_scripts_lead_somewhere(demo: Site) -> None:
    scripts = [f for f in demo.files if f.endswith((".js", ".mjs")) and f != "js/vega-bundle.js"]  # not ours
    styles = [f for f in demo.files if f.endswith(".css")]
    assert styles == ["css/leaklore.css"]
    faults, imports = [], 0
    for file in scripts + styles:
        text = code(demo.text(file))
        pattern = CSS_ADDRESS if file.endswith(".css") else JS_IMPORT
        for hit in pattern.finditer(text):
            address = next(filter(None, hit.groups()))
            imports += 1
            wrong = fault(demo, file, address)
            if wrong and not address.startswith("data:"):
                faults.append(f"{file}: {address!r} {wrong}")
        faults += [f"{file}: names the host {h}" for h in re.findall(r"https?://(?!www\.w3\.org/)\S+", text)]
    assert imports >= 4
    assert not faults, tell(faults)


def test_every_script_and_picture_is_used(demo: Site) -> None:
    used = {
        hit[0] for page in demo.pages for _, address in addresses(page) if (hit := target(page.url, address))
    }
    for file in [f for f in demo.files if f.endswith((".js", ".mjs"))]:
        for hit in JS_IMPORT.finditer(code(demo.text(file))):
            found = target(file, hit[1])
            assert found
            used.add(found[0])
        used |= {f"js/{name}" for name in re.findall(r'new URL\("([\w-]+\.js)"', demo.text(file))}
        used |= {f"img/{name}" for name in re.findall(r"}img/([\w-]+\.\w+)#", demo.text(file))}
    left = {f for f in demo.files if f.startswith(("js/", "img/", "css/", "photos/"))} - used
    assert not left


def test_every_page_can_be_reached_from_home(demo: Site) -> None:
    reached, ahead = {"index.html"}, ["index.html"]
    while ahead:
        page = demo.page(ahead.pop())
        for name, address in addresses(page):
            found = target(page.url, address) if name == "a" else None
            if found and found[0].endswith(".html") and found[0] in demo.files and found[0] not in reached:
                reached.add(found[0])
                ahead.append(found[0])
    moved = {
        url
        for url in demo.urls
        if any((m.get("http-equiv") or "").lower() == "refresh" for m in demo.page(url).find("meta"))
    }
    assert sorted(set(demo.urls) - reached - moved - ANY_DEPTH) == []


# The checks themselves, on a page that is wrong in every way.

WRONG = """<!doctype html><html lang="en"><head><title>Wrong</title></head><body>
<main id="a"><p id="a">{}</p></main></body></html>"""


@pytest.mark.parametrize(
    ("markup", "said"),
    [
        ('<a href="../none/">x</a>', "leads nowhere: there is no none/index.html"),
        ('<a href="../../">x</a>', "leads out of the site's root"),
        ('<a href="/">x</a>', "is absolute"),
        ('<a href="https://elsewhere.example/">x</a>', "leaves the site"),
        ('<a href="//elsewhere.example/">x</a>', "leaves the site"),
        ('<a href="#none">x</a>', "leads to no part"),
        ('<a href="../#none">x</a>', "leads to no part"),
        ('<a href="#">x</a>', "has an empty fragment"),
        ('<img src="none.png" alt="">', "leads nowhere"),
        ('<svg><use href="../marks.svg#none"/></svg>', "leads to no part"),
        ('<form action="../none/"></form>', "leads nowhere"),
        ('<a href="../other">x</a>', "leads nowhere"),
    ],
)
def test_a_wrong_address_is_told(tmp_path: Path, markup: str, said: str) -> None:
    site = _site(tmp_path, markup)
    told = [fault(site, "here/index.html", address) for _, address in addresses(site.page("here/index.html"))]
    assert len(told) == 1
    assert said in (told[0] or "")


@pytest.mark.parametrize(
    "markup",
    [
        '<a href="../">x</a>',
        '<a href="..">x</a>',
        '<a href="./#a">x</a>',
        '<a href="#a">x</a>',
        '<a href="">x</a>',
        '<a href="../?q=a#home">x</a>',
        '<svg><use href="../marks.svg#mark"/></svg>',
        '<svg><use xlink:href="../marks.svg#mark"/></svg>',
    ],
)
def test_a_right_address_passes(tmp_path: Path, markup: str) -> None:
    site = _site(tmp_path, markup)
    told = [fault(site, "here/index.html", address) for _, address in addresses(site.page("here/index.html"))]
    assert told == [None]


def test_an_address_of_a_page_shown_at_any_depth_begins_at_the_root(tmp_path: Path) -> None:
    site = _site(tmp_path, "")
    assert fault(site, "404.html", "/here/", from_root=True) is None
    assert fault(site, "404.html", "/", from_root=True) is None
    assert "any depth" in (fault(site, "404.html", "here/", from_root=True) or "")
    assert "nowhere" in (fault(site, "404.html", "/none/", from_root=True) or "")


def _site(folder: Path, markup: str) -> Site:
    (folder / "here").mkdir()
    (folder / "other").mkdir()
    (folder / "other" / "index.html").write_text(WRONG.format(""))
    (folder / "here" / "index.html").write_text(WRONG.format(markup))
    (folder / "index.html").write_text(WRONG.format("").replace('id="a"', 'id="home"', 1))
    (folder / "marks.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"><symbol id="mark"/></svg>')
    return Site(folder)


def test_documents_remember_what_a_strict_parser_refuses(tmp_path: Path) -> None:
    file = tmp_path / "index.html"
    file.write_text("<!doctype html><title>x</title><p><div></p></span><b id=x id=y>&bogus")
    assert len(Document.strict(file, "index.html").errors) >= 4


def test_data_files_name_pages_that_exist(demo: Site) -> None:
    records = demo.cases
    systems = demo.records("data/systems.json", "systems")
    assert len(records) > 100
    assert len(systems) > 100
    for record in records:
        assert f"{record['url']}index.html" in demo.files
    for record in systems:
        assert f"systems/{record['system']}/index.html" in demo.files
