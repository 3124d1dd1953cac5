"""The MkDocs plugin: hooks only. Each hook calls the layer below and hands over.

on_config reads and checks the library and makes its photos; on_files adds the shell's page and takes guide overrides away;
on_post_page keeps the shell; on_post_build fills it for every page and puts the site into place.
"""

from __future__ import annotations

import gc
import logging
import shutil
import sys
import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.pages import Page
from mkdocs.utils import CountHandler

from leaklore import language, own_words, report
from leaklore.ending import afterwards
from leaklore.errors import LeakloreError
from leaklore.pages import audience, display, links, photos
from leaklore.pages.book import Book
from leaklore.pages.needs import Needs, digest, program
from leaklore.pages.patterns import drawing
from leaklore.pages.recall import Recall
from leaklore.pages.render import theme
from leaklore.problem import errors
from leaklore.records import check, guide, house, schema
from leaklore.records.audience import seen_by
from leaklore.records.library import Library
from leaklore.records.model import Audience
from leaklore.records.store import unhindered
from leaklore.records.today import today
from leaklore.website import ahead, at_once, lock, place, press, write
from leaklore.website.ahead import Ahead
from leaklore.website.at_once import AtOnce
from leaklore.website.banner import banner
from leaklore.website.behind import SOON, Behind, reload
from leaklore.website.config import LeakloreConfig
from leaklore.website.history import last_changes
from leaklore.website.memory import NONE, Memory, Past, load
from leaklore.website.shell import Shell
from leaklore.workers import Processes, Workers, freeze, thaw, usual

if TYPE_CHECKING:
    from mkdocs.livereload import LiveReloadServer

log = logging.getLogger("mkdocs.plugins.leaklore")
SHELL = "leaklore-shell.md"
HOUSE = "house"
"""Folder of the company's own notes, in Markdown."""
SHARED = ("charts", "photos", "records", "templates")
"""What .cache holds for all sites of a library."""
OF_A_SITE = ("facts", "packs", "pages", "texts", "words")
"""What it holds for each: an edition for the crew does not take from that for everybody."""
RECALLED = ("facts", "texts", "words")
"""What in it spares a build work that `--afresh` asks for, as do the templates."""


