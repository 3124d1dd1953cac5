"""The pipeline: files -> strict YAML -> schema -> records -> rules. All problems of a run are gathered."""

from __future__ import annotations

import datetime as dt
import os
import pickle
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from leaklore.errors import LibraryNotFound
from leaklore.language import SOURCE
from leaklore.problem import Problem, errors
from leaklore.records import guide as guide_files
from leaklore.records import house, parse, source
from leaklore.records.actions import read_actions
from leaklore.records.check_guide import GuideRead, check_entries, check_prose, read_guide
from leaklore.records.company import Settings, check_prices
from leaklore.records.company import settings as read_settings
from leaklore.records.gather import Gathered
from leaklore.records.harvest import Progress, harvest
from leaklore.records.library import Library
from leaklore.records.model import Case
from leaklore.records.outcome import Outcome, Shared, read_one
from leaklore.records.prose import CASE_ID
from leaklore.records.reading import read_lists
from leaklore.records.register import register as read_register
from leaklore.records.rules import LIBRARY_RULES, Context
from leaklore.records.rules.context import AnyCase
from leaklore.records.rules.references import unknown_references
from leaklore.records.schema import Schemas
from leaklore.records.source import Source
from leaklore.records.store import Store, basis_of, unhindered, unpickled
from leaklore.records.today import today as this_day
from leaklore.records.vocabulary import Vocabulary
from leaklore.workers import Here, Workers


@dataclass(frozen=True)
class CheckResult:
    """`library` holds what is right, also when `problems` has errors; None where company.yaml is not what it must be."""

    library: Library | None
    problems: tuple[Problem, ...]
    counts: dict[str, int]

    @property
    def failed(self) -> bool:
        """Is there an error among the problems?"""
        return bool(errors(self.problems))


def check(
    root: Path,
    *,
    today: dt.date | None = None,
    progress: Progress | None = None,
    workers: Workers | None = None,
    cache: Path | None = None,
) -> CheckResult:
    """Reads and checks the whole library at `root`.

    The files of the records are dealt out to `workers`, which read them from the same disk; without, they are read
    here. `cache` is a folder of this check's own, in which it keeps what it need not do again; see store.py.
    """
    if not root.is_dir():
        raise LibraryNotFound(
            f'there is no folder "{root}"; give the folder that holds company.yaml and records/'
        )
    got = Gathered()
    today = today or this_day()
    store = Store(cache)
    basis = basis_of(root) if store.kept else b""
    house.look(root, got)
    settings = read_settings(root, got, Schemas(Vocabulary({})), today)
    read, vocabulary, schemas = _guide(root, got, settings, store, basis)
    guide = read.guide
    if settings is None:
        return CheckResult(None, _sorted(got), _counts(0, 0, 0))
    company = settings.company
    check_prices(settings, vocabulary, got)
    known = read_register(root, got, schemas, store, basis)
    others: list[str] = []
    files = list(source.yaml_names(root / "records", others))
    house.look_at_others(others, root, got)
    unfound = house.look_for_years(others, root, got)
    ctx = Context(root, company, guide, known.systems, frozenset(), _photos(root), today, known.read)
    with unhindered():
        outcomes = harvest(
            files, Shared(schemas, ctx, known.marks), store, basis, workers or Here(), progress
        )
    unfound |= any(o.digest == "" and not CASE_ID.fullmatch(str(o.name)) for o in outcomes)
    ctx = replace(ctx, case_ids=AnyCase() if unfound else frozenset(o.name for o in outcomes if o.name))
    if not unfound:
        house.look_at_photos(
            ctx.photos,
            {o.name: o.path for o in outcomes if o.name is not None},
            (o.case for o in outcomes if o.case is not None and not o.failed),
            root,
            got,
        )
    good = _apply_library_rules(outcomes, files, ctx, got)
    reading = read_lists(root / "reading", got, schemas, good, ctx)
    actions = read_actions(root / "house" / "actions.yaml", got, schemas, known.sites, ctx)
    house.look_at_references(root, ctx, got)
    if _leads_astray(guide, ctx):
        if not read.documents:
            # what is wrong has been told; it is for the places
            read = read_guide(root / "house", root, Gathered(), company.language)
        check_prose(read, ctx, got)
    counts = _counts(len(files), known.written, len(reading))
    if not settings.whole:
        return CheckResult(None, _sorted(got), counts)
    library = Library(
        root=root,
        company=company,
        guide=guide,
        vocabulary=vocabulary.closed(),
        sites=known.sites,
        systems=known.systems,
        cases=tuple(sorted(good, key=lambda c: c.id)),
        reading=reading,
        actions=actions,
    )
    return CheckResult(library, _sorted(got), counts)


