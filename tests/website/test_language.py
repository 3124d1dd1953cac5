"""The interface in another language: whole catalogues, pages without an English word, English as it was."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from jinja2 import DictLoader, Environment

from leaklore import language, marked, own_words
from leaklore.errors import LeakloreError
from leaklore.pages import display, translate
from site_fixture import FLARE, ROOT, Site, copy_library, leaklore_build, run, site_at, tell, write_config

from . import pseudo
from .test_html import parse_faults

PARTS = (
    "404.html",
    "bench",
    "branches",
    "cases",
    "data",
    "for-customers",
    "guide",
    "how-far-to-trust",
    "how-we-count",
    "index.html",
    "keep",
    "offline",
    "patterns",
    "places",
    "reading",
    "record",
    "search",
    "settings",
    "systems",
)
"""Parts of the site: every word of the interface is in the catalogue."""
NAMES = frozenset({"Leaklore", "AB", "°F", "YAML", "ZIP", "Q = V ΔP ÷ t =", "Q = V Δp ÷ t ="}) | {
    f"{name}.json" for name in ("bench", "costs", "groups", "patterns", "survival", "trade")
}
"""What is called the same everywhere."""
PROSE = "//*[contains(concat(' ', @class, ' '), ' prose ')]"
CONTENT = {
    "bench": ["//p[@class='sources__where']", "//span[contains(@data-out, '.source')]"],
    "guide": [PROSE],
    "cases": [PROSE, "//p[@class='cite']/a[1]"],
    "data": ["//th[@scope='row']"],
    "patterns": ["//p[a[contains(@href, 'vega-bundle')]]"],
    "for-customers": [
        "//main[contains(@class, 'handout')]//*[self::p or self::li or self::h1][not(@class)]",
        "//head",
    ],
}
"""What guide and records alone fill: text in Markdown, sentences of guide/plain.yaml, a case's own address; keys of files,
names of packages."""
SLOT = re.compile(r"%\(\w+\)s|%%|\{[\w-]+\}|</?[a-z][^>]*>|`[^`]*`")


def built(folder: Path, tag: str, messages: Path | None = None) -> Site:
    """The small library and an exercise in a language; with `messages`, in a made-up one of these."""
    cases = copy_library(folder)
    (cases / "records" / "2025" / "KW-2025-099.yaml").write_text(FLARE, "utf-8")
    company = cases / "company.yaml"
    company.write_text(f"{company.read_text('utf-8')}language: {tag}\n", "utf-8")
    if messages:
        pseudo.catalogue(messages, cases / "house" / "words.po")
    done = leaklore_build(write_config(folder, cases))
    assert done.returncode == 0, done.stderr
    return site_at(folder / "site")


@pytest.fixture(scope="module")
def spanish(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """The small library in Spanish."""
    return built(tmp_path_factory.mktemp("spanish"), "es-MX")


@pytest.fixture(scope="module")
def bracketed(tmp_path_factory: pytest.TempPathFactory, messages: Path) -> Site:
    """The small library with every message in brackets, in a language that runs from right to left."""
    return built(tmp_path_factory.mktemp("bracketed"), "ar", messages)


def part_of(url: str) -> str:
    """The part of the site that a page belongs to, as the list names it."""
    return url.partition("/")[0]


def catalogue(tag: str) -> Catalog:
    return language.read(language.LOCALE / tag / "LC_MESSAGES" / "leaklore.po")


def forms(said: object) -> list[str]:
    return [said] if isinstance(said, str) else list(said)  # type: ignore[call-overload]


def slots(text: str) -> list[str]:
    return sorted(SLOT.findall(text))


@pytest.mark.parametrize("tag", language.shipped()[1:])
def test_every_message_is_translated_with_its_slots(tag: str) -> None:
    """No form is empty or doubtful, and each has the slots, tags and commands of the English one."""
    faults = []
    for message in catalogue(tag):
        if not message.id:
            continue
        ids, told = forms(message.id), forms(message.string)
        if message.fuzzy or not all(told):
            faults.append(f"not translated: {ids[0]!r}")
        elif any(slots(form) != slots(ids[-1]) for form in told):
            faults.append(f"other slots: {ids[0]!r} -> {told!r}")
        elif any(ids[0][0].isspace() != form[0].isspace() for form in told):
            faults.append(f"other spaces: {ids[0]!r} -> {told!r}")
    assert not faults, tell(faults)


@pytest.mark.parametrize("tag", language.shipped()[1:])
def test_shipped_catalogues_pass_the_check_of_a_company(tag: str) -> None:
    """What a company's own catalogue is held to, theirs is."""
    file = language.LOCALE / tag / "LC_MESSAGES" / "leaklore.po"

    assert own_words.faults(file.read_bytes(), file, tag) == []


