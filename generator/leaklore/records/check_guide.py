"""Reads and checks the guide: shipped entries, the company's own over them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from leaklore.language import SOURCE
from leaklore.problem import Finding, Pointer, pointer_text
from leaklore.records import guide as guide_files
from leaklore.records import parse, prose, source
from leaklore.records.gather import Gathered
from leaklore.records.guide import REF_KINDS, SECTIONS, Entry, Guide, GuideFile
from leaklore.records.near import did_you_mean, nearest
from leaklore.records.parse import short
from leaklore.records.plain import GROUPS, KEYED, Plain, plain_of, usable
from leaklore.records.rules import Context
from leaklore.records.rules.references import unknown_references
from leaklore.records.schema import Schemas
from leaklore.records.source import Unreadable
from leaklore.records.vocabulary import NOUNS, Vocabulary, as_terms

Documents = dict[str, GuideFile]
_LIKENESS = 80
"""Of 100, from which on a heading is a section's that was meant; others may be a company's own, in its language."""
_KIND_OF = {"failure-modes": "mode", "techniques": "technique"}
MOST_SHORT = 100
"""Characters of a caution's short form."""


@dataclass(frozen=True)
class Asked:
    """Facts to be held to a schema once the vocabulary is known; `at` is their place in the file."""

    schema: str
    path: str
    at: Pointer
    facts: Any


@dataclass(frozen=True)
class GuideRead:
    """The guide, its files by path with the positions of their values, and what the schema is to check."""

    guide: Guide
    documents: Documents
    asked: list[Asked] = field(default_factory=list)


@dataclass
class _Spoken:
    """What the files of phrases say; a dict of words to None keeps their order and each of them once."""

    places: dict[str, dict[str, list[str]]] = field(
        default_factory=lambda: {kind: {} for kind in guide_files.SPOKEN}
    )
    """Kind -> phrase -> the keys that it may mean."""
    grammar: dict[str, dict[str, None]] = field(
        default_factory=lambda: {office: {} for office in guide_files.GRAMMAR}
    )

    def by_key(self) -> dict[str, dict[str, tuple[str, ...]]]:
        """Kind -> key -> phrases."""
        turned: dict[str, dict[str, list[str]]] = {kind: {} for kind in self.places}
        for kind, phrases in self.places.items():
            for phrase, keys in phrases.items():
                for key in keys:
                    turned[kind].setdefault(key, []).append(phrase)
        return {kind: {key: tuple(said) for key, said in keys.items()} for kind, keys in turned.items()}


