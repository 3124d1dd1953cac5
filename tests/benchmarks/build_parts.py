"""The parts of the build's benchmark that change no record: full, check, help, size, growth."""

from __future__ import annotations

import gzip
import re
import shutil
import statistics
from collections import defaultdict
from collections.abc import Callable, Sequence
from math import log
from pathlib import Path
from statistics import median

from bench_search import spread, told
from build_peers import bare_yaml, build_hugo, build_material, prepare
from build_runs import Bench, Report, Run, Target, build, empty, ratio, run, seconds_table, told_runs
from rich.table import Table

MOST_MATERIAL, MOST_HUGO, MOST_BARE = 0.4, 3.0, 1.6
"""Targets as multiples of a peer: build by mkdocs-material's and Hugo's, check by bare PyYAML."""
MOST_HELP, MOST_SITE, MOST_PAGE = 0.25, 120e6, 60e3
"""Targets: seconds of --help; bytes of the site; bytes of the largest page, gzipped."""
MOST_SLOPE, MOST_MEMORY = 1.05, 1.5 * 2**30
"""Targets: log seconds over log cases, with 5 percent for chance; bytes at ten times the cases."""
OURS, AFRESH, MATERIAL, HUGO = "Leaklore, cold", "Leaklore --afresh, .cache warm", "mkdocs-material", "Hugo"
HELP = "leaklore --help"
COLD, WARM, BARE = "leaklore check, cold", "leaklore check, .cache warm", "bare PyYAML"


def in_turn(bench: Bench, part: str, ways: dict[str, Callable[[], Run]], runs: int) -> dict[str, list[Run]]:
    """Runs all ways in every round, each round beginning with another one."""
    found: dict[str, list[Run]] = {name: [] for name in ways}
    order = list(ways)
    for number in range(runs):
        bench.rest(f"{part}: run {number + 1} of {runs}")
        at = number % len(order)
        for name in order[at:] + order[:at]:
            found[name].append(ways[name]())
    return found


Multiples = dict[str, dict[str, list[float]]]
"""{"seconds" or "cpu": {ours and peer: a ratio a round}}."""


def _multiples(rows: dict[str, list[Run]], pairs: Sequence[tuple[str, str]]) -> Multiples:
    return {
        of: {f"{mine} by {peer}": ratio(rows[mine], rows[peer], of) for mine, peer in pairs}
        for of in ("seconds", "cpu")
    }


def _multiples_table(title: str, multiples: Multiples) -> Table:
    table = Table(title=f"{title}: median (least to most) of the rounds' ratios")
    for head in ("", "n", "times", "times in CPU"):
        table.add_column(head)
    for name, values in multiples["seconds"].items():
        table.add_row(name, str(len(values)), told(spread(values)), told(spread(multiples["cpu"][name])))
    return table


# ---------------------------------------------------------------------------------------------- full


def full(bench: Bench) -> Report:
    """Full builds of ours and of the peers with as many pages of the same text."""
    ours = bench.place(bench.cases)
    material, hugo = bench.scratch / "material", bench.scratch / "hugo"
    empty(ours)
    build(ours)
    count = prepare(ours / "site", material, hugo)

    def emptied(folder: Path, make: Callable[[Path], Run], kept: bool = False) -> Callable[[], Run]:
        def once() -> Run:
            if kept:
                shutil.rmtree(folder / "site", ignore_errors=True)
            else:
                empty(folder)
            return make(folder)

        return once

    rows = in_turn(
        bench,
        "full",
        {
            OURS: emptied(ours, build),
            AFRESH: emptied(ours, lambda folder: build(folder, "--afresh"), kept=True),
            MATERIAL: emptied(material, build_material),
            HUGO: emptied(hugo, build_hugo),
        },
        bench.runs,
    )
    written = {name: _pages(at / "site") for name, at in ((OURS, ours), (MATERIAL, material), (HUGO, hugo))}
    shutil.rmtree(material)
    shutil.rmtree(hugo)
    pairs = [(mine, peer) for mine in (OURS, AFRESH) for peer in (MATERIAL, HUGO)]
    multiples = _multiples(rows, pairs)
    table = Table(title="Pages")
    for head in ("", "Markdown pages given", "HTML pages written"):
        table.add_column(head)
    for name, pages in written.items():
        table.add_row(name, "" if name == OURS else str(count), str(pages))
    return Report(
        {"runs": told_runs(rows), "multiples": multiples, "given": count, "written": written},
        [table, seconds_table("Full build", rows), _multiples_table("Full build", multiples)],
        [
            Target(f"times {peer}, full build", spread(multiples["seconds"][f"{OURS} by {peer}"])[0], most)
            for peer, most in ((MATERIAL, MOST_MATERIAL), (HUGO, MOST_HUGO))
        ],
    )


