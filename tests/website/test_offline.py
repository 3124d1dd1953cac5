"""What a phone keeps: every file is listed once with its hash, packs hold the pages to the byte, the docs say the same."""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import io
import json
import os
import pickle
import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import yaml
from PIL import Image

from leaklore.errors import LeakloreError
from leaklore.pages import data_cases, keep
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.records.check import check
from leaklore.records.library import Library
from leaklore.website import offline
from leaklore.website.shell import Shell
from site_fixture import ROOT, Site, built, copy_library, tree, write_config

from .serving import CASE, LEAKLORE, Server

POLICY = re.compile(r"default-src 'none';[^\"\n]*base-uri 'none'")


@pytest.fixture(scope="module")
def said(demo: Site) -> dict[str, Any]:
    """data/offline.json of the demo site."""
    found: dict[str, Any] = json.loads(demo.text("data/offline.json"))
    return found


def unpacked(site: Site, path: str) -> dict[str, str]:
    """Texts of a pack by path, put together independently of the code."""
    pack = json.loads(gzip.decompress((site.folder / path).read_bytes()))
    out = {}
    for name, steps in pack["files"].items():
        at, text = 0, ""
        for step in steps:
            at += step
            text += pack["rows"][at]
            at += 1
        out[name] = text
    return out


def served(site: Site, path: str, text: str) -> bytes:
    """A file as the phone puts it together."""
    parts = text.split("\0")
    if len(parts) != 5:
        return text.encode()
    shell = json.loads(site.text("data/shell.json"))
    root = "../" * path.count("/") or "./"
    title, description, section, head, body = (p.replace("\1", root) for p in parts)
    values = {
        "ROOT": root,
        "TITLE": title,
        "DESCRIPTION": description,
        "SECTION": section,
        "EXTRA_HEAD": head,
        "BODY": body,
        "BANNER": shell["banner"],
    }
    return Shell(tuple(shell["parts"]), ()).filled(values).encode()


def test_every_file_is_listed_once_as_it_is(demo: Site, said: dict[str, Any]) -> None:
    paths = [row[0] for row in said["files"]]
    assert paths == sorted(paths)
    assert Counter(paths).most_common(1)[0][1] == 1
    kept = {f for f in demo.files if not f.startswith(offline.NOT_KEPT)}
    assert set(paths) == kept - {"data/offline.json", "worker.js"}
    for path, size, digest, group, *_ in said["files"]:
        content = (demo.folder / path).read_bytes()
        assert (size, digest) == (len(content), hashlib.sha256(content).hexdigest()[:16]), path
        assert said["groups"][group] == offline.group(path, 218) or path.endswith(".pack")
    assert said["version"] == 1
    assert said["built"] == "2026-12-31"


def test_groups_are_what_one_expects(said: dict[str, Any]) -> None:
    group = {row[0]: said["groups"][row[3]] for row in said["files"]}
    for path in (
        *(
            "index.html",
            "search/index.html",
            "search/key/index.html",
            "guide/failure-modes/flare-joint/index.html",
        ),
        *(
            "bench/leak-rate/index.html",
            "offline/index.html",
            "keep/index.html",
            "css/leaklore.css",
            "js/page.mjs",
        ),
        *("reading/index.html", "reading/first-week/index.html", "reading/mine/index.html"),
        *("reading/questions/index.html", "data/learn/lists.json", "data/learn/evidence.json"),
        *("data/search/model.json", "data/search/words.json", "data/trade.json", "data/bench.json"),
        *("data/search/terms/0.bin", "data/search/hits/0.json", "data/shell.json", "img/marks.svg"),
    ):
        assert group[path] == "core", path
    for path in (
        *("cases/KW-2025-014/index.html", "cases/index.html", "cases/2025/index.html", "systems/index.html"),
        *("branches/ketterwick/index.html", "data/cases.json", "data/cases/KW-2025-0.json"),
        *("reading/unknown/index.html", "reading/trainer/index.html"),
    ):
        assert group[path] == "cases", path
    assert {g for p, g in group.items() if p.startswith("photos/")} == {"photos"}
    assert offline.group("data/search/terms/0.bin", 1001) == "search"
    assert offline.group("data/search/hits/0.json", 1000) == "core"
    assert offline.group("data/search/model.json", 1001) == "core"


def _large(monkeypatch: pytest.MonkeyPatch, kept: int) -> tuple[Library, offline.Keeps]:
    """The demo library as one of more cases than a phone keeps."""
    monkeypatch.setattr(offline, "KEPT", kept)
    library = check(ROOT / "cases").library
    assert library is not None
    return library, offline.keeps(library)