@pytest.mark.parametrize("tag", language.shipped()[1:])
def test_catalogues_are_up_to_date(tag: str, messages: Path) -> None:
    """`make words` was run after the last change of a message."""
    found, known = ({str(m.id) for m in c if m.id} for c in (language.read(messages), catalogue(tag)))

    assert sorted(found - known) == [], "run make words, and translate"
    assert sorted(known - found) == [], "run make words"


def test_nothing_of_a_page_escapes_the_catalogue(bracketed: Site) -> None:
    """What stands outside the brackets is content of guide, vocabulary or records."""
    content = pseudo.Content(bracketed.folder.parent / "cases", ROOT / "generator" / "leaklore" / "guide")
    faults = [
        f"{page.url}: {text!r}"
        for page in bracketed.pages
        for text in pseudo.outside(page, CONTENT.get(part_of(page.url), ()))
        if text not in NAMES and not content.holds(text)
    ]
    assert not faults, tell(faults)


def test_every_part_of_the_site_was_looked_at(bracketed: Site) -> None:
    """The made-up library has a page of each."""
    assert {part_of(url) for url in bracketed.urls} == set(PARTS)


def test_the_search_for_english_words_finds_them() -> None:
    """A heading that nobody marked is not taken for content, though the guide has its words."""
    content = pseudo.Content(ROOT / "generator" / "leaklore" / "guide")

    assert content.holds("Flare joint")
    assert not content.holds("The search")
    assert not content.holds("Cases")


def test_direction_and_language_of_every_page(spanish: Site, bracketed: Site) -> None:
    """The root element says both; a language that runs from left to right needs no `dir`."""
    assert {(p.root.get("lang"), p.root.get("dir")) for p in bracketed.pages} == {("ar", "rtl")}
    assert {(p.root.get("lang"), p.root.get("dir")) for p in spanish.pages} == {("es-MX", None)}


def test_no_stylesheet_names_left_or_right() -> None:
    """Sides are told as start and end, so that a page turns with its language."""
    sides = re.compile(
        r"(?:margin|padding|border)-(?:left|right)|(?:text-align|float):\s*(?:left|right)|[{;]\s*(?:left|right):"
    )
    files = (ROOT / "site_overrides" / "css").glob("*.css")

    assert [f.name for f in files if sides.search(f.read_text("utf-8"))] == []


def test_spanish_pages_are_well_formed(spanish: Site) -> None:
    """One page of each kind, strictly parsed."""
    kinds = {url.rpartition("/")[0].rpartition("/")[0]: url for url in spanish.urls}
    faults = [f"{url}: {fault}" for url in kinds.values() for fault in parse_faults(spanish.strict(url))]

    assert not faults, tell(faults)


def test_spanish_pages_say_it_in_spanish(spanish: Site) -> None:
    """Words, plurals, dates and the words that scripts take from the page."""
    home = spanish.page("index.html")
    assert "Encuentre antes la fuga" in home.text
    assert "Biblioteca del 31 de diciembre de 2026." in home.text
    assert spanish.text("app.webmanifest").count('"lang": "es-MX"') == 1
    search = spanish.text("search/index.html")
    assert '<template data-say="did-clean">Sin fuga</template>' in search
    case = spanish.page("cases/KW-2025-002/index.html").text
    assert "Reportado el 10 de marzo de 2025, cerrado el 11 de marzo de 2025" in case
    assert re.search(r"\b1 paso\b", case) or re.search(r"\b\d+ pasos\b", case)


@pytest.fixture
def spoken() -> object:
    """Puts English back."""
    yield None
    language.use(language.ENGLISH)


