"""Packages: structure by the published standards, nothing from elsewhere, nothing that leads nowhere.

cmi5: section 13 of cmi5_spec.md (AICC/CMI-5_Spec_Current, quartz) with the schema CourseStructure.xsd that it prints: order
and number of elements, names and values of attributes as written there. SCORM 1.2: IMS Content Packaging 1.1.2 and the
ADL extensions, from memory.
"""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as Tree
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from click.testing import CliRunner

from leaklore.cli import main
from leaklore.pages.learn import export, package
from leaklore.website import write
from site_fixture import FLARE

from .courses import KEYS, book, course, library

CMI5 = "{https://w3id.org/xapi/profiles/cmi5/v1/CourseStructure.xsd}"
IMS = "{http://www.imsproject.org/xsd/imscp_rootv1p1p2}"
ADL = "{http://www.adlnet.org/xsd/adlcp_rootv1p2}"
MOVE_ON = {"NotApplicable", "Passed", "Completed", "CompletedAndPassed", "CompletedOrPassed"}


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The library with the list `course`."""
    return library(tmp_path_factory.mktemp("course"))


def tags(element: Tree.Element) -> list[str]:
    """Names of the children."""
    return [child.tag for child in element]


def test_cmi5_xml_has_what_the_schema_asks_in_its_order(cases: Path) -> None:
    root = Tree.fromstring(course(cases, "cmi5")["cmi5.xml"])
    assert root.tag == f"{CMI5}courseStructure"
    assert tags(root) == [f"{CMI5}course", *[f"{CMI5}au"] * len(KEYS)]
    head, *units = root
    assert tags(head) == [f"{CMI5}title", f"{CMI5}description"]
    for unit in units:
        assert tags(unit) == [f"{CMI5}title", f"{CMI5}description", f"{CMI5}url"]
        assert set(unit.attrib) <= {"id", "moveOn", "masteryScore", "launchMethod", "activityType"}
        assert unit.attrib["moveOn"] in MOVE_ON
        assert unit.attrib["launchMethod"] in ("AnyWindow", "OwnWindow")
        assert 0 <= float(unit.attrib.get("masteryScore", "0")) <= 1
        url = unit.findtext(f"{CMI5}url") or ""
        assert set(re.findall(r"[?&](\w+)=", url)).isdisjoint(
            {"endpoint", "fetch", "actor", "registration", "activityId"}
        )
    for words in (e for part in root for e in part if e.tag != f"{CMI5}url"):
        assert tags(words) == [f"{CMI5}langstring"]
        assert words[0].attrib == {"lang": "en-US"}
        assert words[0].text
    names = [element.attrib["id"] for element in root]
    assert len(set(names)) == len(names)
    assert all(re.match(r"(https?:|urn:)", name) for name in names)
    assert [u.attrib["moveOn"] for u in units] == ["Completed"] * 3 + ["CompletedAndPassed"]
    assert [u.attrib.get("masteryScore") for u in units] == [None, None, None, "0.7"]


def test_imsmanifest_has_one_object_with_every_file(cases: Path) -> None:
    files = course(cases, "scorm12")
    root = Tree.fromstring(files["imsmanifest.xml"])
    assert root.tag == f"{IMS}manifest"
    assert {"identifier", "version"} <= set(root.attrib)
    assert tags(root) == [f"{IMS}metadata", f"{IMS}organizations", f"{IMS}resources"]
    assert [(e.tag, e.text) for e in root[0]] == [
        (f"{IMS}schema", "ADL SCORM"),
        (f"{IMS}schemaversion", "1.2"),
    ]
    (organization,) = root[1]
    assert root[1].attrib["default"] == organization.attrib["identifier"]
    assert tags(organization) == [f"{IMS}title", f"{IMS}item"]
    item = organization[1]
    assert tags(item) == [f"{IMS}title", f"{ADL}masteryscore"]
    assert (item.findtext(f"{IMS}title"), item.findtext(f"{ADL}masteryscore")) == (
        "Course of <b>things</b> & such",
        "70",
    )
    (resource,) = root[2]
    assert resource.attrib["identifier"] == item.attrib["identifierref"]
    assert (resource.attrib["type"], resource.attrib[f"{ADL}scormtype"]) == ("webcontent", "sco")
    listed = [file.attrib["href"] for file in resource]
    assert sorted(listed) == sorted(set(files) - {"imsmanifest.xml"})
    assert resource.attrib["href"] in listed


def test_a_list_without_exercises_asks_for_no_points(cases: Path) -> None:
    manifest = course(cases, "scorm12", "first-week")["imsmanifest.xml"]
    assert b"masteryscore" not in manifest
    units = Tree.fromstring(course(cases, "cmi5", "first-week")["cmi5.xml"]).findall(f"{CMI5}au")
    assert {u.attrib["moveOn"] for u in units} == {"Completed"}


def test_a_search_that_failed_does_not_shut_the_course(tmp_path: Path) -> None:
    """Its first try counts and its answer is told, so that nobody could pass it later."""
    cases = library(tmp_path)
    (cases / "records" / "2025" / "KW-2025-099.yaml").write_text(FLARE, "utf-8")
    file = cases / "reading" / "course.yaml"
    file.write_text(file.read_text("utf-8") + '  - {read: "unknown:KW-2025-099", why: A search.}\n', "utf-8")
    units = Tree.fromstring(course(cases, "cmi5")["cmi5.xml"]).findall(f"{CMI5}au")
    asked = [(u.attrib["moveOn"], u.attrib.get("masteryScore")) for u in units[-2:]]
    assert asked == [("CompletedAndPassed", "0.7"), ("Completed", "0.7")]


class Addresses(HTMLParser):
    """Every address that a page names, and inline script or style."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.inline: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.found += [v for k, v in given.items() if k in ("href", "src") and v]
        if (
            tag == "style"
            or (tag == "script" and "src" not in given)
            or any(k.startswith("on") or k == "style" for k in given)
        ):
            self.inline.append(tag)


