"""Builds as a company runs them: both commands, every kind of library, and failures early and late."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import xml.etree.ElementTree as ET
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from leaklore.errors import LeakloreError
from leaklore.website.engine import MkDocsEngine
from site_fixture import (
    ROOT,
    Site,
    built,
    copy_library,
    leaklore_build,
    local,
    mkdocs_build,
    once,
    site_at,
    tell,
    text_of,
    tree,
    write_config,
)

from .libraries import CASE, PHOTO, Workshop, library_of, rich, shape, write_yaml
from .links import addresses, fault
from .test_data_files import records_of
from .test_html import CHECKS, parse_faults

COMMANDS = [leaklore_build, mkdocs_build]
OTHER = {"failure-modes/flare-joint": "valve-core", "techniques/visual": "bubble-test"}
RECORD = "records/2025/KW-2025-002.yaml"


# The same site, whichever way it is built.


def test_both_commands_and_a_second_build_give_the_same_bytes(demo: Site, tmp_path: Path) -> None:
    configs = [write_config(tmp_path / name, ROOT / "cases") for name in ("again", "mkdocs")]
    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(lambda job: job[0](job[1]), zip(COMMANDS, configs, strict=True)))
    first = tree(demo.folder)
    assert len(first) > 900
    for command, config in zip(done, configs, strict=True):
        assert command.returncode == 0, command.stderr
        other = tree(config.parent / "site")
        assert sorted(other) == sorted(first), config.parent.name
        assert [f for f in first if first[f] != other[f]] == [], config.parent.name


def test_a_build_over_an_older_site_leaves_nothing_of_it(workshop: Workshop) -> None:
    (workshop.folder / "site" / "stale.html").write_text("old")
    (workshop.folder / "site.new").mkdir()
    (workshop.folder / "site.new" / "litter.html").write_text("from a build that was killed")
    assert leaklore_build(workshop.config).returncode == 0
    assert workshop.untouched()


def test_the_build_tells_what_it_made(tmp_path: Path) -> None:
    library_of(tmp_path / "cases", CASE)
    done = leaklore_build(write_config(tmp_path, tmp_path / "cases"))
    site = Site(tmp_path / "site")
    assert done.returncode == 0, done.stderr
    assert re.fullmatch(
        rf"{len(site.urls) - 1} pages in {re.escape(str(site.folder))}, \d+\.\d s\n", done.stdout
    )
    assert done.stderr == ""
    assert_whole(site, [u for u in site.urls if not u.startswith("guide/")])
    assert text_of(site.page("cases/KW-2025-001/index.html").find("h1")[0]) == CASE["title"]
    assert "1 case on record" in site.page("cases/index.html").text


# Failures.


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library, built once."""
    return once(tmp_path_factory, "small", lambda at: built(write_config(at, copy_library(at))))


@pytest.fixture
def workshop(small: Path, tmp_path: Path) -> Workshop:
    """A copy of the small library and its good site."""
    return Workshop(tmp_path, small)


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.__name__)
def test_a_broken_record_stops_the_build_and_tells_its_place(workshop: Workshop, command: Any) -> None:
    file = workshop.library / RECORD
    lines = file.read_text("utf-8").splitlines()
    row = next(i for i, text in enumerate(lines) if "cap-missing" in text)
    column = lines[row].index("cap-missing") + 1
    file.write_text("\n".join(lines).replace("cap-missing", "cap-mising") + "\n", "utf-8")
    done = command(workshop.config)
    assert done.returncode == 1
    assert f"cases/{RECORD}:{row + 1}:{column}: " in done.stderr
    assert "cap-missing" in done.stderr, "the nearest word is told"
    assert "Traceback" not in done.stderr + done.stdout
    assert workshop.untouched()