@dataclass
class _Reader:
    """Reads guide files; notes problems, positions and what the schema has to look at."""

    root: Path
    house: Path | None
    got: Gathered
    documents: Documents = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)
    unread: dict[str, str | None] = field(default_factory=dict)
    """As `Guide.unread`."""

    def page(self, file: Path, folder: str, key: str) -> Entry | None:
        """A page of the guide; None where it is no use, which is then noted."""
        entry = self._page(file, folder, key)
        if entry is None:
            self._miss(key, (REF_KINDS[_KIND_OF[folder]],))
        return entry

    def _page(self, file: Path, folder: str, key: str) -> Entry | None:
        found = source.read(file, self._base(file))
        if isinstance(found, Unreadable):
            self.got.unreadable(found)
            return None
        page = guide_files.split_front_matter(found)
        if isinstance(page, list):
            self.got.add(found.path, None, page)
            return None
        self.documents[found.path] = page
        facts = page.document.data
        if not isinstance(facts, dict):
            self._tell(page, (), "the front matter is not a block of keys", "write `key: value`")
            return None
        if facts.get("key") != key:
            written = short(facts.get("key", ""))
            self._miss(written, (REF_KINDS[_KIND_OF[folder]],))
            self._tell(
                page,
                ("key",),
                f'key: "{written}" and the file name "{file.name}" differ',
                f"write key: {key}",
                "id/file-name",
            )
            return None
        self.asked.append(Asked(guide_files.PAGES[folder], found.path, (), facts))
        if not _usable(facts):
            return None
        entry = Entry(_KIND_OF[folder], key, facts, page.body, found.path, found.digest, page.body_line)
        self.got.add(found.path, page.document, list(_misnamed(entry)))
        return entry

    def list_of(self, name: str, files: Iterable[Path]) -> dict[str, Any]:
        """Entries of a vocabulary file by key, the company's over the shipped."""
        merged: dict[str, Any] = {}
        for file in files:
            page = self._list_file(file, list, "a list of entries", "begin each entry with `- key:`", (name,))
            for i, facts in self._entries(page, page.document.data if page else ()):
                assert page is not None
                path = page.source.path
                if name == "cautions":
                    if self._plain(page, (i,), facts, ("key", "name", "text")):
                        merged[facts["key"]] = facts
                    else:
                        self._miss_file(file, (name,))
                    continue
                self.asked.append(Asked(guide_files.LISTS[name], path, (i,), facts))
                if not _usable(facts):
                    self._miss_file(file, (name,))
                else:
                    merged[facts["key"]] = Entry(
                        guide_files.LISTS[name],
                        facts["key"],
                        {**facts, "_at": i},
                        facts.get("what", ""),
                        path,
                        page.source.digest,
                    )
        return merged

    def vocabulary(self, files: Iterable[Path]) -> dict[str, Any]:
        """The small vocabularies by name, the company's words beside the shipped."""
        merged: dict[str, Any] = {group: {} for group in guide_files.SMALL}
        for file in files:
            begin = f"begin with `{guide_files.SMALL[0]}:`"
            page = self._list_file(file, dict, "a block of lists", begin, guide_files.SMALL)
            for group, entries in page.document.data.items() if page else ():
                assert page is not None
                if group not in merged:
                    hint = did_you_mean(group, merged, f"write one of {', '.join(merged)}")
                    self._tell(page, (group,), f'"{short(group)}" is no list of words', hint, on_key=True)
                    self._miss_file(file, guide_files.SMALL)
                elif not isinstance(entries, list):
                    self._tell(
                        page,
                        (group,),
                        f"{group}: is not a list",
                        "begin each entry with `- {key: …, name: …}`",
                    )
                    self._miss_file(file, (group,))
                else:
                    listed = list(self._entries(page, entries, group))
                    good = [
                        facts for i, facts in listed if self._plain(page, (group, i), facts, ("key", "name"))
                    ]
                    if len(good) < len(listed):
                        self._miss_file(file, (group,))
                    merged[group].update(as_terms(good))
        return merged

    def spoken(self, files: Iterable[Path], known: Vocabulary) -> _Spoken:
        """Phrases by kind and key and the words of grammar, the company's behind the shipped."""
        said = _Spoken()
        for file in files:
            page = self._list_file(file, dict, "a block of kinds", f"begin with `{guide_files.SPOKEN[0]}:`")
            if page is None:
                continue
            self.asked.append(Asked("spoken", page.source.path, (), page.document.data))
            for group, found in page.document.data.items():
                if group in said.grammar and isinstance(found, list):
                    said.grammar[group].update(dict.fromkeys(p for p in found if _is_phrase(p)))
                if group not in said.places or not isinstance(found, dict):
                    continue
                for key, phrases in found.items():
                    if not known.has(group, key):
                        message = f'{group}: "{short(key)}" is not {NOUNS[group]}'
                        self._tell(
                            page, (group, key), message, known.suggest(group, key), "reference", on_key=True
                        )
                    elif isinstance(phrases, list) and key in known.terms[group]:
                        self._phrases(page, (group, key), phrases, said.places[group])
        return said

    def _phrases(
        self, page: GuideFile, at: tuple[str, str], phrases: list[Any], places: dict[str, list[str]]
    ) -> None:
        """Puts the phrases of one key where they belong; one that would stand in too many is told."""
        group, key = at
        for i, phrase in enumerate(phrases):
            if not _is_phrase(phrase):
                continue
            keys = places.setdefault(phrase, [])
            if key in keys:
                continue
            several = guide_files.SEVERAL.get(group)
            if len(keys) < (guide_files.MOST_MEANT if several else 1):
                keys.append(key)
                continue
            said = f'{pointer_text((*at, i))}: "{short(phrase)}"'
            if several:
                message = f"{said} stands under {len(keys)} {several} already: {', '.join(keys)}"
                instead = "leave it out, or say which in the phrase"
            else:
                message = f'{said} stands under "{keys[0]}" already'
                instead = "keep one of them"
            self._tell(page, (*at, i), message, instead)

    def plain(self, files: Iterable[Path], known: Vocabulary) -> Plain:
        """Everyday words for the customer, the company's over the shipped."""
        merged: dict[str, dict[str, Any]] = {group: {} for group in GROUPS}
        shares: list[Any] = []
        for file in files:
            page = self._list_file(file, dict, "a block of groups", "begin with `says:`")
            if page is None:
                continue
            data = page.document.data
            self.asked.append(Asked("plain", page.source.path, (), data))
            if "shares" in data and usable("shares", data["shares"]):
                shares = data["shares"]
            for group in GROUPS:
                found = data.get(group)
                for key, value in found.items() if isinstance(found, dict) else ():
                    if group in KEYED and not known.has(group, key):
                        message = f'{group}: "{short(key)}" is not {NOUNS[group]}'
                        hint = known.suggest(group, key)
                        self._tell(page, (group, key), message, hint, "reference", on_key=True)
                    elif usable(group, value) and (group not in KEYED or key in known.terms[group]):
                        merged[group][key] = value
        return plain_of(merged, shares)

    def _base(self, file: Path) -> Path:
        return self.root if self.house and file.is_relative_to(self.house) else guide_files.SHIPPED

    def _tell(
        self,
        page: GuideFile,
        at: Pointer,
        message: str,
        instead: str,
        rule: str = "guide",
        on_key: bool = False,
    ) -> None:
        finding = Finding(at, message, instead, rule, on_key=on_key)
        self.got.add(page.source.path, page.document, [finding])

    def _miss_file(self, file: Path, kinds: Iterable[str]) -> None:
        """Notes that a file holds words of these kinds which could not be read."""
        found = source.read(file, self._base(file))
        text = None if isinstance(found, Unreadable) else parse.decode(found.data)
        self._miss(text if isinstance(text, str) else None, kinds)

    def _miss(self, text: str | None, kinds: Iterable[str]) -> None:
        for kind in kinds:
            before = self.unread.get(kind, "")
            self.unread[kind] = None if text is None or before is None else f"{before}\n{text}"

    def _list_file(
        self, file: Path, wanted: type, words: str, instead: str, kinds: Iterable[str] = ()
    ) -> GuideFile | None:
        """A file of words; None where it is no use, which is then noted. It may hold words of these `kinds`."""
        page = self._read_list(file, wanted, words, instead)
        if page is None:
            self._miss_file(file, kinds)
        return page

    def _read_list(self, file: Path, wanted: type, words: str, instead: str) -> GuideFile | None:
        base = self._base(file)
        page = guide_files.read_list(file, base)
        if isinstance(page, Unreadable):
            self.got.unreadable(page)
            return None
        if isinstance(page, list):
            self.got.add(source.shown(file, base), None, page)
            return None
        self.documents[page.source.path] = page
        if not isinstance(page.document.data, wanted):
            self._tell(page, (), f"the file is not {words}", instead)
            return None
        return page

    def _entries(
        self, page: GuideFile | None, entries: Iterable[Any], *within: str
    ) -> Iterator[tuple[int, Any]]:
        """Entries with their number; a key that came before in the same list is told and left out."""
        seen: set[str] = set()
        for i, facts in enumerate(entries):
            key = facts.get("key") if isinstance(facts, dict) else None
            if isinstance(key, str) and key in seen and page:
                at: Pointer = (*within, i, "key")
                message = f'{pointer_text(at)}: "{short(key)}" is in this list twice'
                self._tell(page, at, message, "keep one of them")
                continue
            if isinstance(key, str):
                seen.add(key)
            yield i, facts

    def _plain(self, page: GuideFile, at: Pointer, facts: Any, keys: tuple[str, ...]) -> bool:
        """Is it an entry with these texts, and `also` at most beside them? What is wrong is noted."""
        name = pointer_text(at)
        needed = " and ".join(f"{key}:" for key in keys)
        if not isinstance(facts, dict) or any(key not in facts for key in keys):
            self._tell(page, at, f"{name}: an entry needs {needed}", "add what is missing")
            return False
        for key, value in facts.items():
            if key in keys:
                if not isinstance(value, str) or not value:
                    self._tell(page, (*at, key), f"{name}.{key}: is not text", "write text, in quotes")
                    return False
            elif key == "also":
                if not _is_words(value):
                    self._tell(page, (*at, key), f"{name}.also: is not a list of text", "write [one, two]")
                    return False
            elif key == "short" and "text" in keys:
                if not isinstance(value, str) or not 0 < len(value) <= MOST_SHORT:
                    told = f"{name}.short: is not a text of at most {MOST_SHORT} characters"
                    self._tell(page, (*at, key), told, "say it in one short sentence")
                    return False
            elif key != "source":
                comma = value is None and " " in key  # {name: Board, glue or paint}
                finding = Finding(
                    (*at, key),
                    f'{name}: "{short(key)}" is not a key here',
                    "put text that holds a comma in quotes" if comma else f"known keys: {needed} and also:",
                    "guide",
                    severity="warning",  # the word itself works
                    on_key=True,
                )
                self.got.add(page.source.path, page.document, [finding])
        return True


