"""A site for customers or crews holds, in none of its files, a word that its audience may not see; and what it may is there.

Every text that a schema lets a company write carries a word of its own, so that a new field is under test by itself.
"""

from __future__ import annotations

import gzip
import io
import json
import re
import shutil
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from leaklore.records.audience import KINDS, lowest
from leaklore.records.model import AUDIENCES, Audience
from site_fixture import Site, once, run, tell, tree, write_config

from .audience_library import WORD, Planted, Where, make, texts
from .links import addresses, fault

LESS: tuple[Audience, ...] = ("customer", "crew")
NEVER: Mapping[Where, str] = {
    ("company", "refrigerant_price"): "what was lost is priced by it; the price itself is not told",
    ("system", "systems/note"): "is for whoever keeps the register",
}
"""Texts that no site shows."""
AS_WRITTEN = {("case", "equipment/line_set/liquid"), ("case", "equipment/line_set/suction")}
"""Texts that stand only in the records as they were written, which none but "all" may see whole."""
FORM = "record/index.html"
"""Says how money is written, by the examples of the schema."""
MONEY = re.compile(r"\$\s?\d|\d\s?USD\b|\bUSD\s?\d")


@dataclass(frozen=True)
class Sites:
    """One library's sites, built one after the other into the same folder."""

    folder: Path
    words: Mapping[Where, list[str]]

    def site(self, name: str) -> Site:
        return Site(self.folder / f"site-{name}")


def _build(folder: Path) -> None:
    library, planted = make(folder)
    config = write_config(folder, library)
    orders: list[tuple[str, list[str]]] = [("plain", []), ("customer", ["--audience", "customer"])]
    orders += [("crew", ["--audience", "crew"]), ("all", ["--audience", "all"])]
    for name, options in orders:
        done = run("leaklore", "build", "--config", config, *options, cwd=folder)
        assert done.returncode == 0, done.stderr
        shutil.copytree(folder / "site", folder / f"site-{name}")
    told = [[kind, place, words] for (kind, place), words in planted.words.items()]
    (folder / "planted.json").write_text(json.dumps(told), "utf-8")


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Sites:
    """The library built without the option, for customers, for crews and for all."""
    folder = once(tmp_path_factory, "audience", _build)
    told = json.loads((folder / "planted.json").read_text("utf-8"))
    return Sites(folder, {(kind, place): words for kind, place, words in told})


def unpacked(content: bytes) -> Iterator[bytes]:
    """A file and whatever is packed in it."""
    yield content
    if content[:2] == b"\x1f\x8b":
        yield from unpacked(gzip.decompress(content))
    if content[:4] == b"PK\x03\x04":
        with zipfile.ZipFile(io.BytesIO(content)) as box:
            for name in box.namelist():
                yield name.encode()
                yield from unpacked(box.read(name))


def found(site: Site) -> dict[str, str]:
    """Each planted word or amount in the site -> a file in which it stands, its path included."""
    out: dict[str, str] = {}
    for path, content in tree(site.folder).items():
        for part in (path.encode(), *unpacked(content)):
            text = part.decode("latin-1")
            for word in WORD.findall(text):
                out.setdefault(word.lower(), path)
            for amount in re.findall(r"(?<!\d)7\d\d,?\d\d\d(?!\d)", text):
                out.setdefault(amount.replace(",", ""), path)
    return out


def sees(audience: Audience, where: Where) -> bool:
    kind, place = where
    return AUDIENCES.index(audience) >= AUDIENCES.index(lowest(kind)[place])


def test_every_text_of_every_schema_is_planted(sites: Sites) -> None:
    assert {(kind, place) for kind in KINDS for place in texts(kind)} == set(sites.words)


@pytest.mark.parametrize("audience", LESS)
def test_nothing_that_the_audience_may_not_see_is_in_any_file(sites: Sites, audience: Audience) -> None:
    there = found(sites.site(audience))
    hidden = [where for where in sites.words if not sees(audience, where)]
    crews = ("company", "crews/key")
    named = set(sites.words["system", "systems/crew"]) if sees(audience, crews) else set()
    faults = [
        f"{where}: {word} in {there[word]}"
        for where in hidden
        for word in sites.words[where]
        if word in there and word not in named  # a crew is known by name where the list of crews is
    ]
    assert len(hidden) >= 5
    assert not faults, tell(faults)