def test_every_problem_is_told_in_one_run(workshop: Workshop) -> None:
    (workshop.library / RECORD).write_text("id: [\n", "utf-8")
    (workshop.library / "records/2025/KW-2025-077.yaml").write_text("id: KW-2025-077\n", "utf-8")
    (workshop.library / "reading/first-week.yaml").write_text("key: first-week\n", "utf-8")
    done = leaklore_build(workshop.config)
    assert done.returncode == 1
    places = set(re.findall(r"^(cases/\S+?):\d+:\d+: ", done.stderr, re.MULTILINE))
    assert places == {
        f"cases/{RECORD}",
        "cases/records/2025/KW-2025-077.yaml",
        "cases/reading/first-week.yaml",
    }
    assert "the last good site stays" in done.stderr
    assert "Traceback" not in done.stderr
    assert workshop.untouched()


def _broken_fragment(at: Workshop) -> str:
    file = at.own_theme() / "fragments/leaklore/technique.html"
    file.write_text(file.read_text("utf-8").rstrip("\n") + "\n{% if %}\n", "utf-8")
    return f"technique.html:{len(file.read_text('utf-8').splitlines())}: "


def _unknown_name(at: Workshop) -> str:
    file = at.own_theme() / "fragments/leaklore/data.html"
    file.write_text(file.read_text("utf-8").rstrip("\n") + "\n{{ no_such_thing }}\n", "utf-8")
    return f"data.html:{len(file.read_text('utf-8').splitlines())}: 'no_such_thing' is undefined"


def _division_by_nothing(at: Workshop) -> str:
    file = at.own_theme() / "fragments/leaklore/home.html"
    file.write_text("{{ 1 / 0 }}\n", "utf-8")
    return "home.html:1: ZeroDivisionError: division by zero"


def _fragment_in_itself(at: Workshop) -> str:
    file = at.own_theme() / "fragments/leaklore/home.html"
    file.write_text('{% include "home.html" %}\n', "utf-8")
    return "home.html:1: includes itself without end"


def _fragment_that_is_not_there(at: Workshop) -> str:
    file = at.own_theme() / "fragments/leaklore/home.html"
    file.write_text('{% include "away.html" %}\n', "utf-8")
    return 'home.html:1: there is no template "away.html"'


def _fragment_in_another_encoding(at: Workshop) -> str:
    (at.own_theme() / "fragments/leaklore/home.html").write_bytes(b"K\xe4lte\n")
    return "home.html: is not UTF-8 text"


def _note_in_another_encoding(at: Workshop) -> str:
    (at.library / "house").mkdir()
    (at.library / "house" / "note.md").write_bytes(b"# Note\n\nK\xe4lte\n")
    return "cases/house/note.md:3:2: is not UTF-8 text (byte 0xe4); save the file with the encoding UTF-8"


def _no_plugin(at: Workshop) -> str:
    at.config.write_text(
        at.config.read_text("utf-8").replace("plugins:\n- leaklore\n", "plugins: []\n"), "utf-8"
    )
    return "names no plugin leaklore; write `plugins: [leaklore]`"


def _broken_shell(at: Workshop) -> str:
    file = at.own_theme() / "main.html"
    file.write_text("{% if %}\n" + file.read_text("utf-8"), "utf-8")
    return "main.html:1: "


def _shell_without_body(at: Workshop) -> str:
    file = at.own_theme() / "main.html"
    file.write_text(file.read_text("utf-8").replace("@@BODY@@", ""), "utf-8")
    return "main.html: the shell has no slot @@BODY@@"


def _note_with_a_broken_link(at: Workshop) -> str:
    (at.library / "house").mkdir()
    (at.library / "house" / "note.md").write_text("# Note\n\n[gone](gone.md)\n", "utf-8")
    return "'house/note.md' contains a link 'gone.md'"


def _company_left_out(at: Workshop) -> str:
    (at.library / "company.yaml").unlink()
    return "company.yaml"


def _spoilt_photo(at: Workshop) -> str:
    """A picture whose header and end are right, with nothing sensible between."""
    file = at.library / "photos/KW-2025-002/wall.png"
    stream = io.BytesIO()
    Image.effect_noise((300, 200), 90).save(stream, "PNG")
    data = bytearray(stream.getvalue())
    data[len(data) // 2] ^= 0xFF
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)
    record = at.library / RECORD
    told = "photos: [{file: wall.png, caption: The wall}]\n"
    record.write_text(record.read_text("utf-8") + told, "utf-8")
    return "cases/photos/KW-2025-002/wall.png:1:1: can't be decoded ("