@pytest.mark.usefixtures("spoken")
def test_days_plurals_and_own_words(tmp_path: Path) -> None:
    """Spanish from the shipped catalogue, one word from the library's own."""
    own = tmp_path / "words.po"
    own.write_text('msgid ""\nmsgstr ""\n"Language: es\\n"\n\nmsgid "Search"\nmsgstr "Buscar"\n', "utf-8")
    monday = dt.date(2025, 2, 3)
    assert (display.day(monday), display.years(1 / 12)) == ("3 February 2025", "1 month")

    language.use(language.load("es-MX", own))

    assert (language.gettext("Search"), language.gettext("Cases")) == ("Buscar", "Casos")
    assert (display.day(monday), display.years(1 / 12)) == ("3 de febrero de 2025", "1 mes")
    assert language.ngettext("{n} month", "{n} months", 5) == "{n} meses"
    assert language.gettext("no message of ours") == "no message of ours"


def template(source: str) -> Environment:
    made = Environment(
        extensions=[translate.Translate],
        autoescape=True,
        trim_blocks=True,
        loader=DictLoader({"t": source}),
    )
    translate.install(made)
    return made


@pytest.mark.usefixtures("spoken")
@pytest.mark.parametrize(
    ("source", "english", "other"),
    [
        ('{{ _("Cases") }}', "Cases", "Casos"),
        ('<a title="{{ _("Cases") }}">', '<a title="Cases">', '<a title="Casos">'),
        ("{% trans %}<b>All</b> & 5 %{% endtrans %}", "<b>All</b> & 5 %", "<b>Todo</b> y 5 %"),
        ("{% trans n=x %}All {{ n }} cases{% endtrans %}", "All &lt;2 cases", "Los &lt;2 casos"),
        ("{% trans n=x %}5 % of {{ n }}{% endtrans %}", "5 % of &lt;2", "de &lt;2 el 5 %"),
        ("{% trans n=k %}{{ n }} day{% pluralize %}{{ n }} days{% endtrans %}", "1 day", "1 día"),
        ("{{ _(said) }}", "a &lt; b", "b &gt; a"),
    ],
)
def test_templates(source: str, english: str, other: str) -> None:
    """Put in at the time of compiling, escaped as what stands there, in the order of the other language."""
    known = {
        "Cases": "Casos",
        "<b>All</b> & 5 %": "<b>Todo</b> y 5 %",
        "All %(n)s cases": "Los %(n)s casos",
        "5 %% of %(n)s": "de %(n)s el 5 %%",
        "a < b": "b > a",
    }
    context = {"x": "<2", "k": 1, "said": "a < b"}

    assert template(source).get_template("t").render(context) == english
    language.use(language.Language("es", known, {"%(n)s day": ("%(n)s día", "%(n)s días")}))
    assert template(source).get_template("t").render(context) == other


def test_what_is_known_before_costs_a_page_nothing() -> None:
    """The compiled template of an English site has the text itself and calls nothing."""
    made = template('{{ _("Cases") }}{% trans n=x %}All {{ n }} cases{% endtrans %}')
    code = made.compile(made.loader.get_source(made, "t")[0], raw=True)  # type: ignore[union-attr]

    assert "gettext" not in code
    assert "'Cases'" in code


def test_tables_of_words_are_found(tmp_path: Path) -> None:
    """Values of mappings whatever they look like; in tuples and calls what is no key; calls that translate."""
    file = tmp_path / "words.py"
    file.write_text(
        'A = later({"key": "days", "b": ("search/", "Two words", "clean")})\n'
        'B = later((Step("seen", "What you saw", noun="Check"), "plain key"))\n'
        'c = gettext("One {n}").format(n=1) + ngettext("{n} day", "{n} days", 2)\n'
        'd = other("not ours")\n',
        "utf-8",
    )

    with file.open("rb") as lines:
        found = [said for _, _, said, _ in marked.python(lines, None, None, None)]

    assert set(found) == {
        "days",
        "Two words",
        "What you saw",
        "Check",
        "plain key",
        "One {n}",
        ("{n} day", "{n} days"),
    }