@pytest.mark.parametrize("audience", AUDIENCES)
def test_what_the_audience_may_see_is_there(sites: Sites, audience: Audience) -> None:
    there = found(sites.site(audience))
    faults = []
    for where, words in sites.words.items():
        expected = sees(audience, where) and where not in NEVER
        expected = expected and (audience == "all" or where not in AS_WRITTEN)
        if expected:
            faults += [f"{where}: {word}" for word in words if word not in there]
        elif sees(audience, where):
            faults += [f"{where}: {word} is there after all" for word in words if word in there]
    assert not faults, tell(faults)


def test_who_installed_is_told_to_all_only(sites: Sites) -> None:
    (crew,) = sites.words["system", "systems/crew"]
    for audience in AUDIENCES:
        site = sites.site(audience)
        rows = {row["system"]: row["crew"] for row in site.records("data/systems.json", "systems")}
        assert rows["S-0001"] == (crew if audience == "all" else None)
        assert (crew in site.text("systems/S-0001/index.html")) == (audience == "all")


@pytest.mark.parametrize("audience", LESS)
def test_no_amount_of_the_companys_money_is_told(sites: Sites, audience: Audience) -> None:
    case = "cases/KW-2025-014/index.html"
    assert MONEY.search(sites.site("all").page(case).text), "the pattern knows how money is written"
    site = sites.site(audience)
    faults = [url for url in site.urls if url != FORM and MONEY.search(site.page(url).text)]
    assert not faults, tell(faults)
    for row in site.cases:
        assert row["search_cost"] is None
        assert row["repair_cost"] is None


@pytest.mark.parametrize("audience", LESS)
def test_every_link_leads_somewhere(sites: Sites, audience: Audience) -> None:
    site = sites.site(audience)
    faults = [
        f"{page.url}: <{name}> {address!r} {wrong}"
        for page in site.pages
        for name, address in addresses(page)
        if (wrong := fault(site, page.url, address, from_root=page.url == "404.html"))
    ]
    assert not faults, tell(faults)
    assert len(site.urls) > 100


@pytest.mark.parametrize("audience", LESS)
def test_the_foot_says_for_whom_it_is(sites: Sites, audience: Audience) -> None:
    word = {"customer": "Made for customers:", "crew": "Made for crews:"}[audience]
    assert word in sites.site(audience).page("index.html").text
    assert "Made for" not in sites.site("all").page("index.html").text


def test_how_was_searched_is_not_in_a_customers_data(sites: Sites) -> None:
    """Techniques and minutes are no words of ours, so the search for words does not find them."""
    hidden = ("crew", "family", "search_minutes", "minutes_to_find")
    full, customer = ({row["id"]: row for row in sites.site(a).cases} for a in ("all", "customer"))
    assert full.keys() == customer.keys()
    for number, row in customer.items():
        assert row["search"] == []
        assert full[number]["search"]
        assert {row[key] for key in hidden} == {None}, number
        assert (row["mode"], row["symptoms"]) == (full[number]["mode"], full[number]["symptoms"])
    told = json.loads(sites.site("customer").text("data/techniques.json"))
    assert {(t["used"], t["missed"], t["false_alarms"]) for t in told["techniques"]} == {(0, 0, 0)}
    page = sites.site("customer").page("cases/KW-2025-014/index.html").text
    assert "Found after" not in page
    assert "First taken for" not in page
    assert "Found after" in sites.site("all").page("cases/KW-2025-014/index.html").text


def test_parts_that_make_no_sense_are_left_out(sites: Sites) -> None:
    crew, customer = sites.site("crew").files, sites.site("customer").files
    full = sites.site("all").files
    for path in ("patterns/index.html", "data/costs.json", "reading/trainer/index.html"):
        assert path in full
        assert path not in crew | customer
    for path in ("bench/index.html", "record/index.html", "how-far-to-trust/index.html", "data/record.json"):
        assert path in full & crew
        assert path not in customer
    assert any(path.startswith("photos/") for path in crew)
    assert not any(path.startswith(("photos/", "house/", "data/records/")) for path in customer)


def test_a_site_for_all_is_the_same_as_one_without_the_option(sites: Sites) -> None:
    """It was built last, into the folder that held a site for crews, so nothing of that was taken over."""
    assert tree(sites.site("all").folder) == tree(sites.site("plain").folder)


def test_another_word_is_refused(tmp_path: Path) -> None:
    done = run("leaklore", "build", "--audience", "boss", cwd=tmp_path)
    assert done.returncode != 0
    assert "'boss' is not one of 'customer', 'crew', 'all'" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_search_for_words_looks_into_what_is_packed() -> None:
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("sheet.xml", "zqvbbx " * 50)
    assert any(WORD.search(part.decode("latin-1")) for part in unpacked(gzip.compress(box.getvalue())))
    assert not WORD.search(box.getvalue().decode("latin-1"))
    assert Planted().words == {}