SPOILS = [
    _broken_fragment,
    _unknown_name,
    _division_by_nothing,
    _fragment_in_itself,
    _fragment_that_is_not_there,
    _fragment_in_another_encoding,
    _note_in_another_encoding,
    _no_plugin,
    _broken_shell,
    _shell_without_body,
    _note_with_a_broken_link,
    _company_left_out,
    _spoilt_photo,
]


@pytest.mark.parametrize(
    ("command", "spoil"),
    [
        *((leaklore_build, spoil) for spoil in SPOILS),
        *((mkdocs_build, spoil) for spoil in (_unknown_name, _shell_without_body, _note_with_a_broken_link)),
    ],
    ids=lambda f: f.__name__.strip("_"),
)
def test_a_late_failure_too_leaves_the_last_good_site(workshop: Workshop, command: Any, spoil: Any) -> None:
    said = spoil(workshop)
    done = command(workshop.config)
    assert done.returncode == 1, done.stdout
    assert said in done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    assert workshop.untouched()


@pytest.mark.parametrize(
    ("name", "file", "why"),
    [
        ("theme", "theme/main.html", 'holds "'),
        ("public", "public/own.txt", 'holds "own.txt" and is no site that was made here'),
        ("note", "note", "is a file"),
        ("mkdocs.yml", "mkdocs.yml", "is a file"),
        ("site", "site/.git/HEAD", 'holds ".git", which is not of the site'),
    ],
)
def test_nothing_that_is_no_site_is_replaced(workshop: Workshop, name: str, file: str, why: str) -> None:
    """A mistake in site_dir must not cost anybody's files."""
    workshop.own_theme()
    config = workshop.config.read_text("utf-8")
    target = workshop.folder / file
    target.parent.mkdir(parents=True, exist_ok=True)
    if not target.exists():
        target.write_text("precious", "utf-8")
    workshop.config.write_text(re.sub(r"(?m)^site_dir: .*", f"site_dir: {name}", config), "utf-8")
    before = target.read_bytes()
    done = leaklore_build(workshop.config)
    assert done.returncode == 1
    assert "mkdocs.yml: site_dir: " in done.stderr
    assert why in done.stderr
    assert "name a folder that is new or empty" in done.stderr
    assert target.read_bytes() == before


def test_a_build_without_settings_says_where_to_run_it(tmp_path: Path) -> None:
    done = leaklore_build(tmp_path / "mkdocs.yml")
    assert done.returncode == 1
    assert re.match(r'leaklore: there is no ".*mkdocs\.yml"; run this in the folder', done.stderr)


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        (
            "site_name: X\n\tdocs_dir: cases\n",
            "mkdocs.yml:2:1: a tab stands where spaces must be; indent with spaces",
        ),
        (
            "plugins: [leaklore\nsite_name: X\n",
            "mkdocs.yml:1:10: a list in brackets is not closed or lacks a comma;",
        ),
        ("INHERIT: mkdocs.yml\n", "mkdocs.yml: is nested too deeply, or inherits from itself;"),
        ("[" * 3000, "mkdocs.yml"),
        (
            "site_name: X\ntheme: {name: null, custom_dir: 5}\n",
            "mkdocs.yml: MkDocs can't make anything of it",
        ),
    ],
    ids=["tab", "bracket", "itself", "deep", "number"],
)
def test_settings_that_are_no_settings_are_told(tmp_path: Path, settings: str, told: str) -> None:
    (tmp_path / "mkdocs.yml").write_text(settings, "utf-8")
    done = leaklore_build(tmp_path / "mkdocs.yml")
    assert done.returncode == 1
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_a_pipe_in_place_of_the_settings_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "mkdocs.yml")
    done = leaklore_build(tmp_path / "mkdocs.yml")
    assert done.returncode == 1
    assert "is no file; name the mkdocs.yml itself" in done.stderr


