"""`leaklore init`: a library of one's own, from an empty folder to the page of its first case."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml
from playwright.sync_api import Browser, expect

from leaklore import start
from leaklore.errors import LeakloreError
from leaklore.records.check import check
from site_fixture import ENVIRONMENT, ROOT, Site, built, run, served, tell, tree
from website.links import addresses, fault

TODAY = dt.date(2026, 6, 1)
NAME = 'Osmere "Cold" & Söhne: Nord'
ASKED = start.Asked(NAME, "si", "EUR", 82.5, [start.Branch("Osmere", "OS"), start.Branch("Fen-Lane", "FEN")])
FIRST = ("cases/", "patterns/", "reading/", "systems/", "", "guide/", "search/", "branches/osmere/")
NONSENSE = re.compile(r"\b0 of 0\b|\b0 (repairs|groups|steps|systems at)\b|Only 0\b|not known yet|make site")


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new library, begun by the command and built."""
    folder = tmp_path_factory.mktemp("begun") / "our leaks"
    branches = ("--branch", "Osmere=OS", "--branch", "Fen-Lane=FEN")
    money = ("--units", "si", "--currency", "EUR", "--labour-rate", "82.5")
    done = run("leaklore", "init", folder, "--name", NAME, *money, *branches)
    assert (done.returncode, done.stderr) == (0, "")
    assert "README.md in it has the next three steps" in done.stdout
    built(folder / "mkdocs.yml")
    return folder


@pytest.fixture(scope="module")
def site(begun: Path) -> Site:
    return Site(begun / "site")


def test_what_was_asked_for_stands_in_the_settings(begun: Path) -> None:
    told = yaml.safe_load((begun / "cases/company.yaml").read_text("utf-8"))
    assert told == {
        "name": NAME,
        "units": "si",
        "currency": "EUR",
        "labour_rate": "82.5 EUR",
        "branches": [{"key": "Osmere", "prefix": "OS"}, {"key": "Fen-Lane", "prefix": "FEN"}],
        "crews": [],
    }
    assert yaml.safe_load((begun / "mkdocs.yml").read_text("utf-8"))["site_name"] == NAME
    readme = (begun / "README.md").read_text("utf-8")
    assert NAME in readme
    assert len(readme.splitlines()) < 60, "one page"
    named = set(re.findall(r"^\| `([^`]+)`", readme, re.MULTILINE))
    assert [n for n in named if not (begun / n).exists()] == ["cases/photos/"], "said to come later"


def test_a_new_library_passes_the_check(begun: Path) -> None:
    done = run("leaklore", "check", cwd=begun)
    assert (done.returncode, done.stdout) == (0, "")
    assert "0 cases, 0 systems, 0 reading lists: no errors" in done.stderr


def test_only_what_can_be_made_again_is_kept_out_of_git(begun: Path, tmp_path: Path) -> None:
    work = shutil.copytree(begun, tmp_path / "work")
    (work / "site.lock").touch()
    shutil.copytree(work / "site", work / "site-customers")  # as docs/serving.md has it
    subprocess.run(["git", "init", "-q", work], check=True)
    told = subprocess.run(
        ["git", "-C", work, "ls-files", "-o", "--exclude-standard"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.splitlines()
    assert {name.split("/")[0] for name in told} == {
        *("mkdocs.yml", "cases", "README.md", "example-case.yaml", "theme", "schema", ".gitignore")
    }
    assert f"cases/records/{dt.date.today().year}/.gitkeep" in told, "git keeps no empty folder"


def test_its_site_says_how_to_begin_and_no_page_leads_nowhere(site: Site) -> None:
    for url in ("index.html", "cases/index.html"):
        page = site.page(url)
        assert "No case yet" in page.text
        assert "leaklore new" in page.text
        assert any(address.endswith("record/") for _, address in addresses(page)), url
    assert "No system yet" in site.page("systems/index.html").text
    assert "No list yet" in site.page("reading/index.html").text
    assert "What this section needs" in site.page("patterns/index.html").text
    pages = [site.page(url) for url in site.urls]
    faults = [
        f"{page.url}: {address}"
        for page in pages
        for _, address in addresses(page)
        if fault(site, page.url, address, from_root=page.url == "404.html")
    ]
    faults += [f"{page.url}: {hit[0]}" for page in pages if (hit := NONSENSE.search(page.text))]
    assert not faults, tell(faults)


def test_what_others_wrote_comes_with_its_licence_and_a_link_to_it(site: Site) -> None:
    """Also where no leak is drawn yet, for the charts' library is shipped all the same."""
    theirs = {f for f in site.files if f.startswith("js/vega-bundle")}
    assert theirs == {"js/vega-bundle.js", "js/vega-bundle.LICENSE.txt"}
    links = [address for _, address in addresses(site.page("patterns/explore/index.html"))]
    assert "../../js/vega-bundle.LICENSE.txt" in links
    code = [f for f in site.files - theirs if f.endswith((".js", ".mjs", ".css"))]
    assert len(code) > 30
    assert [
        f for f in code if re.search(r"licen[cs]e|copyright|@preserve", site.text(f), re.IGNORECASE)
    ] == []
    assert [f for f in site.files if f.endswith((".woff", ".woff2", ".ttf", ".otf"))] == []


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 900)])
def test_its_site_fits_the_screen(site: Site, browser: Browser, width: int, height: int) -> None:
    wrong: list[str] = []
    with served(site.folder) as address:
        context = browser.new_context(viewport={"width": width, "height": height}, service_workers="block")
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("response", lambda r: wrong.append(f"{r.status} {r.url}") if r.status >= 400 else None)
        for url in FIRST:
            page.goto(address + url)
            if (wide := page.evaluate("document.documentElement.scrollWidth")) > width:
                wrong.append(f"{url}: {wide} wide")
        context.close()
    assert not wrong