def _pages(site: Path) -> int:
    return sum(1 for _ in site.rglob("*.html"))


# ---------------------------------------------------------------------------------------------- check, help


def check(bench: Bench) -> Report:
    """`leaklore check` and bare PyYAML over the same files, in two processes each."""
    folder = bench.place(bench.cases)

    def ours(kept: bool) -> Run:
        if not kept:
            shutil.rmtree(folder / ".cache", ignore_errors=True)
        return run("leaklore", "check", "--cases", folder / "cases", cwd=folder)

    ways = {COLD: lambda: ours(False), WARM: lambda: ours(True), BARE: lambda: bare_yaml(folder / "cases")}
    ours(False)  # unmeasured: files are in memory, and .cache is warm
    rows = in_turn(bench, "check", ways, bench.runs)
    multiples = _multiples(rows, [(COLD, BARE), (WARM, BARE)])
    return Report(
        {"runs": told_runs(rows), "multiples": multiples},
        [seconds_table("Check", rows), _multiples_table("Check", multiples)],
        [Target(f"times {BARE}, {COLD}", spread(multiples["seconds"][f"{COLD} by {BARE}"])[0], MOST_BARE)],
    )


def help_(bench: Bench) -> Report:
    """`leaklore --help` beside a bare interpreter, and what importing the command costs."""
    at = bench.scratch
    ways = {
        HELP: lambda: run("leaklore", "--help", cwd=at),
        "python -c pass": lambda: run("python", "-c", "pass", cwd=at),
    }
    ways[HELP]()  # unmeasured: compiles what is not yet compiled
    rows = in_turn(bench, "help", ways, 7)
    said = run("python", "-X", "importtime", "-c", "import leaklore.cli", cwd=at).out
    costs = importing(said)
    table = Table(title="import leaklore.cli: what takes longest, ms of each package's own modules")
    for head in ("package", "ms"):
        table.add_column(head)
    for name, ms in costs[:5]:
        table.add_row(name, f"{ms:.1f}")
    return Report(
        {"runs": told_runs(rows), "importing_ms": dict(costs)},
        [seconds_table("Help", rows), table],
        [Target("s of leaklore --help", median([r.seconds for r in rows[HELP]]), MOST_HELP)],
    )


def importing(said: str) -> list[tuple[str, float]]:
    """(package, ms of its own modules) from what `python -X importtime` says, dearest first."""
    found: dict[str, float] = defaultdict(float)
    for own, module in re.findall(r"import time: +(\d+) \| +\d+ \| +(\S+)", said):
        found[module.partition(".")[0]] += int(own) / 1000
    return sorted(found.items(), key=lambda item: -item[1])


# ---------------------------------------------------------------------------------------------- size