def test_a_port_that_there_is_not_is_told_before_anything_is_built(tmp_path: Path) -> None:
    with pytest.raises(LeakloreError, match="ports end at 65535"):
        MkDocsEngine().serve(tmp_path / "mkdocs.yml", "127.0.0.1:99999")


# Libraries small and empty.


def assert_whole(site: Site, urls: list[str] | None = None) -> None:
    """No page of the site (or none of these) is malformed or leads nowhere."""
    pages = [site.page(url) for url in urls or site.urls]
    faults = [
        f"{page.url}: {address!r} {wrong}"
        for page in pages
        for _, address in addresses(page)
        if (wrong := fault(site, page.url, address, from_root=page.url == "404.html"))
    ]
    faults += [f"{page.url}: {told}" for page in pages for check in CHECKS for told in check(page)]
    faults += [f"{page.url}: ids twice" for page in pages if len(set(page.ids)) < len(page.ids)]
    faults += [f"{url}: a slot is left" for url in site.urls if "@@" in site.text(url)]
    assert not faults, tell(faults)


def test_an_empty_library_builds_and_says_how_to_begin(tmp_path: Path) -> None:
    library_of(tmp_path / "cases")
    site = Site(built(write_config(tmp_path, tmp_path / "cases")))
    assert_whole(site)
    home = site.page("index.html").text
    assert "No case yet" in home
    assert "leaklore new" in home
    assert "leaklore new" in site.page("cases/index.html").text
    assert not [u for u in site.urls if u.startswith("systems/S-")]
    assert len([u for u in site.urls if u.startswith("guide/failure-modes/")]) > 15, "the guide is complete"
    assert json.loads(site.text("data/cases.json"))["cases"] == 0
    assert ET.fromstring(site.text("feed.xml")).tag == "{http://www.w3.org/2005/Atom}feed"


# What a library may hold besides records.


@pytest.fixture(scope="session")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """The small library with one of everything."""
    return site_at(once(tmp_path_factory, "rich", rich) / "site")


def test_a_library_with_everything_is_whole(everything: Site) -> None:
    assert_whole(everything)


def test_a_former_address_leads_on(everything: Site) -> None:
    page = everything.page("cases/KW-2024-099/index.html")
    refresh = [m.get("content") for m in page.find("meta") if m.get("http-equiv") == "refresh"]
    assert refresh == ["0; url=../KW-2025-002/"]
    assert [x.get("href") for x in page.find("link") if x.get("rel") == "canonical"] == ["../KW-2025-002/"]
    main = page.find("main")[0]
    links = [a.get("href") for a in main.iter() if local(a) == "a"]
    assert links == ["../../cases/KW-2025-002/"]
    assert "KW-2024-099 is now KW-2025-002" in page.text
    for file in ("sitemap.xml", "feed.xml"):
        assert "KW-2024-099" not in everything.text(file)
        assert "KW-2025-002" in everything.text(file)
    assert "KW-2024-099" in everything.page("cases/KW-2025-002/index.html").text


def test_a_withdrawn_case_keeps_its_page_and_is_marked(everything: Site) -> None:
    page = everything.page("cases/KW-2025-031/index.html")
    banner = [e for e in page.find("aside") if e.get("aria-label") == "Withdrawn"]
    assert len(banner) == 1
    assert "Written up twice; the other sheet carries the count." in text_of(banner[0])
    card = [
        e
        for e in everything.page("cases/index.html").find("article")
        if "KW-2025-031" in text_of(e) and e.get("data-withdrawn") is not None
    ]
    assert len(card) == 1
    assert "Withdrawn" in text_of(card[0])
    assert "KW-2025-031" not in everything.text("feed.xml")
    assert "KW-2025-031" not in everything.page("index.html").text
    record = {c["id"]: c for c in everything.cases}["KW-2025-031"]
    assert record["withdrawn"] is True
    assert record["counted"] is False
    modes = {m["mode"]: m for m in json.loads(everything.text("data/failure-modes.json"))["modes"]}
    assert modes["flare-joint"]["cases"] == 0


