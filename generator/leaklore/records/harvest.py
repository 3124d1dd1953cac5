"""All record files of a library: each from the store where nothing changed, else read by a worker."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from leaklore.records import source
from leaklore.records.outcome import Outcome, Place, Shared, holds, read_piece
from leaklore.records.source import Source
from leaklore.records.store import Store, pack, unpack
from leaklore.workers import Here, Workers, cut

Progress = Callable[[int, int], None]
SHARDS = 64
"""Files of the store. An edited record makes one of them anew."""
FEW = 40
"""Files that are read here: to start workers would take longer."""
PIECE = 50


def harvest(
    files: Sequence[Path],
    shared: Shared,
    store: Store,
    basis: bytes,
    workers: Workers,
    progress: Progress | None,
) -> list[Outcome]:
    """The outcome of each file, in the order of the files, as if each had been read when all numbers are known."""
    root = shared.context.root
    places = [(str(file), path) for file, path in zip(files, source.shown_below(files, root), strict=True)]
    shards: dict[int, list[Place]] = {}
    for place in places:
        shards.setdefault(zlib.crc32(place[1].encode("utf-8", "surrogateescape")) % SHARDS, []).append(place)
    found: dict[str, Outcome] = {}
    missing: dict[int, list[Place]] = {}
    for shard, members in shards.items():
        kept = _kept(shard, members, shared, store, basis)
        found |= {place: kept[place] for place, _ in members if place in kept}
        if len(kept) < len(members):
            missing[shard] = [place for place in members if place[0] not in kept]

    def made(shard: int, outcomes: list[Outcome], packed: bytes) -> None:
        found.update((place, outcome) for (place, _), outcome in zip(missing[shard], outcomes, strict=True))
        if progress:
            progress(len(found), len(files))
        if store.kept and shared.context.register_read and any(o.lasting for o in outcomes):
            whole = [found[place] for place, _ in shards[shard]]
            same = len(whole) == len(outcomes) and all(o.lasting for o in whole)
            store.save(_name(shard), basis, packed if same else pack([o for o in whole if o.lasting]))

    if progress:
        progress(len(found), len(files))
    _work(shared, missing, workers, made)
    _again(shared, places, found, workers)
    return [found[place] for place, _ in places]


def _name(shard: int) -> str:
    return f"records-{shard:02}.pickle"


def _kept(
    shard: int, members: Sequence[Place], shared: Shared, store: Store, basis: bytes
) -> dict[str, Outcome]:
    """Outcomes of the store that still hold, by file."""
    systems = shared.context.systems
    stored: Any = store.load(_name(shard), basis, lambda data: unpack(data, systems))
    if not isinstance(stored, list):
        return {}
    by_path = {outcome.path: outcome for outcome in stored}
    kept: dict[str, Outcome] = {}
    for place, path in members:
        outcome = by_path.get(path)
        if outcome is None:
            continue
        now = source.read(Path(place), shared.context.root, path=path)
        if (
            isinstance(now, Source)
            and now.digest == outcome.digest
            and holds(outcome, shared.context, shared.marks)
        ):
            kept[place] = outcome
    return kept


def _work(
    shared: Shared,
    missing: Mapping[int, list[Place]],
    workers: Workers,
    made: Callable[[int, list[Outcome], bytes], None],
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
