"""MkDocs as the page engine of the command; another engine would offer the same two methods."""

from __future__ import annotations

import logging
import sys
import time
from pathlib import Path
from typing import Any

from mkdocs.commands import build as mkdocs_build
from mkdocs.config import load_config
from mkdocs.exceptions import MkDocsException

from leaklore.errors import LeakloreError, LibraryBroken
from leaklore.records.model import Audience
from leaklore.workers import Workers, usual


class MkDocsEngine:
    """Builds and serves by MkDocs's own commands, so that both ways give the same site."""

    def build(
        self,
        config_file: Path,
        workers: Workers | None = None,
        afresh: bool = False,
        audience: Audience = "all",
    ) -> dict[str, Any]:
        """Builds strictly, for `audience`; returns pages, how many were taken over, site and seconds. `afresh`: nothing is taken over from the build before."""
        start = time.perf_counter()
        config = self._load(config_file)
        plugin: Any = config.plugins["leaklore"]
        plugin.workers = workers or usual()
        plugin.afresh = afresh
        plugin.audience = audience
        config.plugins.on_startup(command="build", dirty=False)
        try:
            mkdocs_build.build(config)
        except MkDocsException as fault:
            told = str(fault)
            if told.startswith("Aborted"):  # what is wrong has been told above
                told = "nothing was built; the last good site stays"
            raise LibraryBroken(told) from None
        finally:
            config.plugins.on_shutdown()
        return {
            "pages": plugin.counts.pages,
            "as_before": plugin.counts.taken_over,
            "site": str(plugin.site),
            "seconds": time.perf_counter() - start,
        }

    def serve(self, config_file: Path, address: str) -> None:
        """Serves with live reload until it is stopped."""
        from mkdocs.commands import serve as mkdocs_serve  # a build needs no server

        self._load(config_file)
        logging.getLogger("mkdocs").setLevel(logging.INFO)
        try:
            mkdocs_serve.serve(config_file=str(config_file), dev_addr=address, livereload=True)
        except MkDocsException as fault:
            raise LeakloreError(str(fault)) from None

    def _load(self, config_file: Path) -> Any:
        if not config_file.exists():
            raise LeakloreError(f'there is no "{config_file}"; run this in the folder that holds mkdocs.yml')
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(logging.Formatter("%(message)s"))
        logger = logging.getLogger("mkdocs")
        if not logger.handlers:
            logger.addHandler(handler)
        logger.setLevel(logging.WARNING)
        try:
            config = load_config(config_file=str(config_file), strict=True)
        except MkDocsException as fault:
            raise LeakloreError(str(fault)) from None
        except OSError as fault:
            raise LeakloreError(f"{config_file}: {fault.strerror or fault}") from None
        if "leaklore" not in config.plugins:
            raise LeakloreError(f"{config_file}: names no plugin leaklore; write `plugins: [leaklore]`")
        return config
