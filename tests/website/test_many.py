"""A large library is made with less memory, one thing after the other but for Patterns; its site is the same as any other way.

Large is here what has more than a handful of cases, so that the test does not take minutes.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from site_fixture import ENVIRONMENT, write_config
from website.test_again import CASES, SEED, built, records, synthetic, trees_differ

FEW_ARE_MANY = """
import sys
from leaklore.cli import main
from leaklore.website import memory, write
from leaklore.workers import Processes

write.MANY = memory.MANY = 10
write.LIVES = 3
write.beside = lambda workers, task, shared, pieces, kept=write.beside: (
    print("beside", sorted({room for piece in pieces for room, _ in piece}), file=sys.stderr),
    kept(workers, task, shared, pieces),
)[1]
write.trim = lambda kept=write.trim: (print("trim", file=sys.stderr), kept())
main(sys.argv[1:])
"""


def made(config: Path, *options: str) -> dict[str, Any]:
    """As `built`, where ten cases are many."""
    words = ["build", "--config", str(config), "--processes", "2", "--json", *options]
    done = subprocess.run(
        [sys.executable, "-c", FEW_ARE_MANY, *words],
        env=ENVIRONMENT,
        cwd=config.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "trim" in done.stderr
    beside = re.findall("beside .*", done.stderr)
    assert beside in (["beside ['patterns']"], ["beside []"]), (
        "of a large library nothing else is made beside"
    )
    told: dict[str, Any] = json.loads(done.stdout)
    return told


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
    """A library, and the settings of two sites of it."""
    folder = tmp_path_factory.mktemp("many")
    library = folder / "cases"
    synthetic.write_library(library, CASES, SEED)
    return library, write_config(folder / "large", library), write_config(folder / "usual", library)


def test_the_site_is_the_same(sites: tuple[Path, Path, Path]) -> None:
    _, large, usual = sites
    assert made(large)["pages"] == built(usual)["pages"]
    assert trees_differ(large.parent / "site", usual.parent / "site") == []


@pytest.mark.parametrize(
    ("pattern", "to", "least"),
    [
        (r"story: \|\n +(?=\w)", r"\g<0>Truly, ", 0.8),
        (r"mode: [\w-]+", "mode: impact", 0.2),
    ],
    ids=["story", "cause"],
)
def test_and_after_an_edit(sites: tuple[Path, Path, Path], pattern: str, to: str, least: float) -> None:
    library, large, usual = sites
    made(large)
    file = next(
        f
        for f in records(library)
        if re.search(pattern, f.read_text("utf-8")) and "mode: impact" not in f.read_text("utf-8")
    )
    file.write_text(re.sub(pattern, to, file.read_text("utf-8"), count=1), "utf-8")
    told = made(large)
    assert told["as_before"] >= least * told["pages"]
    built(usual, "--afresh")
    assert trees_differ(large.parent / "site", usual.parent / "site") == []
