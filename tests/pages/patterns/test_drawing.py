"""Charts on our pages: nothing foreign in them, colours of the stylesheet, two widths, a cache that is checked."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import altair as alt
import html5lib
import pytest
from playwright.sync_api import Browser, Page

from leaklore.errors import LeakloreError
from leaklore.pages.patterns import drawing, kept, svg
from leaklore.pages.patterns.drawing import Panels, draw, draw_small, kept_in
from leaklore.pages.patterns.tables import Column, Table
from leaklore.pages.render import theme
from leaklore.website.write import CSS

NASTY = '<script>alert("x")</script> & "two" \'one\' ]]> -->'
Make = Callable[[int], Any]


def _table(key: str = "rates-modes") -> Table:
    columns = (Column("mode", "Failure", "text"), Column("rate", "Rate", "number"))
    return Table(key, f"Rates {NASTY}", columns, ((f"Flare {NASTY}", 3.25), ("Shaft seal", 1.5)))


def _bars(width: int) -> Any:
    rows = [{"mode": mode, "rate": rate} for mode, rate in _table().rows]
    base = alt.Chart(alt.Data(values=rows)).encode(
        y=alt.Y("mode:N", title=NASTY, axis=alt.Axis(labelLimit=90))
    )
    return base.mark_bar().encode(x=alt.X("rate:Q", title=f"At {width}")) + base.mark_text().encode(
        text="mode:N"
    )


def _point(**how: Any) -> Make:
    return lambda width: alt.Chart(alt.Data(values=[{"a": 1}])).mark_point(**how).encode(x="a:Q")


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """An empty page."""
    made = browser.new_page()
    yield made
    made.close()


def test_a_nasty_title_brings_no_forbidden_part() -> None:
    made = draw(_bars, NASTY, NASTY, _table())
    for picture in (made.wide, made.narrow):
        tree = html5lib.parseFragment(str(picture), namespaceHTMLElements=False)
        for node in tree.iter():
            name = str(node.tag).rpartition("}")[2]
            assert name in {
                "DOCUMENT_FRAGMENT",
                "svg",
                "g",
                "path",
                "rect",
                "line",
                "text",
                "desc",
                "defs",
                "clipPath",
            }
            for attribute, value in node.attrib.items():
                assert not str(attribute).startswith("on")
                assert attribute not in (
                    "style",
                    "href",
                    "src",
                    "{http://www.w3.org/1999/xlink}href",
                    "font-family",
                )
                assert "http" not in value
                assert "url(" not in value or value.startswith(f"url(#{made.table.key}-")
        words = {node.text for node in tree.iter() if str(node.tag).endswith(("text", "desc"))}
        assert {NASTY, f"Flare {NASTY}"} <= words, "as text it is all there"


def test_every_colour_is_a_token_of_the_stylesheet() -> None:
    made = draw(_bars, "t", "s", _table())
    paints = set(re.findall(r'(?:fill|stroke)="([^"]+)"', made.wide + made.narrow))
    assert {p for p in paints if not p.startswith("var(--")} <= {"none", "transparent"}
    assert "var(--tube)" in paints
    css = (theme() / "css" / "tokens.css").read_text("utf-8")
    light = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", css.partition("}")[0]))
    for colour, token in drawing.TOKENS.items():
        assert light[token] == colour, "an author sees the colours of light paper"


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (_point(color="#4c78a8"), "the colour #4c78a8 is none of ours"),
        (_point(href="https://elsewhere.example/"), "has no <a>"),
        (lambda width: _point()(width).properties(width=width + 50), "px wide, not"),
        (lambda width: _point()(width).configure_axis(labelFontSize=11), "smaller than 16 px"),
        (
            lambda width: alt.Chart(alt.Data(values=[{"a": 1}])).mark_image(
                url="https://elsewhere.example/a.png"
            ),
            "has no <image>",
        ),
        (lambda width: alt.Chart("https://elsewhere.example/a.json").mark_point(), "not allowed"),
    ],
)
def test_what_our_pages_cant_show_is_refused(make: Make, why: str) -> None:
    with pytest.raises(ValueError, match=re.escape(why)):
        draw(make, "t", "s", _table())


def test_a_chart_that_its_words_make_a_little_too_wide_is_drawn_narrower() -> None:
    made = draw(lambda width: _point()(width).properties(width=width + 9), "t", "s", _table())
    for picture, width in ((made.wide, drawing.WIDE), (made.narrow, drawing.NARROW)):
        drawn = re.search(r'<svg [^>]*width="([\d.]+)"', picture)
        assert drawn
        assert float(drawn[1]) <= width + 1


@pytest.mark.parametrize(
    "part",
    [
        "<script>1</script>",
        "<style>text{}</style>",
        '<foreignObject width="1" height="1"/>',
        '<g style="fill:red"><path d="M0,0" fill="none"/></g>',
        '<g onclick="x()"><path d="M0,0" fill="none"/></g>',
        '<path fill="none" d="M0,0" clip-path="url(https://elsewhere.example/#a)"/>',
        '<path fill="url(#a)" d="M0,0"/>',
    ],
)
def test_the_cleaner_refuses_what_vl_convert_may_yet_write(part: str) -> None:
    with pytest.raises(ValueError, match=r"^x: "):
        svg.ours(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">{part}</svg>',
            "x",
            9,
            drawing.TOKENS,
            16,
        )


def test_both_widths_are_drawn_for_their_width() -> None:
    made = draw(_bars, "t", "s", _table())
    assert ">At 720<" in made.wide
    assert ">At 340<" in made.narrow
    assert 'viewBox="0 0 720 ' in made.wide
    assert 'viewBox="0 0 340 ' in made.narrow
    assert "At 340" not in made.wide


def _small(*values: int) -> Panels:
    def one(value: int) -> Make:
        def make(width: int) -> Any:
            base = alt.Chart({"values": [{"a": value}]})
            return base.mark_line(clip=True).encode(x=alt.X("a:Q", title=f"At {width}")).properties(height=90)

        return make

    charts = [(f"k{i}", NASTY, f"{value} leaks", one(value)) for i, value in enumerate(values)]
    return draw_small(charts, "Leaks by failure", _table())


def test_each_small_picture_is_drawn_once_with_a_name_and_ids_of_its_own() -> None:
    made = _small(3, 5)
    assert [panel.note for panel in made.panels] == ["3 leaks", "5 leaks"]
    text = "".join(panel.picture for panel in made.panels)
    assert text.count(">At 168<") == 2
    assert text.count('viewBox="0 0 168 ') == 2
    for panel in made.panels:
        assert f'aria-labelledby="{panel.id}-title"' in panel.picture
        assert 'aria-details="rates-modes-table"' in panel.picture
    ids = re.findall(r' id="([^"]+)"', text)
    assert ids
    assert len(set(ids)) == len(ids)
    assert sorted(re.findall(r"url\(#([^)]+)\)", text)) == sorted(ids)


def test_a_small_picture_that_changes_leaves_the_others_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[str] = []
    plain = drawing._drawn

    def noted(spec: dict[str, Any]) -> str:
        drawn.append(str(spec["data"]))
        return plain(spec)

    with kept_in(tmp_path):
        _small(3, 5)
        monkeypatch.setattr(drawing, "_drawn", noted)
        _small(3, 6)
    assert len(drawn) == 1


def test_ids_are_unique_and_references_lead_to_them() -> None:
    def clipped(width: int) -> Any:
        return alt.Chart(alt.Data(values=[{"a": 1}, {"a": 3}])).mark_line(clip=True).encode(x="a:Q", y="a:Q")

    one, two = (draw(clipped, "t", "s", _table(key)) for key in ("rates-a", "rates-b"))
    text = one.wide + one.narrow + two.wide + two.narrow
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == 4
    assert len(set(ids)) == 4
    assert sorted(re.findall(r"url\(#([^)]+)\)", text)) == sorted(ids)


def test_the_same_chart_gives_the_same_bytes_again_and_from_the_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh = draw(_bars, "t", "s", _table())
    assert fresh == draw(_bars, "t", "s", _table())
    with kept_in(tmp_path / "charts"):
        assert draw(_bars, "t", "s", _table()) == fresh
        assert len(list((tmp_path / "charts").glob("*.svg"))) == 2

        def broken(spec: dict[str, Any]) -> str:
            raise AssertionError("drawn anew")

        with monkeypatch.context() as patch:
            patch.setattr(drawing, "_drawn", broken)
            assert draw(_bars, "t", "s", _table()) == fresh
            with pytest.raises(AssertionError, match="drawn anew"):
                draw(_point(), "t", "s", _table())
            with pytest.raises(AssertionError, match="drawn anew"):
                draw(_bars, "t", "s", _table("another-key"))


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data[:-9],
        lambda data: data.replace(b"Shaft", b"Shift"),
        lambda data: b"",
        lambda data: b"\xff\xfe\n\xff",
    ],
)
def test_a_damaged_cache_is_made_anew(tmp_path: Path, damage: Callable[[bytes], bytes]) -> None:
    with kept_in(tmp_path):
        fresh = draw(_bars, "t", "s", _table())
        files = {file: file.read_bytes() for file in tmp_path.glob("*.svg")}
        for file, data in files.items():
            file.write_bytes(damage(data))
        assert draw(_bars, "t", "s", _table()) == fresh
        assert {file: file.read_bytes() for file in tmp_path.glob("*.svg")} == files


def test_the_cache_forgets_what_no_build_used_for_a_month(tmp_path: Path) -> None:
    with kept_in(tmp_path):
        draw(_bars, "t", "s", _table())
        draw(_point(), "t", "s", _table())
    old = time.time() - (kept.UNUSED + 1) * 86400
    for file in tmp_path.glob("*.svg"):
        os.utime(file, (old, old))
    with kept_in(tmp_path):
        draw(_bars, "t", "s", _table())
    assert len(list(tmp_path.glob("*.svg"))) == 2, "those used stay, the other two go"


def test_a_cache_that_cant_be_written_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(LeakloreError, match="charts can't be kept in"), kept_in(tmp_path / "file"):
        pass


def test_one_picture_is_seen_at_each_width_in_our_face_and_colours(page: Page) -> None:
    """In Chromium: which of the two is shown, how tall its text is, and that dark and print change the ink."""
    made = draw(_bars, "t", "s", _table())
    css = "\n".join((theme() / "css" / f"{name}.css").read_text("utf-8") for name in CSS)
    page.set_content(
        f'<!doctype html><html lang="en"><style>{css}</style><main class="page"><figure class="drawing">'
        f'<p id="rates-modes-chart-title">t</p>{made.wide}{made.narrow}</figure><p id="rates-modes-table">x</p></main>'
    )
    look = """() => [...document.querySelectorAll('svg')].filter(s => s.getClientRects().length).map(s => {
        const text = [...s.querySelectorAll('text')];
        const scale = s.getBoundingClientRect().width / s.viewBox.baseVal.width;
        return {kind: s.classList[1], ink: getComputedStyle(text[text.length - 1]).fill,
            face: getComputedStyle(text[0]).fontFamily, size: Math.min(...text.map(t => parseFloat(getComputedStyle(t).fontSize) * scale)),
            wide: document.documentElement.scrollWidth}})"""
    inks = {}
    for width in (320, 390, 640, 700, 1280, 1900):
        page.set_viewport_size({"width": width, "height": 800})
        (seen,) = page.evaluate(look)
        assert seen["size"] >= 13, width
        assert seen["size"] <= 20, width
        assert seen["wide"] <= width
        assert "Liberation Sans Narrow" in seen["face"]
        assert seen["kind"] == f"drawing__picture--{'narrow' if width < 660 else 'wide'}"
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        inks[scheme] = page.evaluate(look)[0]["ink"]
    page.emulate_media(media="print")
    inks["print"] = page.evaluate(look)[0]["ink"]
    assert inks == {"light": "rgb(29, 24, 19)", "dark": "rgb(245, 238, 226)", "print": "rgb(0, 0, 0)"}


def test_small_pictures_stand_side_by_side_and_are_read_at_each_width(page: Page) -> None:
    made = _small(*range(7))
    css = "\n".join((theme() / "css" / f"{name}.css").read_text("utf-8") for name in CSS)
    panels = "".join(
        f'<li class="panel"><p class="panel__title">A failure <small>{p.note}</small></p>{p.picture}</li>'
        for p in made.panels
    )
    page.set_content(
        f'<!doctype html><html lang="en"><style>{css}</style><main class="page"><figure class="drawing">'
        f'<ul class="panels">{panels}</ul></figure></main></html>'
    )
    look = """() => {
        const all = [...document.querySelectorAll('.panel svg')].map((s) => s.getBoundingClientRect());
        return {abreast: all.filter((r) => r.bottom === all[0].bottom).length, text: 16 * all[0].width / 168,
            wide: document.documentElement.scrollWidth}}"""
    for width, abreast in ((320, 2), (390, 2), (700, 4), (1280, 4)):
        page.set_viewport_size({"width": width, "height": 800})
        seen = page.evaluate(look)
        assert seen["abreast"] == abreast, width
        assert 13 <= seen["text"] <= 20, width
        assert seen["wide"] <= width