def size(bench: Bench) -> Report:
    """Bytes of the site, by kind of file, and its heaviest pages."""
    folder = bench.place(bench.cases)
    if not (folder / "site").exists():
        build(folder)
    site = folder / "site"
    kinds: dict[str, list[int]] = defaultdict(list)
    pages: list[tuple[int, str]] = []
    blocks: dict[int, int] = {}
    for file in site.rglob("*"):
        if not file.is_file():
            continue
        stat = file.stat()
        kinds[file.suffix].append(stat.st_size)
        blocks[stat.st_ino] = stat.st_blocks * 512
        if file.suffix == ".html":
            packed = len(gzip.compress(file.read_bytes(), 9, mtime=0))
            pages.append((packed, file.relative_to(site).as_posix()))
    whole, disk = sum(map(sum, kinds.values())), sum(blocks.values())
    heaviest = sorted(pages, reverse=True)[:10]
    table = Table(title=f"Site: {whole / 1e6:.1f} MB, {disk / 1e6:.1f} MB of disk blocks")
    for head in ("kind", "files", "MB"):
        table.add_column(head)
    for kind, sizes in sorted(kinds.items(), key=lambda item: -sum(item[1]))[:8]:
        table.add_row(kind or "none", str(len(sizes)), f"{sum(sizes) / 1e6:.1f}")
    heavy = Table(title="Heaviest pages, gzip -9, without pictures and scripts")
    for head in ("page", "kB"):
        heavy.add_column(head)
    for packed, name in heaviest:
        heavy.add_row(name, f"{packed / 1e3:.1f}")
    figures = {
        "bytes": whole, "disk_bytes": disk, "kinds": {k: [len(v), sum(v)] for k, v in kinds.items()},
        "heaviest": [[name, packed] for packed, name in heaviest],
    }  # fmt: skip
    targets = [
        Target("MB of the site", whole / 1e6, MOST_SITE / 1e6),
        Target("kB of the heaviest page, gzipped", heaviest[0][0] / 1e3, MOST_PAGE / 1e3),
    ]
    return Report(figures, [table, heavy], targets)


# ---------------------------------------------------------------------------------------------- growth


def growth(bench: Bench) -> Report:
    """Cold builds of a tenth, three tenths, one, three and, if asked for, ten times the cases."""
    sizes = [max(1, round(bench.cases * times)) for times in (0.1, 0.3, 1, 3)]
    rows: dict[int, list[Run]] = defaultdict(list)
    for number in range(bench.runs):
        for cases in sizes + ([10 * bench.cases] if bench.large and not number else []):
            folder = bench.place(cases)
            empty(folder)
            bench.rest(f"growth: {cases} cases, run {number + 1} of {bench.runs}")
            rows[cases].append(build(folder, watch=True))
            empty(folder)
    seconds = {n: median([r.seconds for r in runs]) for n, runs in rows.items()}
    memory = {n: median([r.peak for r in runs]) for n, runs in rows.items()}
    table = Table(
        title="Cold builds: median (least to most); slope: of log seconds over log cases since the row above"
    )
    for head in ("cases", "n", "s", "CPU s", "s per 1,000", "slope", "peak MiB", "others, cores"):
        table.add_column(head)
    slopes: dict[int, float] = {}
    before = 0
    for n, runs in rows.items():
        if before:
            slopes[n] = log(seconds[n] / seconds[before]) / log(n / before)
        table.add_row(
            f"{n:,}", str(len(runs)), told(spread([r.seconds for r in runs])),
            told(spread([r.cpu for r in runs])), f"{1000 * seconds[n] / n:.2f}",
            f"{slopes[n]:.2f}" if before else "", told(spread([r.peak for r in runs]), ".0f", 2**20),
            told(spread([r.others for r in runs])),
        )  # fmt: skip
        before = n
    overall = slope(list(seconds), list(seconds.values()))
    cpu = slope(list(rows), [median([r.cpu for r in runs]) for runs in rows.values()])
    table.caption = f"Slope over all sizes: seconds {overall:.2f}, CPU seconds {cpu:.2f}, memory {slope(list(memory), list(memory.values())):.2f}"
    top, last = 10 * bench.cases, before
    peak, how = memory[last], ""
    if last != top:
        line = statistics.linear_regression(list(memory), list(memory.values()))
        peak, how = line.intercept + line.slope * top, ", by a straight line through the sizes above"
    figures = {
        "runs": told_runs({str(n): runs for n, runs in rows.items()}), "slopes": slopes, "slope": overall, "cpu_slope": cpu,
        "peak_at_ten_times": peak, "peak_estimated": bool(how),
    }  # fmt: skip
    targets = [
        Target(f"slope of seconds up to {last:,} cases, from the size below", slopes[last], MOST_SLOPE),
        Target(f"GiB at the most at {top:,} cases{how}", peak / 2**30, MOST_MEMORY / 2**30),
    ]
    return Report(figures, [table], targets)


def slope(sizes: Sequence[float], values: Sequence[float]) -> float:
    """Of log values over log sizes, by least squares: 1 is linear."""
    return statistics.linear_regression([log(n) for n in sizes], [log(v) for v in values]).slope
