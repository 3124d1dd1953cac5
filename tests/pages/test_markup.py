"""Prose of records and guide: references become links, nothing else becomes markup that could do harm."""

from __future__ import annotations

import re
from dataclasses import replace

import html5lib
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from analysis.builders import case, demo, library
from leaklore.pages import markup
from leaklore.pages.markup import Prose, heading_id, shorten

LIBRARY = library(case(1), replace(case(2), was=("KW-2021-901",)), case(3, withdrawn=True))
PROSE = Prose(LIBRARY)
TAG_NAMES = (
    "p a em strong code pre ul ol li blockquote h1 h2 h3 h4 h5 h6 table thead tbody tr th td hr br div"
)
TAGS = frozenset(TAG_NAMES.split())
ATTRIBUTES = {
    "a": {"href", "title"},
    "div": {"class"},
    "ol": {"start"},
    "code": {"class"},
    "th": {"class"},
    "td": {"class"},
}
HTML = "{http://www.w3.org/1999/xhtml}"


def elements(html: str) -> list[tuple[str, dict[str, str], str]]:
    """(tag, attributes, text) of every element as a browser would read it."""
    tree = html5lib.parseFragment(html)
    return [
        (e.tag.removeprefix(HTML), dict(e.attrib), "".join(e.itertext()))
        for e in tree.iter()
        if e is not tree and isinstance(e.tag, str)
    ]


def hrefs(html: str) -> list[str]:
    """Where the links lead."""
    return [attrs.get("href", "") for tag, attrs, _ in elements(html) if tag == "a"]


def harmless(html: str) -> None:
    """Only tags and attributes of plain prose; links lead to pages and to the web."""
    for tag, attrs, _ in elements(html):
        assert tag in TAGS, html
        allowed = ATTRIBUTES.get(tag, set()) | ({"id"} if tag[0] == "h" else set())
        assert set(attrs) <= allowed, html
        if "href" in attrs:
            scheme = attrs["href"].split(":", 1)[0].strip().lower() if ":" in attrs["href"] else ""
            assert scheme not in ("javascript", "vbscript", "file"), html
            assert scheme != "data" or attrs["href"].startswith("data:image/"), html
        if "style" in attrs:
            assert attrs["style"].startswith("text-align:"), html


@pytest.mark.parametrize(
    ("written", "href", "shown"),
    [
        ("[[flare]]", "guide/components/flare/", "flare"),
        ("[[bubbles|the bubbles]]", "guide/techniques/bubbles/", "the bubbles"),
        ("[[component:flare]]", "guide/components/flare/", "flare"),
        ("[[mode:loose-flare|Loose]]", "guide/failure-modes/loose-flare/", "Loose"),
        ("[[ flare ]]", "guide/components/flare/", "flare"),
        ("[[R-32]]", "guide/refrigerants/r-32/", "R-32"),  # capitals of R numbers stay
        ("[[R-1234ze(E)]]", "guide/refrigerants/r-1234ze-e/", "R-1234ze(e)".capitalize()),
        ("[[KW-2025-001]]", "cases/KW-2025-001/", "KW-2025-001"),
        ("[[KW-2025-003]]", "cases/KW-2025-003/", "KW-2025-003"),  # withdrawn: its page stays
        ("[[KW-2021-901]]", "cases/KW-2025-002/", "KW-2025-002"),  # by a former number
        ("[[KW-2021-901|that job]]", "cases/KW-2025-002/", "that job"),
    ],
)
def test_references_become_links(written: str, href: str, shown: str) -> None:
    """Relative to the page; the name in small letters within a sentence."""
    html = PROSE.block(f"See {written}, there.", "../../")
    assert elements(html)[1] == ("a", {"href": f"../../{href}"}, shown)
    assert "[[" not in html
    line = PROSE.line(f"See {written}", "../")
    assert hrefs(line) == [f"../{href}"]
    assert "<p>" not in line


