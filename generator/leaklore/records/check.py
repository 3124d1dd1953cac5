"""The pipeline: files -> strict YAML -> schema -> records -> rules. All problems of a run are gathered."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leaklore.errors import LibraryNotFound
from leaklore.problem import Finding, Pointer, Problem, errors, pointer_text
from leaklore.records import convert, parse, source
from leaklore.records import guide as guide_files
from leaklore.records.actions import read_actions
from leaklore.records.check_guide import check_entries, check_prose, read_guide
from leaklore.records.gather import Gathered, load
from leaklore.records.library import Library
from leaklore.records.model import Case, Company, Site, System
from leaklore.records.parse import short
from leaklore.records.quantity import Quantity, currency
from leaklore.records.reading import read_lists
from leaklore.records.rules import CASE_RULES, LIBRARY_RULES, Context
from leaklore.records.rules.privacy import looks_private
from leaklore.records.schema import Schemas
from leaklore.records.source import Source, Unreadable
from leaklore.records.today import today as this_day
from leaklore.records.vocabulary import Vocabulary

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class CheckResult:
    """`library` holds what is right, also when `problems` has errors; None where nothing can be read."""

    library: Library | None
    problems: tuple[Problem, ...]
    counts: dict[str, int]

    @property
    def failed(self) -> bool:
        """Is there an error among the problems?"""
        return bool(errors(self.problems))


@dataclass
class _Open:
    """A record between reading and the rules."""

    source: Source
    document: parse.Document
    case: Case


def check(root: Path, *, today: dt.date | None = None, progress: Progress | None = None) -> CheckResult:
    """Reads and checks the whole library at `root`."""
    if not root.is_dir():
        raise LibraryNotFound(
            f'there is no folder "{root}"; give the folder that holds company.yaml and records/'
        )
    got = Gathered()
    today = today or this_day()
    bare = Schemas(Vocabulary({}))
    company = _company(root, got, bare, today)
    read = read_guide(root / "house", root, got)
    guide = read.guide
    vocabulary = guide_files.vocabulary_of(
        guide, company.branches if company else {}, company.crews if company else {}
    )
    schemas = Schemas(vocabulary)
    check_entries(read, got, schemas)
    if company is None:
        return CheckResult(None, _sorted(got), _counts(0, 0, 0))
    sites, systems, register_read = _register(root, got, schemas)
    files = list(source.find_yaml(root / "records"))
    opened: list[_Open] = []
    named: list[str] = []
    for number, file in enumerate(files):
        found = source.read(file, root)
        if isinstance(found, Unreadable):
            got.unreadable(found)
            named.append(file.stem)  # it exists, though it can't be read: one error is enough
            continue
        document = parse.parse(found.data)
        if isinstance(document, list):
            got.add(found.path, None, document)
            named.append(file.stem)
            continue
        if isinstance(document.data, dict) and isinstance(document.data.get("id"), str):
            named.append(document.data["id"])
        if not got.add(found.path, document, schemas.check("case", document.data)):
            case = convert.case(document.data, found.path, found.digest, systems)
            opened.append(_Open(found, document, case))
        if progress and number % 50 == 0:
            progress(number, len(files))
    ctx = Context(root, company, guide, systems, frozenset(named), _photos(root), today, register_read)
    good = _apply_rules(opened, ctx, got)
    reading = read_lists(root / "reading", got, schemas, good, ctx)
    actions = read_actions(root / "house" / "actions.yaml", got, schemas, sites, ctx)
    check_prose(read, ctx, got)
    library = Library(
        root=root,
        company=company,
        guide=guide,
        vocabulary=vocabulary,
        sites=sites,
        systems=systems,
        cases=tuple(sorted(good, key=lambda c: c.id)),
        reading=reading,
        actions=actions,
    )
    return CheckResult(library, _sorted(got), _counts(len(files), len(systems), len(reading)))


def _counts(cases: int, systems: int, reading: int) -> dict[str, int]:
    return {"cases": cases, "systems": systems, "reading lists": reading}


def _sorted(got: Gathered) -> tuple[Problem, ...]:
    return tuple(sorted(set(got.problems)))


def _apply_rules(opened: list[_Open], ctx: Context, got: Gathered) -> list[Case]:
    bad: set[int] = set()
    by_case = {id(item.case): item for item in opened}
    for item in opened:
        findings = [f for rule in CASE_RULES for f in rule(item.case, item.document.data, ctx)]
        if got.add(item.source.path, item.document, findings):
            bad.add(id(item.case))
    everything = [item.case for item in opened]
    for rule in LIBRARY_RULES:
        for case, finding in rule(everything):
            item = by_case[id(case)]
            if got.add(item.source.path, item.document, [finding]):
                bad.add(id(case))
    return [item.case for item in opened if id(item.case) not in bad]


def _photos(root: Path) -> frozenset[str]:
    folder = root / "photos"
    if not folder.is_dir():
        return frozenset()
    return frozenset(p.relative_to(folder).as_posix() for p in folder.glob("*/*") if p.is_file())


def _company(root: Path, got: Gathered, schemas: Schemas, today: dt.date) -> Company | None:
    file = root / "company.yaml"
    if not file.exists():
        got.problems.append(
            Problem(
                source.shown(file, root),
                1,
                1,
                "there is no company.yaml",
                "write one with name:, units:, currency:, labour_rate: and branches:",
                "file",
            )
        )
        return None
    loaded = load(file, root, got)
    if loaded is None:
        return None
    found, document = loaded
    if got.add(found.path, document, schemas.check("company", document.data)):
        return None
    made = convert.company(document.data)
    got.add(found.path, document, list(_company_findings(document.data, made, today)))
    return made


def _company_findings(data: dict[str, Any], made: Company, today: dt.date) -> Iterator[Finding]:
    money: dict[Pointer, Quantity] = {("labour_rate",): made.labour_rate}
    money |= {("refrigerant_price", key): price for key, price in made.refrigerant_price.items()}
    for pointer, amount in money.items():
        if currency(amount) != made.currency:
            yield Finding(
                pointer,
                f'{pointer_text(pointer)}: "{amount.written}" is not in {made.currency}',
                "write it in the currency of the line currency:",
                "money/currency",
            )
    if made.records_since and made.records_since > today:
        yield Finding(
            ("records_since",),
            f"records_since: {made.records_since} is after today, {today}",
            "write the first day from which every leak was put on record",
            "date/future",
        )
    for group, name in (("branches", "key"), ("branches", "prefix"), ("crews", "key")):
        seen: set[str] = set()
        for i, item in enumerate(data.get(group, ())):
            if item[name] in seen:
                yield Finding(
                    (group, i, name),
                    f'{group}[{i}].{name}: "{item[name]}" is used twice',
                    "give each its own",
                    "register/twice",
                )
            seen.add(item[name])
    for i, crew in enumerate(data.get("crews", ())):
        if crew["branch"] not in made.branches:
            yield Finding(
                ("crews", i, "branch"),
                f'crews[{i}].branch: "{short(crew["branch"])}" is no branch of the company',
                f"write one of {', '.join(made.branches)}",
                "register/site",
            )


def _register(root: Path, got: Gathered, schemas: Schemas) -> tuple[dict[str, Site], dict[str, System], bool]:
    """Sites, systems, and whether they could be read."""
    file = root / "systems.yaml"
    sites: dict[str, Site] = {}
    systems: dict[str, System] = {}
    if not file.exists():
        return sites, systems, True
    loaded = load(file, root, got, source.MAX_REGISTER_BYTES)
    if loaded is None:
        return sites, systems, False
    found, document = loaded
    if got.add(found.path, document, schemas.check("system", document.data)):
        return sites, systems, False
    findings: list[Finding] = []
    for i, data in enumerate(document.data["sites"]):
        if data["key"] in sites:
            findings.append(
                Finding(
                    ("sites", i, "key"),
                    f'sites[{i}].key: "{data["key"]}" is used twice',
                    "give it a key of its own",
                    "register/twice",
                )
            )
        sites[data["key"]] = convert.site(data)
    astray = False
    for i, data in enumerate(document.data["systems"]):
        if data["id"] in systems:
            findings.append(
                Finding(
                    ("systems", i, "id"),
                    f'systems[{i}].id: "{data["id"]}" is used twice',
                    "give it a number of its own",
                    "register/twice",
                )
            )
        at = sites.get(data["site"])
        if at is None:
            findings.append(
                Finding(
                    ("systems", i, "site"),
                    f'systems[{i}].site: "{short(data["site"])}" is no site of the register',
                    "add it under sites:, or correct the key",
                    "register/site",
                )
            )
            astray = True
            continue
        made = systems[data["id"]] = convert.system(data, at)
        start = made.equipment.installed
        if made.removed and start and made.removed.day < start.day:
            findings.append(
                Finding(
                    ("systems", i, "removed"),
                    f"systems[{i}].removed: {made.removed.written} is before the installation in {start.written}",
                    "correct one of the two dates",
                    "date/order",
                )
            )
    for group in ("sites", "systems"):
        for i, data in enumerate(document.data[group]):
            for key in ("name", "batch", "note"):
                findings += looks_private((group, i, key), data.get(key, ""))
    got.add(found.path, document, findings)
    return sites, systems, not astray


def digest_of(result: Library) -> str:
    """SHA-256 over all records: changes when any record does."""
    whole = hashlib.sha256()
    for case in result.cases:
        whole.update(case.digest.encode())
    return whole.hexdigest()