@pytest.mark.parametrize("standard", ["cmi5", "scorm12"])
def test_nothing_leads_out_or_nowhere(cases: Path, standard: export.Standard) -> None:
    files = course(cases, standard)
    for path, content in files.items():
        if not path.endswith(".html"):
            continue
        read = Addresses()
        read.feed(content.decode())
        assert read.inline == [], path
        for to in read.found:
            if to.startswith(("#", "data:")):
                continue
            full = urlsplit(urljoin(f"http://here/{path}", to))
            assert full.netloc == "here", (path, to)
            assert full.path.lstrip("/") in files, (path, to)
        policy = re.search(rb'Content-Security-Policy" content="([^"]*)"', content)
        assert policy is not None
        assert b"default-src 'none'" in policy[1]
        wide = path == "index.html" and standard == "cmi5"
        assert (b"http" in policy[1]) == wide, path


@pytest.mark.parametrize("standard", ["cmi5", "scorm12"])
def test_every_module_finds_what_it_imports(cases: Path, standard: export.Standard) -> None:
    files = course(cases, standard)
    modules = [path for path in files if path.startswith("js/")]
    assert f"js/package/{standard}_page.js" in modules
    assert {Path(path).suffix for path in modules} == {".js"}, "systems may not know another ending"
    for path in modules:
        code = "\n".join(r for r in files[path].decode().splitlines() if not r.lstrip().startswith("//"))
        for near in re.findall(r'(?:from |import |import\()"(\.[^"]+)"', code):
            assert urlsplit(urljoin(f"http://here/{path}", near)).path.lstrip("/") in files, (path, near)


def test_the_items_are_those_of_the_list(cases: Path) -> None:
    files = course(cases, "cmi5")
    told = json.loads(files["contents.json"])
    assert tuple(item["key"] for item in told["items"]) == KEYS
    assert [item["scored"] for item in told["items"]] == [False, False, False, True]
    for item in told["items"]:
        assert item["url"].partition("?")[0] in files


def test_two_packages_are_byte_equal(cases: Path) -> None:
    first, again = (export.made(book(cases), "course", "cmi5") for _ in range(2))
    assert first == again
    assert first[0] == "course.cmi5.zip"


def test_styles_are_those_of_the_site_in_its_order() -> None:
    assert tuple(name for name in write.CSS if name in package.STYLES) == package.STYLES


def test_the_command_writes_both_and_says_what_is_wrong(cases: Path, tmp_path: Path) -> None:
    run = CliRunner()
    here = ["--cases", str(cases)]
    done = run.invoke(main, ["export", "--cmi5", "--scorm12", "course", "-o", str(tmp_path), "--json", *here])
    assert done.exit_code == 0, done.output
    assert sorted(p.name for p in tmp_path.iterdir()) == ["course.cmi5.zip", "course.scorm12.zip"]
    assert "say which package" in run.invoke(main, ["export", "course", *here]).output
    assert 'did you mean "course"' in run.invoke(main, ["export", "--cmi5", "cuorse", *here]).output
    assert (
        "there is no folder"
        in run.invoke(main, ["export", "--cmi5", "course", "-o", "/no/such", *here]).output
    )