def _is_words(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(word, str) for word in value)


def _is_phrase(value: Any) -> bool:
    """Can a phrase be looked for? What is wrong with its form the schema tells."""
    return isinstance(value, str) and bool(value.strip())


def _usable(facts: Any) -> bool:
    """Can the rest of the run work with this entry? What is wrong with it the schema tells."""
    return (
        isinstance(facts, dict)
        and all(isinstance(facts.get(key), str) for key in ("key", "name"))
        and all(_is_words(facts.get(key, [])) for key in ("also", "within", "kinds"))
        and all(isinstance(facts.get(key, False), bool) for key in ("low", "covered"))
        and isinstance(facts.get("what", ""), str)
        and isinstance(facts.get("order", 0), int)
    )


def read_guide(house: Path, root: Path, got: Gathered, language: str = SOURCE) -> GuideRead:
    """The shipped guide with the company's own versions over it; problems are noted in `got`. `language` of the pages."""
    reader = _Reader(root, house if house.is_dir() else None, got)
    entries: dict[str, dict[str, Entry]] = {"failure-modes": {}, "techniques": {}}
    for (folder, key), file in guide_files.page_files(reader.house).items():
        entry = reader.page(file, folder, key)
        shipped = guide_files.SHIPPED / folder / file.name
        if entry is None and file != shipped and shipped.is_file():
            entry = reader.page(shipped, folder, key)  # the records that name it are not at fault
        if entry is not None:
            entries[folder][key] = entry
    files = guide_files.list_files(reader.house, language)
    lists = {name: reader.list_of(name, files[name]) for name in (*guide_files.LISTS, "cautions")}
    guide = Guide(
        modes=dict(sorted(entries["failure-modes"].items())),
        techniques=dict(
            sorted(entries["techniques"].items(), key=lambda e: (e[1]["order"] or 99, e[0])),
        ),
        symptoms=lists["symptoms"],
        components=lists["components"],
        refrigerants=lists["refrigerants"],
        cautions=lists["cautions"],
        small=reader.vocabulary(files["vocabulary"]),
        inside=guide_files.containment(lists["components"]),
        unread=reader.unread,
    )
    known = guide_files.vocabulary_of(guide, {}, {})
    said = reader.spoken(files["spoken"], known)
    guide = replace(
        guide,
        spoken=said.by_key(),
        grammar={office: tuple(words) for office, words in said.grammar.items()},
        plain=reader.plain(files["plain"], known),
    )
    return GuideRead(guide, reader.documents, reader.asked)


