"""Whatever bytes come: no traceback, and nothing written outside the library."""

from __future__ import annotations

import io
import random
import zipfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leaklore.intake import show
from leaklore.problem import errors

from .conftest import checked, run
from .made import HEADERS, MAP, PHOTO, RECORD, ROW, picture, sheet, tree, workbook

ANY = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
NAMES = st.one_of(
    st.sampled_from(
        [
            "case.yaml",
            "photos/nut.jpg",
            "photos/nut.png",
            "../x.yaml",
            "/x",
            "photos/",
            "photos/../case.yaml",
            "a\\b",
            "C:x",
        ]
    ),
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20).filter(
        lambda name: name[0] != "\0"  # zipfile can't write it; test_zip.py has it
    ),
)
BODIES = st.one_of(st.binary(max_size=200), st.just((RECORD + PHOTO).encode()), st.just(picture()))


def holds(place: Path, files: list[str], map_text: str | None = None) -> None:
    """Takes them; only the library may have grown, and what it took is right."""
    outside = {n: d for n, d in tree(place).items() if not n.startswith("cases/") and n != "map.yaml"}
    inside = tree(place / "cases")
    taken = run(*files, map_text=map_text)
    assert all("\n" not in line for line in [*show.problems(taken), *show.done(taken)])
    assert all(errors(o.problems) for o in taken.outcomes if o.status == "refused")
    after = {n: d for n, d in tree(place).items() if not n.startswith("cases/") and n != "map.yaml"}
    assert after == outside
    grown = tree(place / "cases")
    assert {n: grown[n] for n in inside} == inside
    if grown != inside:
        assert not errors(checked().problems)


@ANY
@given(data=st.binary(max_size=400), ending=st.sampled_from(["zip", "csv", "xlsx"]))
def test_any_bytes(place: Path, data: bytes, ending: str) -> None:
    """Noise of every ending."""
    (place / f"any.{ending}").write_bytes(data)
    holds(place, [f"any.{ending}"], MAP)


@ANY
@given(entries=st.lists(st.tuples(NAMES, BODIES), max_size=5))
def test_any_entries(place: Path, entries: list[tuple[str, bytes]]) -> None:
    """Zips that are whole, with any names."""
    import warnings

    out = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        warnings.simplefilter("ignore")
        for name, data in entries:
            archive.writestr(name, data)
    (place / "any.zip").write_bytes(out.getvalue())
    holds(place, ["any.zip"])


@ANY
@given(seed=st.integers(0, 2**32), kind=st.sampled_from(["zip", "xlsx", "csv"]), hits=st.integers(1, 12))
def test_any_damage(place: Path, seed: int, kind: str, hits: int) -> None:
    """Right files with some bytes changed, cut or doubled."""
    file = place / f"any.{kind}"
    if kind == "xlsx":
        workbook(file, [HEADERS, ROW])
    elif kind == "csv":
        file.write_text(sheet(ROW), encoding="utf-8")
    else:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("case.yaml", RECORD + PHOTO)
            archive.writestr("photos/nut.jpg", picture())
    data, dice = bytearray(file.read_bytes()), random.Random(seed)
    for _ in range(hits):
        at = dice.randrange(len(data))
        match dice.randrange(4):
            case 0 | 1:
                data[at] = dice.randrange(256)
            case 2:
                del data[at : at + dice.randrange(1, 30)]
            case _:
                data[at:at] = data[at : at + dice.randrange(1, 30)]
        if not data:
            break
    file.write_bytes(data)
    holds(place, [file.name], MAP)


@ANY
@given(cells=st.lists(st.text(max_size=30), min_size=len(HEADERS), max_size=len(HEADERS)))
def test_any_cells(place: Path, cells: list[str]) -> None:
    """Rows that say anything."""
    text = sheet(tuple(cells))
    (place / "any.csv").write_bytes(text.encode("utf-8", "surrogatepass"))
    holds(place, ["any.csv"], MAP)


@ANY
@given(
    text=st.one_of(
        st.text(max_size=200),
        st.sampled_from(MAP.splitlines()).map(lambda line: MAP.replace(line, line[::-1])),
    )
)
def test_any_map(place: Path, text: str) -> None:
    """Maps that say anything."""
    (place / "any.csv").write_text(sheet(ROW), encoding="utf-8")
    holds(place, ["any.csv"], text.encode("utf-8", "replace").decode())


@ANY
@given(text=st.text(max_size=300), at=st.integers(0, len(RECORD)))
def test_any_record(place: Path, text: str, at: int) -> None:
    """Records with anything put into them."""
    with zipfile.ZipFile(place / "any.zip", "w") as archive:
        archive.writestr("case.yaml", (RECORD[:at] + text + RECORD[at:]).encode("utf-8", "replace"))
    holds(place, ["any.zip"])