def test_a_case_that_stands_has_no_banner(everything: Site) -> None:
    for url in everything.urls:
        if url != "cases/KW-2025-031/index.html":
            assert 'class="banner"' not in everything.text(url), url


def test_a_reference_in_a_note_of_the_house_leads_to_the_guide(everything: Site) -> None:
    main = everything.page("house/pump/index.html").find("main")[0]
    assert "for a hold. Not [[visual]]." in text_of(main)
    assert [a.get("href") for a in main.iter() if local(a) == "a"] == [
        "../cylinders/",
        "../../guide/techniques/vacuum-hold/",
    ]


def test_a_note_of_the_house_is_drawn_in_our_shell(everything: Site) -> None:
    page = everything.page("house/cylinders/index.html")
    assert text_of(page.find("h1")[0]) == 'Where our "racks" & cylinders stand'
    title = text_of(page.find("title")[0])
    assert title == 'Where our "racks" & cylinders stand: Ketterwick Air & Cold'
    main = page.find("main")[0]
    assert "never in the van overnight" in text_of(main)
    assert [a.get("href") for a in main.iter() if local(a) == "a"] == ["../pump/"]
    other = everything.page("cases/index.html")
    for tag in ("header", "footer", "nav"):
        mine = [text_of(e) for e in page.find(tag) if e.get("class") != "page-head"]
        theirs = [
            text_of(e) for e in other.find(tag) if e.get("class") not in ("page-head", "crumbs", "chips")
        ]
        assert mine == theirs, tag
    assert "@@" not in everything.text("house/cylinders/index.html")


@pytest.mark.parametrize(
    ("page", "name", "words", "gone"),
    [
        ("failure-modes/flare-joint", "Flared joint, as we make it", "the bench by the window", "Tell-tales"),
        ("techniques/visual", "Eyes, as we use them", "a lamp from the side", "Reading the result"),
    ],
)
def test_the_company_s_own_guide_entry_wins(
    everything: Site, page: str, name: str, words: str, gone: str
) -> None:
    entry = everything.page(f"guide/{page}/index.html")
    assert text_of(entry.find("h1")[0]) == name
    assert words in entry.text
    assert gone not in entry.text, "neither its text nor a way to it"
    assert gone in everything.page(f"guide/{page.split('/')[0]}/{OTHER[page]}/index.html").text
    assert name in everything.page(f"guide/{page.split('/')[0]}/index.html").text
    assert not [f for f in everything.files if f.startswith(f"house/{page.split('/')[0]}")]


def test_a_photo_is_made_for_the_page_and_described(everything: Site) -> None:
    page = everything.page("cases/KW-2025-002/index.html")
    (image,) = page.find("img")
    assert re.fullmatch(r"../../photos/KW-2025-002/port-640-[0-9a-f]{8}\.jpg", image.get("src"))
    assert image.get("alt") == 'The port without its "cap" & core'
    told = [image.get(name) for name in ("width", "height", "loading", "decoding")]
    assert told == ["640", "400", "lazy", "async"]
    assert local(image.getparent()) == "picture"
    (source,) = page.find("source")
    assert source.getnext() is image
    assert source.get("type") == "image/avif"
    assert source.get("sizes")
    sizes = {}
    for part in source.get("srcset").split(", "):
        address, width = part.split(" ")
        with Image.open(everything.folder / "cases/KW-2025-002" / address) as picture:
            assert picture.format == "AVIF"
            assert f"{picture.width}w" == width
            sizes[width] = picture.size
    assert sizes == {"480w": (480, 300), "640w": (640, 400)}


def test_no_original_of_a_photo_is_published(everything: Site) -> None:
    files = [f for f in everything.files if f.startswith("photos/")]
    assert len(files) == 3, "nor a picture that no record names"
    for file in everything.files:
        data = (everything.folder / file).read_bytes()
        assert b"taken behind the bar" not in data, file
        assert b"its bytes are its own" not in data, file
    assert (everything.folder.parent / ".cache/photos").is_dir()