def check_entries(read: GuideRead, got: Gathered, schemas: Schemas) -> None:
    """Holds every entry to its schema."""
    for asked in read.asked:
        found = schemas.check(f"guide/{asked.schema}", asked.facts)
        findings = [_in_file(f, asked.at) for f in found]
        got.add(asked.path, read.documents[asked.path].document, findings)


def _in_file(finding: Finding, at: Pointer) -> Finding:
    """A finding about an entry, told of its place in the file."""
    if not at:
        return finding
    name = pointer_text(at)
    told = finding.message.removeprefix("the file: ")
    message = f"{name}.{told}" if told == finding.message else f"{name}: {told}"
    return replace(finding, pointer=(*at, *finding.pointer), message=message)


def _misnamed(entry: Entry) -> Iterator[Finding]:
    """A heading that is nearly a section's is a warning: nothing leads to it at the head of its page."""
    known = SECTIONS[entry.kind]
    for row, line in enumerate(entry.body.splitlines()):
        head = line.removeprefix("## ").strip()
        if not line.startswith("## ") or head in known or not (near := nearest(head, known, _LIKENESS)):
            continue
        yield Finding(
            (),
            f'"{short(head)}" is not the name of a section',
            f'did you mean "{near}"?',
            "guide/section",
            "warning",
            line=entry.body_line + row,
            column=4,
        )


def check_prose(read: GuideRead, ctx: Context, got: Gathered) -> None:
    """Every [[reference]] of the guide leads somewhere."""
    guide, systems = read.guide, ctx.systems if ctx.register_read else None
    for kind in guide_files.REF_KINDS:
        for entry in guide.entries(kind).values():
            for ref, instead in unknown_references(entry.body, guide, ctx.case_ids, systems):
                row, column = prose.line_and_column(entry.body, ref.start)
                paged = kind in ("mode", "technique")
                finding = Finding(
                    () if paged else (entry.facts["_at"], "what"),
                    f'"[[{ref.target}]]" leads nowhere',
                    instead,
                    "reference/prose",
                    line=entry.body_line + row if paged else None,
                    column=column + 1 if paged else None,
                    offset=None if paged else (row, column),
                )
                got.add(entry.path, read.documents[entry.path].document, [finding])