@pytest.mark.parametrize(
    ("tag", "words", "told"),
    [
        ("fo", None, "company.yaml:"),
        ("es", 'msgid "Search"\nmsgstr Buscar\n', "house/words.po:2:1: "),
    ],
)
def test_a_language_that_is_not_there_is_told(tmp_path: Path, tag: str, words: str | None, told: str) -> None:
    """With its place and what to write, by `leaklore check`."""
    cases = copy_library(tmp_path)
    company = cases / "company.yaml"
    company.write_text(f"{company.read_text('utf-8')}language: {tag}\n", "utf-8")
    if words:
        (cases / "house").mkdir(exist_ok=True)
        (cases / "house" / "words.po").write_text(words, "utf-8")

    done = run("leaklore", "check", cases)

    assert done.returncode == 1
    line = next(text for text in (done.stdout + done.stderr).splitlines() if told in text)
    assert "write" in line
    assert "Traceback" not in done.stderr


HEAD = 'msgid ""\nmsgstr ""\n"Language: es\\n"\n'
RULE = "write for example nplurals=2; plural=(n != 1);"
# a catalogue behind its head, or with a line in it, and what is told by line
OWN: dict[str, tuple[str, list[str]]] = {
    "another slot": (
        'msgid "{years} years"\nmsgstr "{anos} años"\n',
        ['5: "{anos}" is no slot of this message; write {years}'],
    ),
    "a slot with a format": (
        'msgid "{years} years"\nmsgstr "{years:d} años"\n',
        ['5: "{years:d}" is no slot of this message; write {years}'],
    ),
    "a slot where there is none": (
        'msgid "Cases"\nmsgstr "{Casos}"\n',
        ['5: "{Casos}" is no slot of this message; leave it out, for it has none'],
    ),
    "a slot of per cent where there is none": (
        'msgid "Cases"\nmsgstr "%(n)s Casos"\n',
        ['5: "%(n)s" is no slot of this message; leave it out, for it has none'],
    ),
    "every fault in one run": (
        'msgid "{low} to {high}"\nmsgstr "{bajo} a {alto}"\n\n'
        '#, python-format\nmsgid "All %(n)s cases"\nmsgstr ""\n"Todos %(m)s, "\n"5 % de"\n\n'
        'msgid "{n} day"\nmsgid_plural "{n} days"\nmsgstr[0] "{n día"\nmsgstr[1] "{d} días"\n',
        [
            '5: "{alto}" is no slot of this message; write {low} or {high}',
            '5: "{bajo}" is no slot of this message; write {low} or {high}',
            '10: "%(m)s" is no slot of this message; write %(n)s',
            '11: "%" stands alone in a message with %(…)s; write %%',
            '15: "{" stands alone; write {n}',
            '16: "{d}" is no slot of this message; write {n}',
        ],
    ),
    "left out": (
        'msgid "{n} of {all}"\nmsgstr "{n}"\n\n'
        'msgid "{n} day"\nmsgid_plural "{n} days"\nmsgstr[0] "un día"\nmsgstr[1] "días"\n',
        [
            "5: warning: {all} of the English message is left out; write it where it belongs in the sentence",
            "10: warning: {n} of the English message is left out; write it where it belongs in the sentence",
        ],
    ),
    "right": (
        'msgid "about {n} %"\nmsgstr "cerca del {n} %"\n\nmsgid "95 % sure"\nmsgstr "seguro al 95 % de verdad"\n\n'
        'msgid "it begins with { and ends with }."\nmsgstr "empieza con { y termina con }."\n\n'
        '#, fuzzy\nmsgid "{a}"\nmsgstr "{b}"\n\nmsgid "{c}"\nmsgstr ""\n\n'
        'msgid "5 %% of %(n)s"\nmsgstr "de %(n)s el 5 %%"\n',
        [],
    ),
    "too few and too many forms": (
        'msgid "{n} day"\nmsgid_plural "{n} days"\nmsgstr[0] "{n} día"\n\n'
        'msgid "{n} leak"\nmsgid_plural "{n} leaks"\nmsgstr[0] "{n} a"\nmsgstr[1] "{n} b"\nmsgstr[2] "{n} c"\n',
        [
            "4: a plural of 2 forms by Plural-Forms has 1 here; write msgstr[0], msgstr[1]",
            "12: a plural of 2 forms by Plural-Forms has 3 here; write msgstr[0], msgstr[1]",
        ],
    ),
    "lines that are none": (
        "msgid Cases\nmsgstr Casos\n",
        [
            "4: this is no line of a catalogue; write msgid and msgstr, each in quotes",
            "5: this is no line of a catalogue; write msgid and msgstr, each in quotes",
        ],
    ),
    "a rule that is none": (
        '"Plural-Forms: nplurals=2; plural=import os;\\n"\n',
        [f'4: "import os" is no rule that picks a form for each number; {RULE}'],
    ),
    "a rule that fails": (
        '"Plural-Forms: nplurals=2; plural=n/0;\\n"\n',
        [f'4: "n/0" is no rule that picks a form for each number; {RULE}'],
    ),
    "no rule": ('"Plural-Forms: two\\n"\n', [f'4: "two" is no rule of plurals; {RULE}']),
    "more forms than the rule picks": (
        '"Plural-Forms: nplurals=99; plural=n>1\\n"\n',
        [f"4: nplurals=99, but the rule picks the forms 0, 1; {RULE}"],
    ),
    "fewer forms than the rule picks": (
        '"Plural-Forms: nplurals=2; plural=n;\\n"\n',
        [f"4: nplurals=2, but the rule picks the forms 0, 1, 2, 3, 4, 5, …; {RULE}"],
    ),
    "other forms than the shipped words": (
        '"Plural-Forms: nplurals=3; plural=n%3;\\n"\n',
        [
            "4: nplurals=3, but the words that come along have 2 forms; write nplurals=2; plural=(n != 1);",
        ],
    ),
    "a head behind": (
        'msgid "Cases"\nmsgstr "Casos"\n\nmsgid ""\nmsgstr ""\n',
        ['7: the head stands behind a message; begin the file with msgid ""'],
    ),
}