@pytest.mark.parametrize(
    "target", ["no-such-part", "KW-1999-001", "S-9999", "mode:flare", "case:KW-2025-001"]
)
def test_an_unknown_reference_is_text(target: str) -> None:
    """The check tells of it; the page must not break."""
    html = PROSE.block(f"See [[{target}]] and [[{target}|this]].", "")
    assert hrefs(html) == []
    assert f"See {target} and this." in html


@pytest.mark.parametrize(
    "text", ["`[[flare]]`", "    [[flare]]", "\\[[flare]]", "[[]]", "[[flare", "[[a\nb]]", "[flare]"]
)
def test_what_is_no_reference_stays_text(text: str) -> None:
    """Code, escapes and halves."""
    assert hrefs(PROSE.block(text, "")) == []


def test_references_in_a_note_that_another_parser_made_into_html() -> None:
    """Outside of code and tags; what is unknown stays as words."""
    html = '<p title="[[flare]]">[[R-1234ze(E)|A &amp; B]] <code class="x">[[flare]]</code> [[flare]], [[none]]</p><pre>[[\nflare]] [[flare]]</pre>'
    made = PROSE.linked(html, "../")
    flare, named = "../guide/components/flare/", "../guide/refrigerants/r-1234ze-e/"
    assert made == (
        f'<p title="[[flare]]"><a href="{named}">A &amp; B</a> <code class="x">[[flare]]</code> <a href="{flare}">flare</a>, none</p>'
        "<pre>[[\nflare]] [[flare]]</pre>"
    )
    assert PROSE.linked("<p>none</p>", "") == "<p>none</p>"


def test_references_in_headings_lists_and_tables() -> None:
    """Wherever prose may stand."""
    html = PROSE.block("## The [[flare]]\n\n- [[coil]]\n\n| Place |\n|---|\n| [[port]] |\n", "")
    assert [h.split("/")[-2] for h in hrefs(html)] == ["flare", "coil", "port"]


def test_names_and_words_of_references_are_escaped() -> None:
    """A title is text, whatever is in it."""
    html = PROSE.block('[[flare|<b onclick="x()">& "bold"</b>]]', "")
    harmless(html)
    assert [text for tag, _, text in elements(html) if tag == "a"] == ['<b onclick="x()">& "bold"</b>']


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        "a <img src=x onerror=alert(1)> b",
        "<b>bold</b>",
        "<!-- comment -->",
        "<a href='javascript:alert(1)'>x</a>",
        "<div\nonmouseover=alert(1)>",
        "<svg/onload=alert(1)>",
        "| <script>x</script> |\n|---|\n| <i>y</i> |",
        "# <script>x</script>",
        "```html\n<script>x</script>\n```",
        "`<script>`",
        "<table><tr><td>x</td></tr></table>",
    ],
)
def test_raw_html_is_shown_as_text(text: str) -> None:
    """The reader sees what was typed."""
    html = PROSE.block(text, "../")
    harmless(html)
    seen = {tag for tag, _, _ in elements(html)}
    assert not seen & {"script", "img", "b", "i", "svg"}
    assert "&lt;" in html
    harmless(PROSE.line(text, "../"))


@pytest.mark.parametrize(
    "text",
    [
        "[x](javascript:alert(1))",
        "[x](JaVaScRiPt:alert(1))",
        "[x](<javascript:alert(1)>)",
        "[x](&#106;avascript:alert(1))",
        "[x](&#x6A;avascript&colon;alert(1))",
        "[x](java\\script:alert(1))",
        "[x]( javascript:alert(1))",
        "[x](vbscript:msgbox)",
        "[x](file:///etc/passwd)",
        "[x](data:text/html;base64,PHNjcmlwdD4=)",
        "<javascript:alert(1)>",
        "[x][1]\n\n[1]: javascript:alert(1)",
        "![x](javascript:alert(1))",
    ],
)
def test_links_that_run_something_are_not_links(text: str) -> None:
    """No way of writing it gets through."""
    html = PROSE.block(text, "")
    harmless(html)
    # browsers take spaces and control characters out before they look at the scheme
    bare = [re.sub(r"[\x00-\x20]", "", h).lower() for h in hrefs(html)]
    assert not any(h.startswith(("javascript:", "vbscript:", "data:", "file:")) for h in bare)