def test_opened_as_a_file_it_says_what_does_not_work_and_its_links_lead_to_pages(
    site: Site, browser: Browser
) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto((site.folder / "index.html").as_uri())
    expect(page.get_by_role("heading", name="Opened as a file")).to_be_visible()
    for place, title in (("Guide", "What leaks, how to find it"), ("Cases", "All cases")):
        page.get_by_role("navigation", name="Places").get_by_role("link", name=place).click()
        expect(page.get_by_role("heading", level=1)).to_contain_text(title)
        expect(page.locator(".banner")).to_have_count(1)
    with served(site.folder) as address:
        page.goto(address)
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        assert page.locator(".banner").count() == 0
    context.close()


def test_the_first_case_by_hand_gets_its_page(begun: Path, tmp_path: Path) -> None:
    work = shutil.copytree(begun, tmp_path / "work")
    example = work / "example-case.yaml"
    number = yaml.safe_load(example.read_text("utf-8"))["id"]
    year = number.split("-")[1]
    said = (work / "README.md").read_text("utf-8")
    assert f"cases/records/{year}/{number}.yaml" in said, "the page on the next steps names the file"
    record = work / "cases/records" / year / f"{number}.yaml"
    shutil.copy(example, record)
    done = run("leaklore", "check", cwd=work)
    assert (done.returncode, done.stdout) == (0, "")
    after = Site(built(work / "mkdocs.yml"))
    assert "Flare on a wall unit weeps" in after.page(f"cases/{number}/index.html").text
    assert "No case yet" not in after.page("index.html").text
    assert number in after.page("cases/index.html").text


def test_the_examples_in_comments_are_right(tmp_path: Path) -> None:
    start.start(tmp_path / "new", ASKED, TODAY)
    for name, empty in (("systems.yaml", r"^(sites|systems): \[\]\n"), ("company.yaml", r"^crews: \[\]\n")):
        file = tmp_path / "new/cases" / name
        text = re.sub(empty, "", file.read_text("utf-8"), flags=re.MULTILINE)
        text = re.sub(r"^.*: (- \{key: K1.*)$", r"crews:\n  \1", text, flags=re.MULTILINE)
        text, keys = re.subn(r"^# ((?:[a-z_]+:|  - ).*)$", r"\1", text, flags=re.MULTILINE)
        assert keys >= 3, text
        file.write_text(text, "utf-8")
    result = check(tmp_path / "new/cases", today=TODAY)
    assert [p.text() for p in result.problems] == []
    assert result.library is not None
    assert list(result.library.systems) == ["S-0001"]
    assert list(result.library.company.crews) == ["K1"]
    assert result.library.company.site_url == "https://leaks.example/"


def test_what_lies_there_already_stays(tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "notes.txt").write_text("ours")
    start.start(tmp_path, ASKED, TODAY)
    assert (tmp_path / "notes.txt").read_text() == "ours"
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(
        [".git", "notes.txt", *{name.split("/")[0] for name in start.FILES}, "schema"]
    )


