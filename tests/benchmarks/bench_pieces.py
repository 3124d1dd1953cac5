"""A library past one machine's memory, built in pieces: a map over pieces and a sum over failure modes.

    .venv/bin/python tests/benchmarks/bench_pieces.py [--pieces 10] [--cases 100000] [--disk DIR] [--json FILE]

Each piece stands for a region of a large company: a made-up library with its own seed, built whole and taken away again once its
figures are read, so that disk and memory hold one piece at a time. What the pieces publish (`data/costs.json`, sums that
can be added; `data/failure-modes.json`) is added by failure mode. The end checks that no case was lost: as many rows
in `data/cases.csv` of all pieces as records were written, and as many pages.

Memory is the sum of PSS of all processes of a build, looked at five times a second.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from build_runs import build, configure
from rich.console import Console
from rich.table import Table
from synthetic import write_library

GIB = 2**30


def main() -> None:
    """The command; ends with status 1 where a case of a piece is on no page or in no file."""
    ask = argparse.ArgumentParser(description="Build a large library in pieces and add up what they say.")
    ask.add_argument("--pieces", type=int, default=10)
    ask.add_argument("--cases", type=int, default=100_000, help="cases of a piece")
    ask.add_argument("--disk", type=Path, default=Path("/dev/shm"), help="where one piece and its site lie")
    ask.add_argument("--json", type=Path, help="file for all figures")
    asked = ask.parse_args()
    say = Console(width=150)
    pieces: list[dict[str, Any]] = []
    sums: Counter[str] = Counter()
    modes: dict[str, Counter[str]] = {}
    for number in range(1, asked.pieces + 1):
        scratch = Path(tempfile.mkdtemp(prefix="leaklore-pieces-", dir=asked.disk))
        try:
            pieces.append(one := piece(scratch, asked.cases, number))
            add(scratch / "site" / "data", modes)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
        sums.update(one)
        say.print(
            f"piece {number}: {one['seconds']:.0f} s ({one['cpu']:.0f} CPU s), {one['peak'] / GIB:.2f} GiB, "
            f"{one['files']:,} files, {one['bytes'] / 1e9:.2f} GB; written in {one['writing']:.0f} s"
        )
        if asked.json:  # after every piece: a long run may be ended early
            told = {"cores": os.cpu_count(), "cases": asked.cases, "pieces": pieces, "modes": modes}
            asked.json.write_text(json.dumps(told, indent=1), "utf-8")
    say.print(ledger(modes))
    expected = asked.pieces * asked.cases
    say.print(
        f"{expected:,} cases in {sums['seconds'] / 60:.0f} min of building, peak {max(p['peak'] for p in pieces) / GIB:.2f} GiB, "
        f"{sums['files']:,} files, {sums['bytes'] / 1e9:.1f} GB; rows {sums['rows']:,}, pages {sums['pages']:,}"
    )
    raise SystemExit(sums["rows"] != expected or sums["pages"] != expected)


def piece(scratch: Path, cases: int, seed: int) -> dict[str, Any]:
    """Writes a library, builds it and says what that took (seconds, bytes) and how many cases the site shows."""
    start = time.perf_counter()
    write_library(scratch / "cases", cases, seed)
    written = time.perf_counter() - start
    configure(scratch, scratch / "cases")
    run = build(scratch, watch=True)
    site = scratch / "site"
    sizes = [f.stat().st_size for f in site.rglob("*") if f.is_file()]
    with (site / "data" / "cases.csv").open(encoding="utf-8-sig", newline="") as file:
        ids = {row["id"] for row in csv.DictReader(file)}
    return {
        "writing": written,
        "seconds": run.seconds,
        "cpu": run.cpu,
        "peak": run.peak,
        "files": len(sizes),
        "bytes": sum(sizes),
        "rows": len(ids),
        "pages": sum((site / "cases" / i / "index.html").is_file() for i in ids),
    }


def add(data: Path, modes: dict[str, Counter[str]]) -> None:
    """Adds a piece's cases, counted cases, charge, hours and money to those of the pieces before, by failure mode."""
    names = {
        m["mode"]: m["cases"] for m in json.loads((data / "failure-modes.json").read_text("utf-8"))["modes"]
    }
    for row in json.loads((data / "costs.json").read_text("utf-8"))["modes"]:
        of = modes.setdefault(row["mode"], Counter())
        of.update({"all": names.get(row["mode"], 0), **row["sums"]})


def ledger(modes: Mapping[str, Counter[str]]) -> Table:
    """The sums over all pieces, dearest first."""
    table = Table(title="All pieces together, by failure mode")
    for head in ("mode", "cases", "counted", "charge lost, t", "CO2e, kt", "hours", "money, M"):
        table.add_column(head, justify="right" if head != "mode" else "left")
    for mode, of in sorted(modes.items(), key=lambda item: -item[1]["money"]):
        told = (of["all"], of["cases"], of["lost"] / 1e3, of["co2e"] / 1e3, of["hours"], of["money"] / 1e6)
        table.add_row(
            mode, *(f"{x:,.0f}" if x >= 1000 or float(x).is_integer() else f"{x:,.1f}" for x in told)
        )
    return table


if __name__ == "__main__":
    main()
