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
from leaklore.records.parse import syntax_fault
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

        _refuse_port(address)
        self._load(config_file)
        logging.getLogger("mkdocs").setLevel(logging.INFO)
        try:
            mkdocs_serve.serve(config_file=str(config_file), dev_addr=address, livereload=True)
        except MkDocsException as fault:
            raise LeakloreError(str(fault)) from None

    def _load(self, config_file: Path) -> Any:
        if config_file.exists() and not config_file.is_file():
            raise LeakloreError(f'"{config_file}" is no file; name the mkdocs.yml itself')
        if not config_file.exists():
            raise LeakloreError(f'there is no "{config_file}"; run this in the folder that holds mkdocs.yml')
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(logging.Formatter("%(message)s"))
        logger = logging.getLogger("mkdocs")
        if not logger.handlers:
            logger.addHandler(handler)
        logger.setLevel(logging.WARNING)
        try:
            _refuse_syntax(config_file)
            config = load_config(config_file=str(config_file), strict=True)
        except MkDocsException as fault:
            raise LeakloreError(str(fault)) from None
        except OSError as fault:
            raise LeakloreError(f"{config_file}: {fault.strerror or fault}") from None
        except RecursionError:
            raise LeakloreError(
                f"{config_file}: is nested too deeply, or inherits from itself; compare with the one that `leaklore init` writes"
            ) from None
        except (TypeError, ValueError, AttributeError, KeyError) as fault:  # MkDocs looks at no kind first
            raise LeakloreError(
                f"{config_file}: MkDocs can't make anything of it ({fault}); compare with the one that `leaklore init` writes"
            ) from None
        if "leaklore" not in config.plugins:
            raise LeakloreError(f"{config_file}: names no plugin leaklore; write `plugins: [leaklore]`")
        return config


def _refuse_syntax(config_file: Path) -> None:
    """Raises LeakloreError with line and column where the file is no YAML; what its keys may hold, MkDocs says."""
    found = syntax_fault(config_file.read_bytes())
    if found is not None:
        raise LeakloreError(f"{config_file}:{found.line}:{found.column}: {found.message}; {found.instead}")


def _refuse_port(address: str) -> None:
    port = address.rpartition(":")[2]
    if port.isdecimal() and int(port) > 65535:
        raise LeakloreError(f'--address "{address}": ports end at 65535; write for example 127.0.0.1:8000')