def test_of_a_large_library_a_phone_keeps_the_newest_cases_and_theirs(
    monkeypatch: pytest.MonkeyPatch, demo: Site
) -> None:
    """Their pages, sheets, systems and photos, not those of the others; guide, search and bench all the same."""
    library, keeps = _large(monkeypatch, 60)
    by_day = sorted(library.cases, key=lambda c: (c.reported, c.id), reverse=True)
    newest, others = by_day[:60], by_day[60:]
    assert others
    for cases, is_kept in ((newest, True), (others, False)):
        for case in cases:
            for path in (
                f"cases/{case.id}/index.html",
                f"for-customers/{case.id}/index.html",
                f"photos/{case.id}/a.avif",
            ):
                assert keeps(path) == is_kept, path
    systems = {c.system.id for c in newest if c.system}
    assert {s for s in library.systems if keeps(f"systems/{s}/index.html")} == systems
    for old, case in library.former.items():
        assert keeps(f"cases/{old}/index.html") == (case in newest)
    for path in (
        *(
            "index.html",
            "search/index.html",
            "guide/failure-modes/flare-joint/index.html",
            "bench/leak-rate/index.html",
        ),
        *(
            "data/search/terms/0.bin",
            "data/systems.json",
            "data/trade.json",
            "cases/index.html",
            "systems/index.html",
        ),
        *("branches/ketterwick/index.html", "data/shell.json", "css/leaklore.css", "offline/index.html"),
    ):
        assert keeps(path), path
    for path in (
        "data/cases.csv",
        "data/groups.json",
        "branches/ketterwick/2/index.html",
        "patterns/index.html",
    ):
        assert not keeps(path), path
    pieces = {p for p in demo.files if p.startswith("data/cases/") and keeps(p)}
    assert pieces == {data_cases.cases_address(c.id) for c in newest} < set(demo.files)
    assert pickle.loads(pickle.dumps(keeps)) == keeps, "handed to other processes"