def test_only_pages_data_and_photos_are_published(everything: Site) -> None:
    """Nothing of the library's own files slips out beside what is meant to be there."""
    strange = [
        f
        for f in everything.files
        if not re.fullmatch(
            r"(.*/)?index\.html|404\.html|(sitemap|feed)\.xml|css/leaklore\.css|js/(\w+/)*\w+\.m?js|js/vega-bundle\.(js|LICENSE\.txt)|img/\w+\.svg"
            r"|data/search/(model|words)\.json|data/search/facets\.bin|data/search/(terms/\d+\.bin|hits/(\d+|guide)\.json)"
            r"|worker\.js|app\.webmanifest|icons/app-[\w-]+\.png|data/packs/(core|cases)-[a-z-]+-\d+\.pack"
            r"|data/patterns/([\w-]+\.csv|patterns\.xlsx)|data/learn/(\w+|unknown/[A-Z]+-\d+-\d+)\.json"
            r"|data/[\w-]+\.(json|csv)|data/schema/\w+\.schema\.json|data/cases/[A-Z]+-\d+-\d+\.json|data/records/[A-Z]+-\d+-\d+\.tar\.gz"
            r"|photos/[A-Z]+-\d+-\d+/[\w.-]+-\d+-[0-9a-f]{8}\.(avif|jpg)",
            f,
        )
    ]
    assert strange == []
    source = everything.folder.parent / "cases"
    assert records_of(everything) == {
        p.stem: p.read_text("utf-8") for p in (source / "records").rglob("*.yaml")
    }


def test_a_company_s_own_fragment_wins_and_the_rest_is_ours(workshop: Workshop) -> None:
    theme = workshop.folder / "theme"
    (theme / "fragments/leaklore").mkdir(parents=True)
    (theme / "css").mkdir()
    (theme / "fragments/leaklore/missing.html").write_text(
        '<main class="page" id="text"><h1>Ask the office</h1></main>', "utf-8"
    )
    (theme / "css/zz-ours.css").write_text(".ours { color: teal; }\n", "utf-8")
    config = write_config(workshop.folder, workshop.library, theme)
    site = Site(built(config))
    assert text_of(site.page("404.html").find("h1")[0]) == "Ask the office"
    now = tree(site.folder)
    assert {f for f in now if now[f] != workshop.before.get(f)} == {
        "404.html",
        "css/leaklore.css",
        *("data/packs/core-lists-1.pack", "data/packs/core-parts-1.pack", "data/offline.json", "worker.js"),
    }
    assert now["css/leaklore.css"].endswith(b".ours { color: teal; }\n")
    assert sorted(now) == sorted(workshop.before)


# Text that wants to be markup.

HOSTILE = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '" onmouseover="alert(1)" x="',
    "' onfocus='alert(1)' autofocus='",
    "</textarea></title></style></script><b>bold</b>",
    "<!-- --><svg onload=alert(1)><![CDATA[ ]]>",
    "@@BODY@@ @@ROOT@@ @@AT:cases@@ @@BANNER@@",
    "{{ 7*7 }} {% raw %} {# gone #}",
    "[press](javascript:alert(1)) <javascript:alert(2)>",
    "![see](javascript:alert(1)) [d](data:text/html,x)",
    "[v](vbscript:x) [j](JavaScript&colon;alert(1))",
    "</td></tr></table></main><h1>over</h1>",
]
DECODED = {"&colon;": ":"}
"""Markdown reads entities, so that prose shows what they stand for."""


