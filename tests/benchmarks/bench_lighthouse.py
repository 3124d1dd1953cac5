"""Lighthouse on a phone: performance, accessibility and best practices of the home page, the search and a case.

Lighthouse comes from the npm registry by tests/benchmarks/lighthouse/package-lock.json into .cache/lighthouse, and
measures site/ (run `make site` before). Exit status 1 where a score is below 95.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from bench_search import serving

ROOT = Path(__file__).parents[2]
LOCKED = Path(__file__).with_name("lighthouse")
FOLDER = ROOT / ".cache" / "lighthouse"
PAGES = ("", "search/", "search/?q=oil+at+flare+minisplit", "cases/KW-2025-014/")
LEAST = 95
RUNS = 3


def main() -> int:
    """Prints the median score of each page and category."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name in ("package.json", "package-lock.json"):
        shutil.copy(LOCKED / name, FOLDER)
    subprocess.run(["npm", "ci", "--no-audit", "--no-fund", "--silent"], cwd=FOLDER, check=True)
    low = 0
    with serving(ROOT / "site") as address:
        for page in PAGES:
            scores: dict[str, list[float]] = {}
            for _ in range(RUNS):
                subprocess.run(
                    [
                        FOLDER / "node_modules/.bin/lighthouse",
                        f"{address}{page}",
                        "--quiet",
                        "--output=json",
                        f"--output-path={FOLDER / 'told.json'}",
                        "--chrome-flags=--headless --no-sandbox --disable-gpu",
                        "--only-categories=performance,accessibility,best-practices",
                    ],
                    env={**os.environ, "CHROME_PATH": "/usr/bin/chromium"},
                    check=True,
                )
                told = json.loads((FOLDER / "told.json").read_text("utf-8"))
                for key, category in told["categories"].items():
                    scores.setdefault(key, []).append(100 * category["score"])
            medians = {key: sorted(values)[len(values) // 2] for key, values in scores.items()}
            low += sum(value < LEAST for value in medians.values())
            print(f"/{page}", ", ".join(f"{key} {value:.0f}" for key, value in medians.items()))
    return 1 if low else 0


if __name__ == "__main__":
    sys.exit(main())
