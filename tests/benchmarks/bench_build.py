"""How long the build takes and how it grows, beside independent site generators with pages of the same text.

    .venv/bin/python tests/benchmarks/bench_build.py [--parts full,edit,...] [--cases 10000] [--runs 3] [--json FILE]

Everything lies on a memory disk, on two cores, with made-up cases (synthetic.py). In every round ours and the peers take turns; a
ratio is taken within its round. The peers get as many plain Markdown pages as our site has, with their text
(build_peers.py), but none of its drawings, data files and statistics. mkdocs-material has its search index and one page in its
menu: with all pages there it takes quadratic time and 9 GB. Hugo has a template of ten lines and no search.

full: the whole build against the peers.  edit: builds after an edit, each compared byte for byte with a full one.
check: `leaklore check` against bare PyYAML.  serve: until the server shows an edit.  help: `leaklore --help`.
size: bytes of the site and its heaviest pages.  growth: seconds and memory of a tenth to three (--large: ten) times the cases.

Memory is the sum of PSS of all processes of a build, looked at five times a second. What the rest of the machine did
meanwhile stands beside the times in cores: above 0.2 the figures are too high.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from bench_search import verdict
from build_edits import edit, serve
from build_parts import check, full, growth, help_, size
from build_runs import Bench, Report
from rich.console import Console

CORES = 2
PARTS: Mapping[str, Callable[[Bench], Report]] = {
    "full": full, "size": size, "edit": edit, "check": check, "serve": serve, "help": help_, "growth": growth,
}  # fmt: skip


def options(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    """The command's options."""
    ask = argparse.ArgumentParser(description="Measure the build beside independent ones.")
    ask.add_argument(
        "--parts", type=_parts, default=tuple(PARTS), help=f"of {','.join(PARTS)}; all by default"
    )
    ask.add_argument("--cases", type=int, default=10_000, help="cases of the made-up library")
    ask.add_argument("--runs", type=int, default=3, help="rounds of each part")
    ask.add_argument("--large", action="store_true", help="growth: ten times the cases, too, once")
    ask.add_argument("--disk", type=Path, default=Path("/dev/shm"), help="a memory disk for all that is made")
    ask.add_argument(
        "--wait", type=float, default=60, help="most seconds to wait for a quiet machine before a run"
    )
    ask.add_argument("--json", type=Path, help="file for all figures")
    return ask.parse_args(arguments)


def _parts(text: str) -> tuple[str, ...]:
    """Parts in the order of PARTS, whatever the order they are asked for in."""
    asked = text.split(",")
    if unknown := set(asked) - set(PARTS):
        raise argparse.ArgumentTypeError(f'no part "{min(unknown)}"; there are {", ".join(PARTS)}')
    return tuple(p for p in PARTS if p in asked)


def main() -> None:
    """The command; ends with status 1 where one of the targets is missed."""
    asked = options()
    say = Console(width=150)
    os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:CORES])  # what is started here inherits it
    scratch = Path(tempfile.mkdtemp(prefix="leaklore-build-", dir=asked.disk))
    bench = Bench(scratch, asked.cases, asked.runs, asked.wait, asked.large, say)
    reports: dict[str, Report] = {}
    try:
        for name in asked.parts:
            reports[name] = PARTS[name](bench)
            say.print(*reports[name].tables, sep="\n")
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
        if asked.json:
            asked.json.write_text(json.dumps(figures(asked, reports), indent=1), "utf-8")
    targets = [t for report in reports.values() for t in report.targets]
    for t in targets:
        say.print(f"{verdict(t.value, t.most)}: {t.value:.3g} {t.name} (target {t.most:.3g})")
    if asked.cases != 10_000:
        say.print(f"The targets are those of 10,000 cases; these were {asked.cases:,}.")
    raise SystemExit(any(t.value > t.most for t in targets))


def figures(asked: argparse.Namespace, reports: Mapping[str, Report]) -> dict[str, object]:
    """All that was found, for the JSON file."""
    return {
        "cases": asked.cases, "python": platform.python_version(), "cores": len(os.sched_getaffinity(0)),
        "load": os.getloadavg(), "parts": {name: report.figures for name, report in reports.items()},
        "targets": [
            {"part": name, "name": t.name, "value": t.value, "most": t.most}
            for name, report in reports.items()
            for t in report.targets
        ],
    }  # fmt: skip


if __name__ == "__main__":
    main()
