"""All record files of a library: each from the store where nothing changed, else read by a worker."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from leaklore.records import source
from leaklore.records.outcome import Outcome, Place, Shared, holds, read_piece
from leaklore.records.seen import Seen
from leaklore.records.source import Source
from leaklore.records.store import Store, pack, unpack
from leaklore.workers import Here, Workers, cut, runs

Progress = Callable[[int, int], None]
SHARDS = 64
"""Files of the store at the least, and at the most a few more than twice as many. An edited record makes one of them anew.
Neighbours lie in one file, and so beside each other in memory: a process that looks at some of them copies less."""
OUTCOMES = "records-"
"""How the names of those files begin."""
FEW = 40
"""Files that are read here: to start workers would take longer."""
PIECE = 50


def harvest(
    files: Sequence[str],
    shared: Shared,
    store: Store,
    basis: bytes,
    workers: Workers,
    progress: Progress | None,
) -> list[Outcome]:
    """The outcome of each file, in the order of the files, as if each had been read when all numbers are known."""
    root = shared.context.root
    places = list(zip(files, source.shown_below(files, root), strict=True))
    shards = dict(_shards(places))
    seen = Seen(store, basis)
    found: dict[str, Outcome] = {}
    missing: dict[str, list[Place]] = {}
    for shard, members in shards.items():
        kept = _kept(shard, members, shared, store, basis, seen)
        found |= {place: kept[place] for place, _ in members if place in kept}
        if len(kept) < len(members):
            missing[shard] = [place for place in members if place[0] not in kept]

    def made(shard: str, outcomes: list[Outcome], packed: bytes) -> None:
        found.update((place, outcome) for (place, _), outcome in zip(missing[shard], outcomes, strict=True))
        if progress:
            progress(len(found), len(files))
        if store.kept and shared.context.register_read and any(o.lasting for o in outcomes):
            whole = [found[place] for place, _ in shards[shard]]
            same = len(whole) == len(outcomes) and all(o.lasting for o in whole)
            store.save(shard, basis, packed if same else pack([o for o in whole if o.lasting]))

    if progress:
        progress(len(found), len(files))
    _work(shared, missing, workers, made)
    _again(shared, places, found, workers)
    store.tidy(OUTCOMES, shards)
    seen.keep({place: outcome.digest for place, outcome in found.items()})
    return [found[place] for place, _ in places]


def _shards(places: Sequence[Place]) -> Iterator[tuple[str, Sequence[Place]]]:
    """Runs of files, each with a name that follows from its first file."""
    mean = 1 << max(0, (len(places) // SHARDS).bit_length() - 1)
    for run in runs(places, _bytes, mean, 2 * mean):
        yield _name(run), run


def _name(run: Sequence[Place]) -> str:
    return f"{OUTCOMES}{hashlib.sha256(_bytes(run[0])).hexdigest()[:24]}.pickle"


def _bytes(place: Place) -> bytes:
    return place[1].encode("utf-8", "surrogateescape")


def _kept(
    shard: str, members: Sequence[Place], shared: Shared, store: Store, basis: bytes, seen: Seen
) -> dict[str, Outcome]:
    """Outcomes of the store that still hold, by file."""
    systems = shared.context.systems
    digests = {place: seen.digest(place) for place, _ in members}
    stored: Any = store.load(shard, basis, lambda data: unpack(data, systems))
    if not isinstance(stored, list):
        return {}
    by_path = {outcome.path: outcome for outcome in stored}
    kept: dict[str, Outcome] = {}
    for place, path in members:
        digest, outcome = digests[place], by_path.get(path)
        if outcome is None:
            continue
        if digest is None:
            now = source.read(Path(place), shared.context.root, path=path)
            digest = now.digest if isinstance(now, Source) else ""
        if digest == outcome.digest != "" and holds(outcome, shared.context, shared.marks):
            kept[place] = outcome
    return kept


def _work(
    shared: Shared,
    missing: Mapping[str, list[Place]],
    workers: Workers,
    made: Callable[[str, list[Outcome], bytes], None],
) -> None:
    few = sum(map(len, missing.values())) <= FEW
    packed = (Here() if few else workers).map(read_piece, shared, list(missing.values()))
    for shard, data in zip(missing, packed, strict=True):
        made(shard, unpack(data, shared.context.systems), data)


def _again(shared: Shared, places: Sequence[Place], found: dict[str, Outcome], workers: Workers) -> None:
    """Reads the files again that asked for a case that does not exist, or for the list of all."""
    names = frozenset(outcome.name for outcome in found.values() if outcome.name is not None)
    astray = [
        place for place in places if found[place[0]].all_cases or not names.issuperset(found[place[0]].cases)
    ]
    known = replace(shared, names=names)
    pieces = cut(astray, PIECE)
    runner = Here() if len(astray) <= FEW else workers
    for piece, data in zip(pieces, runner.map(read_piece, known, pieces), strict=True):
        for (place, _), outcome in zip(piece, unpack(data, shared.context.systems), strict=True):
            # its number may have changed on disk meanwhile; the others were checked against the one it had
            found[place] = replace(outcome, name=found[place].name)
