"""Reads and checks the guide: shipped entries, the company's own over them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leaklore.problem import Finding
from leaklore.records import guide as guide_files
from leaklore.records import prose, source
from leaklore.records.gather import Gathered
from leaklore.records.guide import Entry, Guide, GuideFile
from leaklore.records.rules import Context
from leaklore.records.rules.references import unknown_references
from leaklore.records.schema import Schemas
from leaklore.records.source import Unreadable
from leaklore.records.vocabulary import as_terms

Documents = dict[str, GuideFile]


@dataclass(frozen=True)
class GuideRead:
    """The guide, and its files by path with the positions of their values."""

    guide: Guide
    documents: Documents


def read_guide(house: Path, root: Path, got: Gathered) -> GuideRead:
    """The shipped guide with the company's own versions over it; problems are noted in `got`."""
    entries: dict[str, dict[str, Entry]] = {"mode": {}, "technique": {}}
    documents: Documents = {}
    house_or_none = house if house.is_dir() else None
    for (folder, key), file in guide_files.page_files(house_or_none).items():
        base = root if house_or_none and file.is_relative_to(house_or_none) else guide_files.SHIPPED
        found = source.read(file, base)
        if isinstance(found, Unreadable):
            got.unreadable(found)
            continue
        page = guide_files.split_front_matter(found)
        if isinstance(page, list):
            got.add(found.path, None, page)
            continue
        if not isinstance(page.document.data, dict):
            got.add(
                found.path,
                page.document,
                [Finding((), "the front matter is not a block of keys", "write `key: value`", "guide")],
            )
            continue
        kind = "mode" if folder == "failure-modes" else "technique"
        facts = page.document.data
        documents[found.path] = page
        if facts.get("key") != key:
            got.add(
                found.path,
                page.document,
                [
                    Finding(
                        ("key",),
                        f'key: "{facts.get("key")}" and the file name "{file.name}" differ',
                        f"write key: {key}",
                        "id/file-name",
                    )
                ],
            )
            continue
        entries[kind][key] = Entry(kind, key, facts, page.body, found.path, found.digest, page.body_line)
    lists = _read_lists(house_or_none, root, got, documents)
    small = lists.pop("vocabulary")
    cautions = lists.pop("cautions")
    components = lists["components"]
    guide = Guide(
        modes=dict(sorted(entries["mode"].items())),
        techniques=dict(sorted(entries["technique"].items(), key=lambda e: (e[1]["order"] or 99, e[0]))),
        symptoms=lists["symptoms"],
        components=components,
        refrigerants=lists["refrigerants"],
        cautions=cautions,
        small=small,
        inside=guide_files.containment(components),
    )
    return GuideRead(guide, documents)


def _read_lists(house: Path | None, root: Path, got: Gathered, documents: Documents) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, files in guide_files.list_files(house).items():
        merged: dict[str, Any] = {}
        for file in files:
            page = guide_files.read_list(
                file, root if house and file.is_relative_to(house) else guide_files.SHIPPED
            )
            if isinstance(page, Unreadable):
                got.unreadable(page)
                continue
            if isinstance(page, list):
                got.add(source.shown(file, root), None, page)
                continue
            documents[page.source.path] = page
            data = page.document.data
            if name == "vocabulary":
                for group in guide_files.SMALL:
                    merged.setdefault(group, {}).update(as_terms(data.get(group, ())))
            else:
                for i, facts in enumerate(data):
                    if (
                        not isinstance(facts, dict)
                        or not isinstance(facts.get("key"), str)
                        or "name" not in facts
                    ):
                        got.add(
                            page.source.path,
                            page.document,
                            [Finding((i,), f"[{i}]: an entry needs key: and name:", "add them", "guide")],
                        )
                        continue
                    merged[facts["key"]] = (
                        facts
                        if name == "cautions"
                        else Entry(
                            guide_files.LISTS[name],
                            facts["key"],
                            {**facts, "_at": i},
                            facts.get("what", ""),
                            page.source.path,
                            page.source.digest,
                        )
                    )
        out[name] = merged
    return out


def check_entries(read: GuideRead, got: Gathered, schemas: Schemas) -> None:
    """Holds every entry to its schema."""
    guide = read.guide
    for kind, name in (("mode", "failure-mode"), ("technique", "technique")):
        for entry in guide.entries(kind).values():
            document = read.documents[entry.path].document
            got.add(entry.path, document, schemas.check(f"guide/{name}", dict(entry.facts)))
    for name in guide_files.LISTS.values():
        for entry in guide.entries(name).values():
            document = read.documents[entry.path].document
            facts: Mapping[str, Any] = {k: v for k, v in entry.facts.items() if k != "_at"}
            findings = [
                Finding((entry.facts["_at"], *f.pointer), f.message, f.instead, f.rule, f.severity, f.on_key)
                for f in schemas.check(f"guide/{name}", facts)
            ]
            got.add(entry.path, document, findings)


def check_prose(read: GuideRead, ctx: Context, got: Gathered) -> None:
    """Every [[reference]] of the guide leads somewhere."""
    guide = read.guide
    for kind in guide_files.REF_KINDS:
        for entry in guide.entries(kind).values():
            for ref, instead in unknown_references(entry.body, guide, ctx.case_ids, ctx.systems):
                row, column = prose.line_and_column(entry.body, ref.start)
                paged = kind in ("mode", "technique")
                finding = Finding(
                    () if paged else (entry.facts["_at"], "what"),
                    f'"[[{ref.target}]]" leads nowhere',
                    instead,
                    "reference/prose",
                    line=entry.body_line + row if paged else None,
                    column=column + 1 if paged else None,
                    offset=None if paged else (row, column),
                )
                got.add(entry.path, read.documents[entry.path].document, [finding])