@pytest.mark.parametrize(("words", "expected"), OWN.values(), ids=OWN)
def test_what_is_wrong_in_own_words_is_told(words: str, expected: list[str], tmp_path: Path) -> None:
    """Each with its line and what to write instead."""
    file = tmp_path / "words.po"
    file.write_text(HEAD + words, "utf-8")

    found = own_words.faults(file.read_bytes(), file, "es")

    assert [
        f"{f.line}: {'warning: ' * (f.severity == 'warning')}{f.what}; {f.instead}" for f in found
    ] == expected


@pytest.mark.parametrize(
    "rule", ["nplurals=1; plural=0", "nplurals=2; plural=(n > 1);", "nplurals=6; plural=n%6;"]
)
def test_rules_of_a_language_that_does_not_come_along(rule: str, tmp_path: Path) -> None:
    """As many forms as it has."""
    file = tmp_path / "words.po"
    file.write_text(HEAD.replace("es", "xx") + f'"Plural-Forms: {rule}\\n"\n', "utf-8")

    assert own_words.faults(file.read_bytes(), file, "xx") == []


def test_own_words_are_checked_with_the_library(tmp_path: Path) -> None:
    """`leaklore check` says all of it and ends with 1; a folder of that name is told, too."""
    cases = copy_library(tmp_path)
    company = cases / "company.yaml"
    company.write_text(f"{company.read_text('utf-8')}language: es\n", "utf-8")
    own = cases / "house" / "words.po"
    own.parent.mkdir(exist_ok=True)
    own.write_text(HEAD + OWN["every fault in one run"][0], "utf-8")

    done = run("leaklore", "check", cases)

    assert done.returncode == 1
    lines = [line for line in done.stdout.splitlines() if "words.po:" in line]
    assert [line.partition("words.po:")[2] for line in lines] == [
        f"{line.replace(':', ':1:', 1)} [words]" for line in OWN["every fault in one run"][1]
    ]

    own.unlink()
    own.mkdir()
    done = run("leaklore", "check", cases)

    assert done.returncode == 1
    assert "house/words.po:1:1: is not a plain file; put a text file" in done.stdout
    assert "Traceback" not in done.stderr


def test_a_language_without_words() -> None:
    """The same for who calls the function."""
    with pytest.raises(LeakloreError, match="write one of en, es, or bring its words"):
        language.load("fo")
    assert language.load("en") is language.ENGLISH