def test_links_are_references_only() -> None:
    """A reference is checked; an ordinary link could lead anywhere and stays text."""
    html = PROSE.block('[a](https://example.org/?q="x") and <https://example.org/>', "")
    harmless(html)
    assert hrefs(html) == []
    assert "https://example.org/" in html


def test_no_pictures_from_elsewhere() -> None:
    """A page loads nothing that its author did not ship."""
    assert "<img" not in PROSE.block("![a spy](https://example.org/pixel.png)", "")


BITS = (
    "<script> </script> < > \" ' & [[ ]] [[flare]] [[flare| | [x]( ) javascript: data: onerror= ` ``` * _ # "
    '<img <a href=" --> <!-- |---| - 1. > \\ &#106; &lt; http:// word éß \u202e'
)
NASTY = st.lists(st.sampled_from([*BITS.split(" "), " ", "\n", "\n\n", "    "]), max_size=40).map("".join)


@given(NASTY)
@example("[x](<javascript:alert(1)\n>)")
@example("| a |\n|:-:|\n| `|` <b> |")
def test_nothing_typed_becomes_harmful_markup(text: str) -> None:
    """Whatever is put together."""
    harmless(PROSE.block(text, "../"))
    harmless(PROSE.line(text, "../"))


@given(st.text(max_size=300))
def test_any_text_can_be_rendered(text: str) -> None:
    """No text breaks a page."""
    harmless(PROSE.block(text, "../"))


@pytest.mark.parametrize(
    "headings",
    [
        ["Where it sits", "Where it sits", "Where it sits"],
        ["a", "a", "a 2"],  # the second `a` would be a-2 as well
        ["a 2", "a", "a"],
        ["!!!", "???", "part"],
        ["Étage", "étage"],
    ],
)
def test_ids_of_headings_are_unique(headings: list[str]) -> None:
    """Also where one heading looks like another's second id."""
    html = PROSE.block("\n\n".join(f"## {h}" for h in headings), "")
    ids = [attrs["id"] for tag, attrs, _ in elements(html) if tag == "h2"]
    assert len(ids) == len(headings)
    assert len(set(ids)) == len(ids)
    assert ids[0] == heading_id(headings[0])


@given(st.lists(st.sampled_from(["a", "a 1", "a 2", "a 2 2", "A", "-", "b"]), max_size=12))
def test_ids_of_any_headings_are_unique(headings: list[str]) -> None:
    """Every combination."""
    html = PROSE.block("\n\n".join(f"## {h}" for h in headings), "")
    ids = [attrs["id"] for _, attrs, _ in elements(html) if "id" in attrs]
    assert len(ids) == len(set(ids)) == len(headings)


@pytest.mark.parametrize(
    ("text", "heading", "levels"),
    [
        ("# A\n\n## B", 2, ["h2", "h3"]),
        ("### A\n\n#### B\n\n### C", 2, ["h2", "h3", "h2"]),
        ("## A\n\n###### B", 3, ["h3", "h4"]),  # no level is skipped
        ("# A\n\n##### B", 4, ["h4", "h5"]),
        ("# A\n\n## B\n\n### C\n\n#### D", 4, ["h4", "h5", "h6", "h6"]),  # never beyond h6
    ],
)
def test_headings_begin_at_the_level_of_their_place(text: str, heading: int, levels: list[str]) -> None:
    """The page has its own h1; end tags match."""
    html = PROSE.block(text, "", heading)
    assert [tag for tag, _, _ in elements(html) if tag[0] == "h"] == levels
    for level in levels:
        assert html.count(f"<{level} ") == html.count(f"</{level}>")


def test_prose_of_records_takes_no_ids() -> None:
    """A story may have a heading that the page has too."""
    html = PROSE.block("## Cause\n\ntext", "", 3, ids=False)
    assert html == "<h3>Cause</h3>\n<p>text</p>\n"


def test_heading_ids_are_plain_words() -> None:
    """As in an address."""
    assert heading_id("Where it sits") == "where-it-sits"
    assert heading_id("  R-32: 5 % & more! ") == "r-32-5-more"
    assert heading_id("…") == "part"