def _case(number: int, text: str) -> dict[str, Any]:
    """A record with the text in every field that takes prose."""
    return {
        **CASE,
        "id": f"KW-2025-{number:03d}",
        "title": f"Title {text}",
        "system": "S-0001",
        "equipment": {"family": text[:20]},
        "search": [{**step, "note": f"Step {text}"} for step in CASE["search"]],
        "readings": [
            {
                "at": "indoor-flare",
                "by": "infrared-detector",
                "value": "85 ppm",
                "background": "1 ppm",
                "note": f"Reading {text}",
            }
        ],
        "photos": [{"file": "a.jpg", "caption": f"Caption {text}"}],
        "follow_up": [{"date": "2025-03-05", "result": "holding", "note": f"Follow {text}"}],
        "lesson": f"Lesson {text}",
        "advice": f"Advice {text}",
        "story": f"Story {text}\n\n> Quoted {text}\n\n- Item {text}\n\n## Heading {number}\n\nAfter.",
        **({"withdrawn": {"date": "2025-03-06", "why": f"Why {text}"}} if number % 2 else {}),
    }


def _hostile(folder: Path, texts: list[str]) -> Site:
    """A library in which every text is one of `texts`; the company, its sites and lists take the first ones."""
    # its name stands in the shell, which is drawn before the pages: slots in it would be the company's own joke
    a, b, c = (texts[i] for i in (0, 2, 4))
    library = library_of(
        folder / "cases",
        *(_case(i + 1, text) for i, text in enumerate(texts)),
        company={"name": f"Name {a} {b}", "about": f"About {b} {c}"},
    )
    site = {"key": "row", "name": f"Site {a}", "branch": "Ketterwick", "setting": "residential"}
    system = {"site": "row", "kind": "ductless-split", "refrigerant": "R-32", "installed": "2020-05"}
    write_yaml(
        library / "systems.yaml",
        {
            "sites": [{**site, "batch": f"Batch {b}", "note": f"Note {c}"}],
            "systems": [
                {
                    **system,
                    "id": f"S-{i + 1:04d}",
                    "name": f"System {text}",
                    "charge": "1.1 kg",
                    "family": text[:20],
                    "line_set": {"route": "wall-chase", "liquid": text[:16], "suction": text[-16:]},
                    "note": f"Note {text}",
                }
                for i, text in enumerate(texts)
            ],
        },
    )
    for i, text in enumerate(texts):
        write_yaml(
            library / "reading" / f"list-{i}.yaml",
            {
                "key": f"list-{i}",
                "title": f"List {text}",
                "for": f"For {text}",
                "level": "apprentice",
                "able_to": [f"Able {text}"],
                "items": [{"read": "case:KW-2025-001", "why": f"Because {text}"}],
            },
        )
        photo = library / "photos" / f"KW-2025-{i + 1:03d}" / "a.jpg"
        photo.parent.mkdir(parents=True)
        photo.write_bytes(PHOTO)
    return Site(built(write_config(folder, library)))


@pytest.fixture(scope="session")
def twins(tmp_path_factory: pytest.TempPathFactory) -> tuple[Site, Site]:
    """Two libraries that differ in their words alone: hostile ones, and plain ones."""

    def make(folder: Path) -> None:
        plain = [f"plain words of number {i}" for i in range(len(HOSTILE))]
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(_hostile, [folder / "hostile", folder / "plain"], [HOSTILE, plain]))

    folder = once(tmp_path_factory, "twins", make)
    return site_at(folder / "hostile/site"), site_at(folder / "plain/site")


def hostile_pages(site: Site) -> list[str]:
    """Pages on which more than the company's name is hostile."""
    return [u for u in site.urls if not u.startswith("guide/") or "Title" in site.text(u)]


def test_hostile_text_never_becomes_markup(twins: tuple[Site, Site]) -> None:
    hostile, plain = twins
    assert hostile.urls == plain.urls
    sheets = [u for u in hostile_pages(hostile) if u.startswith("for-customers/")]
    for page in map(
        hostile.page, sheets
    ):  # they say where hostile advice was left out, so that the shape differs
        assert not page.find("script", "img", "b", "svg", "style")[
            len(plain.page(page.url).find("script", "img", "b", "svg", "style")) :
        ], page.url
        assert not [e for e in page.elements for name in e.attrib if str(name).startswith("on")], page.url
    urls = [u for u in hostile_pages(hostile) if u not in sheets]
    assert len(urls) > 50
    mine, theirs = shape(hostile, urls), shape(plain, urls)
    faults = []
    for url in urls:
        for got, wanted in zip(mine[url], theirs[url], strict=False):
            if got != wanted:
                faults.append(f"{url}: {got} instead of {wanted}")
                break
        else:
            if len(mine[url]) != len(theirs[url]):
                faults.append(f"{url}: {len(mine[url])} elements instead of {len(theirs[url])}")
    assert not faults, tell(faults, 10)