def test_a_list_is_kept_down_to_the_page_of_the_oldest_kept_case(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages of a year are numbered from its oldest case; with ten on a page the same by counting."""
    monkeypatch.setattr(offline, "EACH", 10)
    library, keeps = _large(monkeypatch, 60)
    newest = set(library.newest[:60])
    for year in {c.year for c in library.cases}:
        of_year = sorted((c for c in library.cases if c.year == year), key=lambda c: (c.reported, c.id))
        assert keeps(f"cases/{year}/index.html") == any(c in newest for c in of_year)
        for number in range(1, len(of_year) // 10 + 1):
            there = of_year[10 * number - 10 : 10 * number]
            assert keeps(f"cases/{year}/{number}/index.html") == any(c in newest for c in there)


def test_up_to_so_many_cases_all_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """The demo library is small."""
    library, keeps = _large(monkeypatch, 1000)
    assert keeps == offline.EVERYTHING
    assert keeps("cases/KW-2021-001/index.html")
    assert not keeps("data/cases.csv")
    assert _large(monkeypatch, len(library.cases))[1] == offline.EVERYTHING


def test_what_a_phone_can_t_keep_is_neither_read_nor_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nor are folders of its cases looked into."""
    (tmp_path / "worker.js").write_text(f"{offline.NUMBER_LINE}\n", "utf-8")
    for path in ("index.html", "cases/KW-2020-001/index.html", "cases/KW-2026-001/index.html"):
        offline.put(tmp_path / path, b"<p>x")
    kept = offline.Keeps(False, frozenset({"KW-2026-001"}))
    looked: list[str] = []
    scandir = os.scandir

    def watched(at: Path) -> Any:
        looked.append(at.name)
        return scandir(at)

    monkeypatch.setattr(os, "scandir", watched)
    offline.write(tmp_path, Shell(("",), ("",)), "", {}, dt.date(2026, 1, 1), 2000, kept)
    assert "KW-2026-001" in looked
    assert "KW-2020-001" not in looked
    rows = json.loads((tmp_path / "data/offline.json").read_text("utf-8"))["files"]
    assert [r[0] for r in rows if not r[0].startswith("data/")] == [
        "cases/KW-2026-001/index.html",
        "index.html",
    ]


def test_packs_that_are_kept_from_the_build_before_are_the_same(tmp_path: Path) -> None:
    """By their content; a broken one is made anew, and one that nobody needs goes."""
    site, cache = tmp_path / "site", tmp_path / "packs"

    def written(text: str) -> dict[str, bytes]:
        offline.put(site / "worker.js", f"{offline.NUMBER_LINE}\n".encode())
        offline.put(site / "cases/KW-2026-001/index.html", text.encode())
        offline.put(site / "guide/index.html", b"<p>guide")
        offline.write(site, Shell(("",), ("",)), "", {}, dt.date(2026, 1, 1), 1, cache=cache)
        return {p.name: p.read_bytes() for p in (site / "data/packs").iterdir()}

    first = written("<p>one")
    files = {p.name: p.stat().st_mtime_ns for p in cache.iterdir()}
    assert len(files) == len(first) > 1
    assert written("<p>one") == first
    assert {p.name: p.stat().st_mtime_ns for p in cache.iterdir()} == files, "not made again"
    for file in cache.iterdir():
        file.write_bytes(file.read_bytes()[:-3])
    assert written("<p>one") == first
    second = written("<p>other")
    assert {name for name in first if first[name] != second[name]} == {"cases-cases-1.pack"}
    assert len(list(cache.iterdir())) == len(first)


def test_the_pages_say_what_is_not_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """In figures where there are more cases; a small library says nothing of it."""
    library, _ = _large(monkeypatch, 1000)
    book = Book(library, dt.date(2026, 12, 31))
    said = {p.url: str(p.body) for p in keep.pages(book, Templates(book))}
    assert "newest" not in said["keep/"] + said["offline/"]
    monkeypatch.setattr(keep, "KEPT", 100)
    total = len(library.cases)
    pages = {p.url: p for p in keep.pages(book, Templates(book))}
    assert f"the newest 100 of {total} cases" in pages["keep/"].body
    assert f"The other {total - 100} cases" in pages["keep/"].body
    assert f"a phone keeps the newest 100 of {total} cases" in pages["offline/"].body
    assert pages["keep/"].description.startswith("The newest 100 cases on this phone")


def test_packs_hold_their_files_to_the_byte(demo: Site, said: dict[str, Any]) -> None:
    in_pack = {row[0]: said["packs"][row[4]] for row in said["files"] if len(row) == 5}
    group = {row[0]: row[3] for row in said["files"]}
    found = {}
    for pack in said["packs"]:
        for path, text in unpacked(demo, pack).items():
            assert path not in found, "in one pack only"
            found[path] = pack
            assert group[path] == group[pack]
            assert served(demo, path, text) == (demo.folder / path).read_bytes(), path
            light = path.startswith("for-customers/") and path.count("/") == 2  # has no shell to be left out
            if path.endswith("index.html") and not path.startswith("house/") and not light:
                assert text.count("\0") == 4, f"{path} carries its shell"
    assert found == in_pack
    kept = {p for p in demo.files if p.endswith(".html") and not p.startswith(offline.NOT_KEPT)}
    assert kept <= set(found)


def test_the_worker_has_the_number_and_nothing_else_is_changed(demo: Site, said: dict[str, Any]) -> None:
    source = (ROOT / "site_overrides/worker.js").read_text("utf-8")
    assert demo.text("worker.js") == source.replace(
        'const NUMBER = "";', f'const NUMBER = "{said["number"]}";'
    )
    assert re.fullmatch("[0-9a-f]{16}", said["number"])


def test_two_builds_with_one_case_changed_differ_only_there(tmp_path: Path) -> None:
    sites = []
    for name in ("one", "same", "other"):
        library = copy_library(tmp_path / name)
        record = library / "records/2025/KW-2025-002.yaml"
        case = yaml.safe_load(record.read_text("utf-8"))
        if name == "other":
            record.write_text(
                record.read_text("utf-8").replace(case["title"], "Another title for the same job"), "utf-8"
            )
        sites.append(Site(built(write_config(tmp_path / name, library))))
    one, same, other = sites
    assert tree(one.folder) == tree(same.folder)
    lists = [{row[0]: row for row in json.loads(s.text("data/offline.json"))["files"]} for s in (one, other)]
    assert lists[0].keys() == lists[1].keys()
    changed = {p for p, row in lists[0].items() if row != lists[1][p]}
    really = {p for p in one.files if (one.folder / p).read_bytes() != (other.folder / p).read_bytes()}
    assert changed == {f for f in really if not f.startswith(offline.NOT_KEPT)} - {
        "data/offline.json",
        "worker.js",
    }
    assert "cases/KW-2025-002/index.html" in changed
    assert not any(p.startswith(("css/", "js/", "icons/", "bench/", "keep/", "data/shell")) for p in changed)
    assert not any("core-parts" in p or "core-bench" in p for p in changed)
    assert one.text("worker.js") != other.text("worker.js")


def test_where_a_pack_ends_depends_on_names_alone() -> None:
    many = {f"cases/KW-2020-{i:03}/index.html": 1 for i in range(900)}
    before = list(offline._cut(many))
    assert len(before) > 4
    more = dict(sorted([*many.items(), ("cases/KW-2020-0005/index.html", 1)]))
    after = list(offline._cut(more))
    assert sum(part not in before for part in after) <= 2, (
        "a new case moves its own pack, and may cut it in two"
    )
    assert [p for part in before for p in part] == list(many)
    heavy = list(offline._cut({str(i): 1_600_000 for i in range(5)}))
    assert max(map(len, heavy)) <= 2


def test_a_text_with_our_marks_is_kept_with_its_shell() -> None:
    slots = {
        "TITLE": "t",
        "DESCRIPTION": "d",
        "SECTION": "s",
        "EXTRA_HEAD": "",
        "BODY": "a\1b",
        "ROOT": "../",
    }
    assert offline._page(slots) is None
    assert offline._page({**slots, "BODY": '<a href="../x">'}) == 't\0d\0s\0\0<a href="\1x">'


def test_a_worker_without_a_place_for_the_number_stops_the_build(tmp_path: Path) -> None:
    (tmp_path / "worker.js").write_text("// nothing\n", "utf-8")
    with pytest.raises(LeakloreError, match=r"worker\.js: the line const NUMBER"):
        offline.write(tmp_path, Shell(("",), ("",)), "", {}, dt.date(2026, 1, 1), 0)


def test_under_serve_nothing_is_kept(tmp_path: Path) -> None:
    """Pages change all the time there; a worker that an older address left behind takes itself away."""
    server = Server(tmp_path, LEAKLORE)
    try:
        page = server.until(CASE, lambda status, _: status == 200)
        assert 'rel="manifest"' not in page
        assert 'const NUMBER = "";' in server.fetch("worker.js")[1]
        assert server.fetch("data/offline.json")[0] == 404
    finally:
        server.stop()


def test_the_manifest_names_icons_that_are_there(demo: Site) -> None:
    said = json.loads(demo.text("app.webmanifest"))
    assert (said["name"], said["short_name"]) == ("Leaklore Ketterwick Air & Cold", "Leaklore")
    assert (said["start_url"], said["scope"], said["display"]) == ("./", "./", "standalone")
    tokens = demo.text("css/leaklore.css")
    for key, token in (("background_color", "paper"), ("theme_color", "fill")):
        assert re.search(rf"--{token}: {said[key]};", tokens)
    mark = demo.text("img/mark.svg")
    sizes = set()
    for icon in said["icons"]:
        assert icon["src"] in demo.files
        if icon["type"] != "image/png":
            continue
        image = Image.open(io.BytesIO((demo.folder / icon["src"]).read_bytes()))
        assert icon["sizes"] == f"{image.width}x{image.height}"
        sizes.add((image.width, icon["purpose"]))
        colours = {f"#{r:02x}{g:02x}{b:02x}" for _, (r, g, b) in image.getcolors(1 << 24) or ()}
        assert set(re.findall("#[0-9a-f]{6}", mark)) <= colours, "drawn in the mark's colours"
        assert image.getpixel((0, 0)) == (0xF8, 0xF2, 0xE7)
    assert sizes == {(192, "any"), (512, "any"), (512, "maskable")}


def test_the_documented_policy_is_that_of_the_pages(demo: Site) -> None:
    (policy,) = [
        m.get("content")
        for m in demo.page("index.html").find("meta")
        if m.get("http-equiv") == "Content-Security-Policy"
    ]
    told = POLICY.findall((ROOT / "docs/serving.md").read_text("utf-8"))
    assert told == [policy] * 4


def test_the_documented_types_cover_every_file(demo: Site) -> None:
    text = (ROOT / "docs/serving.md").read_text("utf-8")
    types = re.search(r"types \{(.*?)\}", text, re.DOTALL)
    assert types is not None
    known = set(re.findall(r"[\w+./-]+", types[1].replace(";", " ")))
    assert {f.rsplit(".", 1)[-1] for f in demo.files} <= known