class LeaklorePlugin(BasePlugin[LeakloreConfig]):
    """State of one build is set in on_config; what is kept across rebuilds of `serve` stays on the object."""

    held: lock.Held | None = None
    warned = ""
    workers: Workers = usual()
    afresh = False
    audience: Audience = "all"
    kept: Past | None = None
    ahead: Ahead | None = None
    served: AtOnce | None = None
    whole: Behind | None = None

    def __init__(self) -> None:
        super().__init__()
        self.marks: at_once.Marks = {}
        self.swapping = threading.Lock()
        """Under `serve` one thread builds the whole, another writes into what is served."""

    def on_startup(self, *, command: str, dirty: bool) -> None:
        """Its presence keeps this object alive across rebuilds."""
        self.command = command

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Reads and checks the library; under `build` an error ends here, before anything is written."""
        base = Path(config.config_file_path or ".").resolve().parent
        self.library_root = base / self.config.library if self.config.library else Path(config.docs_dir)
        self.site = Path(config.site_dir)
        if self.command != "serve":
            self._only_build(base / ".cache")
        # `serve` makes its site elsewhere each time
        own = "sites/serve" if self.command == "serve" else f"sites/{place.key(self.site)}"
        if self.afresh:
            for part in ("templates", *(f"{own}/{part}" for part in RECALLED)):
                shutil.rmtree(base / ".cache" / part, ignore_errors=True)
        parts = (*SHARED, *(f"{own}/{part}" for part in OF_A_SITE))
        self.cache, warning = place.cache(base / ".cache", parts, self.site)
        self.own = self.cache / own
        target = place.aside(self.site)
        if self.command != "serve" and not self.afresh and isinstance(self.workers, Processes):
            self.ahead = ahead.begin(self.own / "pages", self.site, target)
        if warning != self.warned:  # on standard error, for a logged warning would end a strict build
            print(warning, file=sys.stderr)
            self.warned = warning
        before = getattr(self, "result", None)
        if self.command == "serve" and (self.library_root / "records").is_dir():
            self.marks = at_once.marks(self.library_root)
        try:
            with unhindered():
                self.result = check.check(
                    self.library_root,
                    workers=self.workers if self.workers.shares_disk else usual(),
                    cache=self.cache / "records",
                )
                if self.result.library is not None:
                    self.result = replace(self.result, library=seen_by(self.result.library, self.audience))
                if self.command != "serve":
                    freeze()  # the library stays to the end: else a quarter of the time goes to looking through it
        except LeakloreError as fault:
            raise PluginError(str(fault)) from None
        if self.result.library is None and before is not None and self.command == "serve":
            # an exception would leave the browser waiting: go on with the library as it last was
            self.result = replace(self.result, library=before.library)
        self.pictures: Mapping[photos.Key, photos.Picture] = {}
        if self.result.library is not None and (self.command == "serve" or not self.result.failed):
            try:
                made = photos.make(self.result.library, self.cache / "photos")
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
        company = self.result.library.company
        language.use(own_words.spoken(company.language, self.library_root / "house" / "words.po"))
        if len(self.result.library.cases) > write.MANY:
            gc.enable()  # there memory counts more than time
        self._open(self.result.library, config)
        self.shell: Shell | None = None
        self.notes: list[str] = []
        self.banner = banner(faults) if self.command == "serve" else ""
        config.site_dir = str(target)
        # to walk through the records would take MkDocs long, and on_files takes its own from there
        self.docs, config.docs_dir = config.docs_dir, str(target / "no-docs")
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
        whole = self.whole = Behind(builder, lambda: reload(server))

        def first_what_was_edited() -> None:
            """The pages of an edited record; the whole follows by itself. Anything else waits for the whole."""
            with self.swapping:
                before = self.served
                after = before.follow() if before else None
                self.served = after if after is not before else None
                shown = self.served is not None
            whole.want(after=SOON if shown else 0)
            if not shown:
                whole.wait()

        server.builder = first_what_was_edited
        return server

    def on_files(self, files: Files, /, *, config: MkDocsConfig) -> Files:
        """Only notes of the house are MkDocs's, which are the crew's; one generated page catches the shell."""
        config.docs_dir = self.docs
        if self.audience != "customer":
            for note in house.notes(Path(self.docs) / HOUSE):
                if isinstance(house.read(note), str):  # `serve` goes on where one can't be read
                    name = f"{HOUSE}/{note.name}"
                    files.append(File(name, self.docs, config.site_dir, config.use_directory_urls))
        files.append(File.generated(config, SHELL, content="# Shell\n", inclusion=InclusionLevel.NOT_IN_NAV))
        return files

    def on_page_content(self, html: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """In a note of the house [[references]] become links; MkDocs knows only its own pages."""
        if page.file.src_uri == SHELL:
            return html
        return self.book.prose.linked(html, links.root_from(page.url))

    def on_page_context(self, context: Any, /, *, page: Page, config: MkDocsConfig, nav: Any) -> Any:
        """Tells the template whether it draws the shell or a note of the house."""
        context["leaklore_shell"] = page.file.src_uri == SHELL
        context["company"] = self.result.library.company if self.result.library else None
        context["leaklore_banner"] = self.banner
        context["leaklore_day"] = today()
        context["leaklore_day_written"] = display.day(today())
        context["leaklore_language"] = language.current()
        context["_"] = language.gettext
        context["leaklore_shows"] = lambda address: audience.shown(self.audience, address)
        context["leaklore_made_for"] = language.gettext(audience.MADE_FOR[self.audience])
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
        if self.shell is None:
            raise PluginError("the shell page was not built")
        target = Path(config.site_dir)
        serving = self.command == "serve"
        past = NONE if self.afresh else self._before()
        book, needs = self.book, self.needs
        needs.look, needs.known = digest([repr(self.shell.parts), self.banner]), past.known
        order = write.Order(
            self.shell,
            self.overrides,
            self.banner,
            self.notes,
            keep=not serving,
            packs=self.own / "packs",
            texts=Recall(self.own / "texts", digest([needs.common, needs.register])),
            compiled=Recall(self.cache / "templates", digest([self.makes, language.current().digest])),
        )
        memory = Memory(self.site, needs, past, None if serving else self.own / "pages", self.ahead)
        try:
            with drawing.kept_in(self.cache / "charts"):
                self.counts = write.site(book, order, target, self.workers, memory)
                self.kept = memory.now()
        except LeakloreError as fault:
            raise PluginError(f"{fault}; the last good site stays") from None
        if not serving and config.strict and (told := _warnings()):
            raise PluginError(
                f"{told} warning{'s' if told != 1 else ''} in strict mode; the last good site stays"
            )
        with self.swapping:
            served = (
                AtOnce.of(
                    write.press_of(book, order), target, self.marks
                ).follow()  # what came while this was built
                if serving and not self.banner
                else None
            )
            place.swap(target, self.site)
            self.served = replace(served, site=self.site) if served else None
        config.site_dir = str(self.site)
        self._leave(well=True)

    def _open(self, library: Library, config: MkDocsConfig) -> None:
        """The book of this build. What takes long begins while MkDocs draws the shell."""
        self.overrides = Path(config.theme.custom_dir) if config.theme.custom_dir else theme()
        self.makes = program(self.overrides)
        recall, words = Recall(self.own / "facts"), Recall(self.own / "words")
        self.book = Book(library, today(), last_changes(library.root), self.pictures, recall, words)
        self.needs = Needs(self.book, self.makes)
        recall.basis, words.basis = self.needs.facts, self.needs.common
        if self.command != "serve" and isinstance(self.workers, Processes):
            self.book.begin(early=True)

    def _before(self) -> Past:
        """What the build before has made: of this process under `serve`, else of the one that ran last."""
        if self.kept is None and self.command != "serve":
            self.kept = load(self.own / "pages", first=True)
        return self.kept or NONE

    def on_build_error(self, *, error: Exception, **_: Any) -> None:
        """Takes the half-made site away, and tells a template's mistake by its place."""
        if self.whole is not None and self.whole.over:
            raise SystemExit from None  # MkDocs would tell it as a fault
        told = place.told(error, getattr(self, "site", Path())) if isinstance(error, OSError) else ""
        self._leave()  # after `told`, which looks at what is free
        if fault := press.template_fault(error):
            raise PluginError(f"{fault}; the last good site stays") from None
        if told:
            raise PluginError(f"{told}; the last good site stays") from None

    def on_shutdown(self) -> None:
        """Whatever ended the build: nothing half-made and no lock stays."""
        if self.whole is not None and self.whole.end():
            place.sweep(self.cache)
        self._leave()

    def _only_build(self, cache: Path) -> None:
        """Waits until no other build makes this site, and tidies up after one that was killed."""
        try:
            self.held = lock.hold(self.site)
        except LeakloreError as fault:
            raise PluginError(f"{fault}; the last good site stays") from None
        place.recover(self.site)
        if why := place.refused(self.site):
            self._leave()
            raise PluginError(
                f'mkdocs.yml: site_dir: "{self.site}" {why}, and a build takes the place of all that lies there; '
                "name a folder that is new or empty"
            )
        if self.held.killed:
            place.sweep(cache)

    def _leave(self, well: bool = False) -> None:
        """Without the lock what lies beside the site is another build's. `well`: nobody waits until the site before is gone."""
        thaw()
        if self.ahead is not None:
            self.ahead.end()
            self.ahead = None
        if self.held is not None:
            site, held, self.held = self.site, self.held, None
            late = well and held.lasting and not place.is_alone(site)
            afterwards(lambda: _tidy(site, held)) if late else _tidy(site, held)
        elif self.command == "serve" and hasattr(self, "site"):
            place.drop(self.site)


def _tidy(site: Path, held: lock.Held) -> None:
    place.drop(site)
    held.release()


def _warnings() -> int:
    """Warnings and errors that MkDocs has counted in this strict build."""
    for handler in logging.getLogger("mkdocs").handlers:
        if isinstance(handler, CountHandler):
            return sum(count for _, count in handler.get_counts())
    return 0