def test_tables_stand_in_a_box_that_scrolls() -> None:
    """A wide table must not widen a phone's page."""
    html = PROSE.block("| a | b |\n|---|--:|\n| 1 | 2 |\n\ntext\n\n| c |\n|---|\n| 3 |\n", "")
    assert html.count('<div class="table-box"><table>') == html.count("</table></div>") == 2
    tags = [tag for tag, _, _ in elements(html)]
    assert tags.count("table") == tags.count("div") == 2
    assert tags.count("th") == tags.count("td") == 3
    harmless(html)


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("The *nut* was **tight**, and `still` it frothed.", "The nut was tight, and still it frothed."),
        ("See [[indoor-flare]] and [[mode:flare-joint|the flare]].", "See indoor-flare and the flare."),
        ("See [[component:shaft-seal]].", "See shaft-seal."),
        ("# Head\n\n- one\n- two\n\n> said\n", "Head one two said"),
        ("A [guide](https://example.org/a) said so.", "A guide said so."),
        ("Over 5 > 3 bar on unit #2 at -5 degC.", "Over 5 > 3 bar on unit #2 at -5 degC."),
        ("part_no and 2 * 3 = 6", "part_no and 2 * 3 = 6"),
        ("| a | b |\n|---|---|\n| 1 | 2 |", "a b 1 2"),
        ("two\n\nparagraphs", "two paragraphs"),
    ],
)
def test_plain_text_has_no_marks_and_loses_no_sign(text: str, plain: str) -> None:
    """For descriptions and feeds."""
    assert Prose.plain(text) == plain


@given(st.text(" abcdé,.;:", max_size=200), st.integers(1, 60))
def test_shortened_text_fits_and_ends_at_a_word(text: str, length: int) -> None:
    """Short enough, a beginning of the text, marked as cut."""
    short = shorten(text, length)
    assert len(short) <= max(length, 0)
    if short != text:
        assert short.endswith("…")
        assert text.startswith(short[:-1])
        assert len(text) > length


def test_shortened_at_a_word() -> None:
    """No half word, no comma before the dots."""
    assert shorten("The nut was tight, and still it frothed.", 20) == "The nut was tight…"
    assert shorten("short", 5) == "short"


@given(st.text(alphabet="aZ\u00e9.,;:'\"\n\u00a0\u2028-\u201412)(#>=+ \t|~&<*_", max_size=60))
@example("1) First\n2) second")
@example('\n\n  indented\n\n\nand plain, "quoted"\n')
@example("one\n\n\u00a0\n\ntwo")
@example("head\n===")
@example("a\n-\nb")
def test_a_text_without_marks_is_what_the_parser_makes_of_it(text: str) -> None:
    quick = PROSE.block(text, "../")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(markup, "_BLOCK_MARKED", re.compile(""))  # marks everywhere: the parser takes it
        assert PROSE.block(text, "../") == quick


def test_most_stories_need_no_parser() -> None:
    stories = [found.story for found in demo().cases if found.story]
    plain = [text for text in stories if not markup._BLOCK_MARKED.search(text)]
    assert len(plain) > len(stories) / 2


@given(st.text(alphabet="ab .*_`#>|[]()\n-", max_size=200), st.integers(1, 60))
@example("One.\n\nTwo *three*.\n\n- four", 12)
@example("\n\n\n\nLate.", 3)
@example("", 5)
def test_the_opening_of_a_text_is_what_the_whole_begins_with(text: str, length: int) -> None:
    """Where no link is broken over paragraphs, which Markdown would not take for one either."""
    whole = " ".join(filter(None, (Prose.plain(part) for part in text.split("\n\n"))))
    opening = Prose.opening(text, length)
    assert whole.startswith(opening)
    assert opening == whole or len(opening) > length


def test_the_opening_of_every_story_of_the_demo_is_that_of_its_plain_text() -> None:
    for told in demo().cases:
        assert shorten(Prose.opening(told.story, 110), 110) == shorten(Prose.plain(told.story), 110)