IN_THE_WAY: dict[str, Callable[[Path], object]] = {
    "mkdocs.yml": lambda at: (at / "mkdocs.yml").write_text("site_name: ours\n"),
    "README.md": lambda at: (at / "README.md").write_text("ours"),
    ".gitignore": lambda at: (at / ".gitignore").touch(),
    "cases": lambda at: (at / "cases" / "records").mkdir(parents=True),
    "company.yaml": lambda at: (at / "company.yaml").write_text("name: ours\n"),
    "records": lambda at: (at / "records").mkdir(),
    "schema": lambda at: (at / "schema").mkdir(),
    "theme": lambda at: (at / "theme").symlink_to("nowhere"),
}


@pytest.mark.parametrize("name", IN_THE_WAY)
def test_nothing_is_overwritten(name: str, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("ours")
    IN_THE_WAY[name](tmp_path)
    before, names = tree(tmp_path), sorted(p.name for p in tmp_path.iterdir())
    with pytest.raises(
        LeakloreError, match=rf'there is "{tmp_path}/{name}" already, and nothing was written'
    ):
        start.start(tmp_path, ASKED, TODAY)
    assert tree(tmp_path) == before
    assert sorted(p.name for p in tmp_path.iterdir()) == names


def test_a_second_time_is_refused_by_the_command(begun: Path) -> None:
    before = tree(begun / "cases")
    done = run("leaklore", "init", begun)
    assert done.returncode == 1
    assert done.stderr.startswith("leaklore: there is ")
    assert tree(begun / "cases") == before
    done = run("leaklore", "init", begun / "mkdocs.yml")
    assert (done.returncode, done.stderr) == (
        1,
        f'leaklore: "{begun / "mkdocs.yml"}" is a file; name a folder\n',
    )


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (
            ["--branch", "Osmere"],
            '"Osmere" is no branch with its prefix; write for example --branch Osmere=OS',
        ),
        (["--branch", "Osmere=o"], 'branches[0].prefix: "o" does not have the form wanted here'),
        (["--branch", "A=OS", "--branch", "B=OS"], 'branches[1].prefix: "OS" is used twice'),
        (["--currency", "euro"], 'currency: "euro" does not have the form wanted here'),
        (["--name", "X"], 'name: "X" is too short'),
        (["--language", "english"], 'language: "english" does not have the form wanted here'),
        (["--units", "metric"], "'metric' is not one of 'us', 'si'"),
        (["--labour-rate", "45,50"], '"45,50" is not a plain number; write for example 96 or 45.50'),
        (["--labour-rate=-1"], "-1.0 is not in the range x>=0"),
    ],
)
def test_an_option_that_does_not_fit_writes_nothing(options: list[str], told: str, tmp_path: Path) -> None:
    done = run("leaklore", "init", tmp_path / "new", *options)
    assert done.returncode in (1, 2)
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("there", [True, False])
def test_what_fails_half_way_leaves_the_folder_as_it_was(
    there: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "new"
    if there:
        folder.mkdir()
        (folder / "notes.txt").write_text("ours")
    moves: list[str] = []
    rename = Path.rename

    def fails(self: Path, target: Path) -> Path:
        moves.append(self.name)
        if len(moves) == 4:
            raise OSError(28, "No space left on device", str(target))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", fails)
    with pytest.raises(OSError, match="No space left"):
        start.start(folder, ASKED, TODAY)
    assert len(moves) == 4, "three had been moved already"
    assert tree(tmp_path) == ({"new/notes.txt": b"ours"} if there else {})
    assert folder.exists() == there


def test_an_installed_wheel_does_it_without_the_checkout(tmp_path: Path) -> None:
    """The wheel brings templates, scripts, styles, schemas and the texts of the starter."""
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    inside = tmp_path / "installed"
    zipfile.ZipFile(wheel).extractall(inside)
    paths = {**ENVIRONMENT, "PYTHONPATH": str(inside)}
    code = (
        "import sys; checkout = sys.argv.pop(1); sys.path = [p for p in sys.path if p != checkout]\n"
        "from leaklore.cli import main; main()"
    )

    def leaklore(*words: str | Path, cwd: Path) -> str:
        done = subprocess.run(
            [sys.executable, "-c", code, ROOT / "generator", *words],
            cwd=cwd,
            env=paths,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert leaklore("init", "new", cwd=tmp_path).startswith("new is a library now")
    assert re.match(r"2\d\d pages in ", leaklore("build", cwd=tmp_path / "new"))
    site = tmp_path / "new/site"
    assert (site / "worker.js").exists()
    assert (site / "css/leaklore.css").stat().st_size > 20_000
