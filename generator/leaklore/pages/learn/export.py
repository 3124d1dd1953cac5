"""A reading list as a package for a learning management system: cmi5, or SCORM 1.2.

Sources: cmi5 (quartz), section 13 of cmi5_spec.md and its schema CourseStructure.xsd, in the public repository
AICC/CMI-5_Spec_Current, read for this; IMS Content Packaging 1.1.2 and the SCORM 1.2 content aggregation model for
imsmanifest.xml, from memory. The schemas themselves are not put into the package.
"""

from __future__ import annotations

import datetime as dt
import io
import uuid
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree as Tree

from leaklore import whole
from leaklore.errors import LeakloreError
from leaklore.language import current, foreign, gettext, later
from leaklore.pages.book import Book
from leaklore.pages.learn.assign import listed
from leaklore.pages.learn.package import MASTERY, Package, inside_url, module, packed
from leaklore.pages.render import Templates

Standard = Literal["cmi5", "scorm12"]
CMI5 = "https://w3id.org/xapi/profiles/cmi5/v1/CourseStructure.xsd"
IMS = "http://www.imsproject.org/xsd/imscp_rootv1p1p2"
ADL = "http://www.adlnet.org/xsd/adlcp_rootv1p2"
ENGLISH = "en-US"
"""The tag of the language of packages where the pages speak English."""
MANIFESTS: Mapping[Standard, str] = {"cmi5": "cmi5.xml", "scorm12": "imsmanifest.xml"}
CONNECT: Mapping[Standard, str] = {"cmi5": "'self' https: http:", "scorm12": "'self'"}
"""Hosts that the player's page may talk to. Where the endpoint is, only the launch tells: js/package/cmi5.mjs narrows
it to the two hosts of the launch before the first request."""
SAYS: Mapping[str, str] = later(
    {
        "read": "Read",
        "done-of": "Done {score} of {of}",
        "not-yet": "Not yet",
        "not-sent": "The learning system did not take this ({why}). It is sent again with the next thing that you do.",
        "only-looking": "You look at this without credit: nothing is recorded.",
        "not-told": "The learning system did not take the end of this session. Press the button again in a moment.",
        "over": "Told to the learning system. This window can be closed.",
        "no-launch": "The learning system started this page without {what}. Start it again from there.",
        "no-token": "This start was used already. Close the window and start again from the learning system.",
        "no-system": "There is no learning system that answers. Start this course from there; nothing is recorded now.",
    }
)


def made(book: Book, key: str, standard: Standard, overrides: Path | None = None) -> tuple[str, bytes]:
    """File name and content of the package of a list. Raises LeakloreError where there is no such list."""
    listing = listed(book.library, key)
    templates = Templates(book, overrides)
    package = packed(listing, book, templates)
    player = templates.render(
        "package_player.html",
        "",
        title=package.title,
        connect=CONNECT[standard],
        script=f"{standard}_page",
        shown=[{"url": inside_url(s.url), "title": s.title} for s in package.shown],
        says=[(key, gettext(text)) for key, text in SAYS.items()],
    )
    files = {**package.files, "index.html": str(player).encode(), **module(f"package/{standard}_page")}
    manifest = cmi5(package, book) if standard == "cmi5" else scorm12(package, book, files)
    return f"{key}.{standard}.zip", _zip(
        {MANIFESTS[standard]: manifest, **dict(sorted(files.items()))}, book.today
    )


def write(folder: Path, name: str, data: bytes) -> Path:
    """Writes a package into a folder; one that is there is replaced at the end. Raises LeakloreError."""
    if not folder.is_dir():
        raise LeakloreError(f'there is no folder "{folder}"; make it first')
    try:
        whole.write(folder / name, data)
    except OSError as wrong:
        raise LeakloreError(f'"{folder / name}" can\'t be written ({wrong.strerror})') from None
    return folder / name


