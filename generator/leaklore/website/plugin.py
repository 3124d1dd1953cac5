"""The MkDocs plugin: hooks only. Each hook calls the layer below and hands over.

on_config reads and checks the library and makes its photos; on_files adds the shell's page and takes guide overrides away;
on_post_page keeps the shell; on_post_build fills it for every page and puts the site into place.
"""

from __future__ import annotations

import logging
import traceback
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.livereload import LiveReloadServer
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.pages import Page
from mkdocs.utils import CountHandler

from leaklore import report
from leaklore.errors import LeakloreError
from leaklore.pages import display, photos
from leaklore.pages.book import Book
from leaklore.pages.patterns import drawing
from leaklore.pages.render import theme
from leaklore.problem import errors
from leaklore.records import check, guide, schema
from leaklore.records.today import today
from leaklore.website import place, write
from leaklore.website.banner import banner
from leaklore.website.config import LeakloreConfig
from leaklore.website.history import last_changes
from leaklore.website.shell import Shell

log = logging.getLogger("mkdocs.plugins.leaklore")
SHELL = "leaklore-shell.md"


class LeaklorePlugin(BasePlugin[LeakloreConfig]):
    """State of one build is set in on_config; what is kept across rebuilds of `serve` stays on the object."""

    def on_startup(self, *, command: str, dirty: bool) -> None:
        """Its presence keeps this object alive across rebuilds."""
        self.command = command

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Reads and checks the library; under `build` an error ends here, before anything is written."""
        base = Path(config.config_file_path or ".").resolve().parent
        self.library_root = base / self.config.library if self.config.library else Path(config.docs_dir)
        before = getattr(self, "result", None)
        try:
            self.result = check.check(self.library_root)
        except LeakloreError as fault:
            raise PluginError(str(fault)) from None
        if self.result.library is None and before is not None and self.command == "serve":
            # an exception would leave the browser waiting: go on with the library as it last was
            self.result = replace(self.result, library=before.library)
        self.pictures: Mapping[photos.Key, photos.Picture] = {}
        if self.result.library is not None and (self.command == "serve" or not self.result.failed):
            try:
                made = photos.make(self.result.library, base / ".cache" / "photos")
            except LeakloreError as fault:
                raise PluginError(f"{fault}; the last good site stays") from None
            self.pictures = made.pictures
            self.result = replace(self.result, problems=(*self.result.problems, *made.problems))
        for problem in self.result.problems:
            text = problem.text()
            log.error(text) if problem.severity == "error" else log.info(text)
        faults = errors(self.result.problems)
        if (faults and self.command != "serve") or self.result.library is None:
            raise PluginError(
                report.summary(self.result.problems, self.result.counts) + "; the last good site stays"
            )
        self.shell: Shell | None = None
        self.notes: list[str] = []
        self.site = Path(config.site_dir)
        self.banner = banner(faults) if self.command == "serve" else ""
        if self.command != "serve":
            config.site_dir = str(place.aside(self.site))
        config.exclude_docs = None
        if theme().resolve() not in [Path(d).resolve() for d in config.theme.dirs]:
            config.theme.dirs.insert(-1, str(theme()))  # what a company's own folder leaves out
        config.theme.static_templates.discard("sitemap.xml")  # MkDocs's would list the shell, or nothing
        return config

    def on_serve(
        self, server: LiveReloadServer, /, *, config: MkDocsConfig, builder: Any
    ) -> LiveReloadServer:
        """Watches what the pages are made of; photos are left out, for polling them is dear."""
        server.unwatch(config.docs_dir)
        for name in ("records", "reading", "house", "systems.yaml", "company.yaml"):
            path = self.library_root / name
            if path.exists():
                server.watch(str(path))
        for path in (guide.SHIPPED, schema.folder(), *map(Path, config.theme.dirs[:1])):
            if path.exists():
                server.watch(str(path))
        return server

    def on_files(self, files: Files, /, *, config: MkDocsConfig) -> Files:
        """Only notes of the house are MkDocs's: no original of a photo; one generated page catches the shell."""
        for file in list(files):
            uri = file.src_uri
            if file.src_dir != config.docs_dir:
                continue  # the theme's own
            note = uri.startswith("house/") and uri.endswith(".md") and uri.count("/") == 1
            if not note:
                files.remove(file)
        files.append(File.generated(config, SHELL, content="# Shell\n", inclusion=InclusionLevel.NOT_IN_NAV))
        return files

    def on_page_context(self, context: Any, /, *, page: Page, config: MkDocsConfig, nav: Any) -> Any:
        """Tells the template whether it draws the shell or a note of the house."""
        context["leaklore_shell"] = page.file.src_uri == SHELL
        context["company"] = self.result.library.company if self.result.library else None
        context["leaklore_banner"] = self.banner
        context["leaklore_day"] = today()
        context["leaklore_day_written"] = display.day(today())
        context["leaklore_serving"] = self.command == "serve"  # live reload is an inline script of MkDocs
        return context

    def on_post_page(self, output: str, /, *, page: Page, config: MkDocsConfig) -> str:
        """Keeps the shell and does not write it."""
        if page.file.src_uri != SHELL:
            self.notes.append(page.url)
            return output
        try:
            self.shell = Shell.split(output)
        except LeakloreError as fault:
            raise PluginError(f"main.html: {fault}; the last good site stays") from None
        return ""

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Fills the shell for every page and puts the site into its place."""
        library = self.result.library
        if self.shell is None or library is None:
            raise PluginError("the shell page was not built")
        overrides = Path(config.theme.custom_dir) if config.theme.custom_dir else theme()
        book = Book(library, today(), last_changes(library.root), self.pictures)
        target = Path(config.site_dir)
        charts = Path(config.config_file_path or ".").resolve().parent / ".cache" / "charts"
        try:
            with drawing.kept_in(charts):
                self.pages_written = write.site(
                    book, self.shell, target, overrides, self.banner, self.notes, keep=self.command != "serve"
                )
        except LeakloreError as fault:
            raise PluginError(f"{fault}; the last good site stays") from None
        if self.command != "serve":
            if config.strict and (told := _warnings()):
                raise PluginError(
                    f"{told} warning{'s' if told != 1 else ''} in strict mode; the last good site stays"
                )
            place.swap(target, self.site)
            config.site_dir = str(self.site)

    def on_build_error(self, *, error: Exception, **_: Any) -> None:
        """Takes the half-made site away, and tells a template's mistake by its place."""
        if self.command != "serve" and hasattr(self, "site"):
            place.drop(self.site)
        if type(error).__module__ == "jinja2.exceptions":  # only pages may import it
            raise PluginError(f"{_place_of(error)}{error}; the last good site stays") from None


def _warnings() -> int:
    """Warnings and errors that MkDocs has counted in this strict build."""
    for handler in logging.getLogger("mkdocs").handlers:
        if isinstance(handler, CountHandler):
            return sum(count for _, count in handler.get_counts())
    return 0


def _place_of(fault: Exception) -> str:
    """`path:line: ` of the template in which it happened, as far as that is known."""
    frames = [f for f in traceback.extract_tb(fault.__traceback__) if f.filename.endswith(".html")]
    return f"{frames[-1].filename}:{frames[-1].lineno}: " if frames else ""