def test_hostile_pages_are_well_formed(twins: tuple[Site, Site]) -> None:
    site = twins[0]
    faults = [
        f"{u}: {told}"
        for u in hostile_pages(site)
        for check in (parse_faults, *CHECKS)
        for told in check(site.strict(u))
    ]
    assert not faults, tell(faults)


@pytest.mark.parametrize("number", range(1, len(HOSTILE) + 1))
def test_hostile_text_is_shown_as_it_was_written(twins: tuple[Site, Site], number: int) -> None:
    text = HOSTILE[number - 1]
    shown = text
    for entity, sign in DECODED.items():
        shown = shown.replace(entity, sign)
    page = twins[0].page(f"cases/KW-2025-{number:03d}/index.html")
    words = ["Title", "Story", "Quoted", "Item", "Step", "Reading", "Follow", "Lesson", "Advice", "Caption"]
    if number % 2:
        words.append("Why")
    for word in words:
        said = f"{word} {shown if word != 'Caption' else text}"
        assert said in page.text, word
    (image,) = page.find("img")
    assert image.get("alt") == f"Caption {text}"
    assert f"System {text}" in twins[0].page(f"systems/S-{number:04d}/index.html").text
    reading = twins[0].page(f"reading/list-{number - 1}/index.html").text
    for said in (f"List {shown}", f"For {shown}", f"Able {shown}", f"Because {shown}"):
        assert said in reading


def test_hostile_names_of_the_company_are_text(twins: tuple[Site, Site]) -> None:
    name = f"Name {HOSTILE[0]} {HOSTILE[2]}"
    for page in map(twins[0].page, hostile_pages(twins[0])):
        assert name in page.text, page.url
        assert name in text_of(page.find("title")[0]), page.url
    (about,) = [m for m in twins[0].page("index.html").find("meta") if m.get("name") == "description"]
    assert about.get("content").startswith(f"About {HOSTILE[2]} {HOSTILE[4]}")


def test_hostile_text_stays_whole_in_the_data(twins: tuple[Site, Site]) -> None:
    site = twins[0]
    records = site.cases
    assert sorted(r["title"] for r in records) == sorted(f"Title {text}" for text in HOSTILE)
    rows = list(csv.DictReader(io.StringIO(site.text("data/cases.csv"), newline="")))
    assert [r["title"] for r in sorted(rows, key=lambda r: r["id"])] == [r["title"] for r in records]
    ET.fromstring(site.text("feed.xml"))
    ET.fromstring(site.text("sitemap.xml"))


def test_an_address_of_its_own_stands_in_feed_and_sitemap(tmp_path: Path) -> None:
    library_of(tmp_path / "cases", CASE, company={"site_url": "https://leaks.example/sub/"})
    site = Site(built(write_config(tmp_path, tmp_path / "cases")))
    sitemap = ET.fromstring(site.text("sitemap.xml"))
    places = [e.text or "" for e in sitemap.iter("{http://www.sitemaps.org/schemas/sitemap/0.9}loc")]
    assert len(places) == len(site.urls) - 3, (
        "all but 404.html, the page that a phone shows without signal and one that has moved"
    )
    assert all(p.startswith("https://leaks.example/sub/") for p in places)
    assert "https://leaks.example/sub/cases/KW-2025-001/" in site.text("feed.xml")
    lost = {
        a
        for _, a in addresses(site.page("404.html"))
        if not a.startswith(("#", "https://leaks.example/sub/"))
    }
    assert lost == set(), "the page for lost readers leads to the site from any depth"
