"""Paper: HTML files of ours that need nothing beside them, printed to PDF by the Chromium of the machine."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from leaklore.errors import LeakloreError

PATIENCE = 120
"""Seconds that the browser may take for a PDF."""


def browser() -> str | None:
    """The command that prints, if there is one."""
    return shutil.which("chromium")


def pdf(html: str, instead: str) -> bytes:
    """The PDF of an HTML file. Raises LeakloreError that ends in `instead` where there is none to be had."""
    command = browser()
    if command is None:
        raise LeakloreError(f"a PDF needs Chromium, and there is no command `chromium`; {instead}")
    with tempfile.TemporaryDirectory(prefix="leaklore-print-") as name:
        folder = Path(name)
        page, out = folder / "page.html", folder / "page.pdf"
        page.write_text(html, "utf-8")
        words = [
            command,
            "--headless",
            "--disable-gpu",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-first-run",
            f"--user-data-dir={folder / 'profile'}",
            "--no-pdf-header-footer",
            f"--print-to-pdf={out}",
            page.as_uri(),
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            words.insert(1, "--no-sandbox")  # Chromium has none for root; the page is ours and has no script
        try:
            done = subprocess.run(words, capture_output=True, timeout=PATIENCE, check=False)
        except (OSError, subprocess.TimeoutExpired) as wrong:
            raise LeakloreError(f"Chromium made no PDF ({type(wrong).__name__}); {instead}") from None
        if done.returncode != 0 or not out.exists() or not out.stat().st_size:
            last = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:]
            raise LeakloreError(f"Chromium made no PDF ({''.join(last) or 'it said nothing'}); {instead}")
        return out.read_bytes()
