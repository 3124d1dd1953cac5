"""Where the links of a built site lead, and which of them lead nowhere."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator
from urllib.parse import unquote, urlsplit

from site_fixture import Document, Site, local

ADDRESSES = {
    "a": ("href",),
    "area": ("href",),
    "link": ("href",),
    "script": ("src",),
    "img": ("src",),
    "source": ("src",),
    "audio": ("src",),
    "video": ("src", "poster"),
    "iframe": ("src",),
    "form": ("action",),
    "button": ("formaction",),
    "input": ("formaction", "src"),
    "object": ("data",),
    "embed": ("src",),
    "use": ("href", "xlink:href", "{http://www.w3.org/1999/xlink}href"),
    "image": ("href", "xlink:href", "{http://www.w3.org/1999/xlink}href"),
    "blockquote": ("cite",),
}
POINTERS = (
    "for",
    "aria-labelledby",
    "aria-describedby",
    "aria-controls",
    "aria-owns",
    "headers",
    "list",
    "form",
)
CSS_ADDRESS = re.compile(r"""url\(\s*["']?([^"')]+)["']?\s*\)|@import\s+["']([^"']+)["']""")
JS_IMPORT = re.compile(
    r"""(?:\bfrom\s+|\bimport\s*\(?\s*)["']([^"']+)["']|\bnew URL\(\s*["']([^"']+)["']\s*,\s*import\.meta"""
)
COMMENT = re.compile(r"/\*.*?\*/|^\s*//[^\n]*", re.DOTALL | re.MULTILINE)
XML_ID = re.compile(r"""\sid=["']([^"']+)["']""")
REFRESH = re.compile(r"url\s*=\s*(\S+)", re.IGNORECASE)


def addresses(page: Document) -> Iterator[tuple[str, str]]:
    """(element, address) for everything that a page leads to or loads."""
    for element in page.elements:
        name = local(element)
        for attribute in ADDRESSES.get(name, ()):
            if (value := element.get(attribute)) is not None:
                yield name, value
        for candidate in filter(None, (element.get("srcset") or "").split(",")):
            yield name, candidate.split()[0]
        if name == "meta" and (element.get("http-equiv") or "").lower() == "refresh":
            hit = REFRESH.search(element.get("content") or "")
            yield name, hit[1] if hit else ""


def code(text: str) -> str:
    """A script or stylesheet without its comments."""
    return COMMENT.sub("", text)


def target(page: str, address: str) -> tuple[str, str] | None:
    """(file, fragment) that an address on a page means; None where it leaves the site's root."""
    parts = urlsplit(address)
    path = unquote(parts.path)
    if not path:
        return page, unquote(parts.fragment)
    folder = path.endswith("/") or path.rsplit("/", 1)[-1] in (".", "..")
    joined = posixpath.normpath(posixpath.join("/", posixpath.dirname(page), path))
    depth = posixpath.dirname(page).count("/") + bool(posixpath.dirname(page))
    if path.split("/").count("..") > depth:
        return None
    file = joined.lstrip("/")
    if folder:
        file = posixpath.join(file, "index.html")
    return file, unquote(parts.fragment)


def fault(site: Site, page: str, address: str, *, from_root: bool = False) -> str | None:
    """What is wrong with an address, if anything. `from_root`: the page is shown at any depth, as 404.html is."""
    parts = urlsplit(address)
    if parts.scheme or parts.netloc:
        return "leaves the site"
    if from_root and parts.path:
        if not parts.path.startswith("/"):
            return "is relative, on a page that is shown at any depth"
        address, page = address.lstrip("/") or "./", "index.html"
    elif address.startswith("/"):
        return "is absolute: the site would not work under a path"
    found = target(page, address)
    if found is None:
        return "leads out of the site's root"
    file, fragment = found
    if file not in site.files:
        return f"leads nowhere: there is no {file}"
    if not fragment:
        return "has an empty fragment" if address.endswith("#") else None
    if file.endswith(".html"):
        known = site.page(file).ids
    elif file.endswith(".svg"):
        known = XML_ID.findall(site.text(file))
    else:
        return f"has a fragment, but {file} has no parts"
    return None if fragment in known else f"leads to no part: {file} has no id {fragment}"