def iri(book: Book, key: str, item: str = "") -> str:
    """What names a list or its item in all systems: its address where the site has one, else a UUID made of names."""
    company = book.library.company
    if company.site_url:
        return f"{company.site_url.rstrip('/')}/reading/{key}/" + (f"#{item}" if item else "")
    return uuid.uuid5(uuid.NAMESPACE_URL, f"leaklore/{company.name}/{key}/{item}").urn


def cmi5(package: Package, book: Book) -> bytes:
    """cmi5.xml: one assignable unit an item; a page moves on when completed, an exercise when passed, too.

    An unknown case has its verdict and moves on with either: its answer is told, so that only its first try counts.
    """
    key, listing = package.listing.key, package.listing
    root = Tree.Element("courseStructure", {"xmlns": CMI5})
    course = Tree.SubElement(root, "course", {"id": iri(book, key)})
    _words(course, "title", package.title)
    whom = gettext("{audience}. Reading list of {company}.")
    _words(
        course,
        "description",
        whom.format(audience=listing.audience, company=book.library.company.name),
    )
    for shown, scored in zip(package.shown, package.scored, strict=True):
        how = {"moveOn": "CompletedAndPassed" if scored and shown.item.kind != "unknown" else "Completed"}
        if scored:
            how["masteryScore"] = f"{MASTERY / 100:g}"
        au = Tree.SubElement(
            root, "au", {"id": iri(book, key, shown.item.name), "launchMethod": "AnyWindow", **how}
        )
        _words(au, "title", shown.title)
        about = gettext("{what}, about {minutes} min. {why}")
        text = about.format(what=shown.what, minutes=shown.minutes, why=shown.item.why)
        _words(au, "description", text.strip())
        Tree.SubElement(au, "url").text = f"index.html?item={shown.item.name}"
    return _xml(root)


def scorm12(package: Package, book: Book, files: Mapping[str, bytes]) -> bytes:
    """imsmanifest.xml: one sharable content object that holds the whole list."""
    key = package.listing.key
    name = "".join(c if c.isalnum() else "-" for c in key)
    root = Tree.Element(
        "manifest", {"identifier": f"leaklore-{name}", "version": "1.0", "xmlns": IMS, "xmlns:adlcp": ADL}
    )
    meta = Tree.SubElement(root, "metadata")
    Tree.SubElement(meta, "schema").text = "ADL SCORM"
    Tree.SubElement(meta, "schemaversion").text = "1.2"
    organizations = Tree.SubElement(root, "organizations", {"default": "list"})
    organization = Tree.SubElement(organizations, "organization", {"identifier": "list"})
    Tree.SubElement(organization, "title").text = package.title
    item = Tree.SubElement(
        organization, "item", {"identifier": "item-1", "identifierref": "resource-1", "isvisible": "true"}
    )
    Tree.SubElement(item, "title").text = package.title
    if any(package.scored):
        Tree.SubElement(item, "adlcp:masteryscore").text = str(MASTERY)
    resources = Tree.SubElement(root, "resources")
    resource = Tree.SubElement(
        resources,
        "resource",
        {"identifier": "resource-1", "type": "webcontent", "adlcp:scormtype": "sco", "href": "index.html"},
    )
    for path in sorted(files):
        Tree.SubElement(resource, "file", {"href": path})
    return _xml(root)


def _words(parent: Tree.Element, name: str, text: str) -> None:
    element = Tree.SubElement(parent, name)
    Tree.SubElement(element, "langstring", {"lang": current().tag if foreign() else ENGLISH}).text = text


def _xml(root: Tree.Element) -> bytes:
    Tree.indent(root)
    body: bytes = Tree.tostring(root, encoding="utf-8", xml_declaration=True)
    return body + b"\n"


def _zip(files: Mapping[str, bytes], day: dt.date) -> bytes:
    """Two packages of one library on one day are byte-equal."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for path, content in files.items():
            info = zipfile.ZipInfo(path, (max(1980, day.year), day.month, day.day, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            made.writestr(info, content)
    return out.getvalue()