def read_again(library: Library, file: Path, today: dt.date) -> Case | None:
    """One record of a library that was checked before, after an edit; None where anything is to be said about it."""
    numbers = frozenset((*library.by_id, *library.former))
    ctx = Context(
        library.root,
        library.company,
        library.guide,
        library.systems,
        numbers,
        _photos(library.root),
        today,
        True,
    )
    place = str(file)
    [path] = source.shown_below([place], library.root)
    shared = Shared(Schemas(library.vocabulary), ctx, defaultdict(bytes), numbers)
    outcome = read_one(shared, (place, path))
    return None if outcome.problems else outcome.case


def _counts(cases: int, systems: int, reading: int) -> dict[str, int]:
    return {"cases": cases, "systems": systems, "reading lists": reading}


def _sorted(got: Gathered) -> tuple[Problem, ...]:
    return tuple(sorted(set(got.problems)))


def _guide(
    root: Path, got: Gathered, settings: Settings | None, store: Store, basis: bytes
) -> tuple[GuideRead, Vocabulary, Schemas]:
    """The guide checked, and what follows from it; its documents are left out where it comes from the store."""
    kept: Any = store.load("guide.pickle", basis, unpickled)
    if isinstance(kept, tuple):
        guide, vocabulary, problems = kept
        got.problems += problems
        return GuideRead(guide, {}), vocabulary, Schemas(vocabulary)
    own = Gathered()
    company, unsure = (settings.company, settings.unsure) if settings else (None, frozenset[str]())
    read = read_guide(root / "house", root, own, company.language if company else SOURCE)
    vocabulary = guide_files.vocabulary_of(
        read.guide, company.branches if company else {}, company.crews if company else {}, unsure
    )
    schemas = Schemas(vocabulary)
    check_entries(read, own, schemas)
    got.problems += own.problems
    if store.kept:
        store.save("guide.pickle", basis, pickle.dumps((read.guide, vocabulary, own.problems), protocol=5))
    return read, vocabulary, schemas


def _leads_astray(guide: guide_files.Guide, ctx: Context) -> bool:
    """Is there a [[reference]] of the guide that leads nowhere?"""
    return any(
        True
        for kind in guide_files.REF_KINDS
        for entry in guide.entries(kind).values()
        for _ in unknown_references(
            entry.body, guide, ctx.case_ids, ctx.systems if ctx.register_read else None
        )
    )


def _apply_library_rules(
    outcomes: list[Outcome], files: list[str], ctx: Context, got: Gathered
) -> list[Case]:
    """The cases without an error. What a rule of the whole library finds is placed by reading that file once more."""
    bad = {id(outcome) for outcome in outcomes if outcome.failed}
    for outcome in outcomes:
        got.problems += outcome.problems
    made = {id(o.case): (o, file) for o, file in zip(outcomes, files, strict=True) if o.case is not None}
    everything = [o.case for o in outcomes if o.case is not None]
    for rule in LIBRARY_RULES:
        for case, finding in rule(everything):
            outcome, file = made[id(case)]
            if got.add(outcome.path, _document(Path(file), outcome, ctx.root), [finding]):
                bad.add(id(outcome))
    return [o.case for o in outcomes if o.case is not None and id(o) not in bad]


def _document(file: Path, outcome: Outcome, root: Path) -> parse.Document | None:
    """The record with the places of its values; None where somebody has just changed it."""
    found = source.read(file, root, path=outcome.path)
    if not isinstance(found, Source) or found.digest != outcome.digest:
        return None
    document = parse.parse(found.data)
    return document if isinstance(document, parse.Document) else None


def _photos(root: Path) -> frozenset[str]:
    """`ID/file` of every picture."""
    found: list[str] = []
    try:
        folders = [entry for entry in os.scandir(root / "photos") if entry.is_dir()]
    except OSError:
        return frozenset()
    for folder in folders:
        try:
            found += [f"{folder.name}/{entry.name}" for entry in os.scandir(folder.path) if entry.is_file()]
        except OSError:
            continue
    return frozenset(found)
