"""`mkdocs serve` and `leaklore serve`: a change shows by itself, a broken record never stops the server."""

from __future__ import annotations

import io
import re
import signal
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from site_fixture import Document, text_of

from .libraries import PHOTO
from .serving import CASE, LEAKLORE, LIMIT, MKDOCS, TITLE, Server


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """`mkdocs serve`."""
    made = Server(tmp_path, MKDOCS)
    yield made
    made.stop()


def test_serve_shows_changes_and_outlives_a_broken_record(server: Server, tmp_path: Path) -> None:
    first = server.until(CASE, lambda status, text: status == 200 and TITLE in text)
    assert 'class="banner"' not in first

    server.rewrite(TITLE, "Capless port empties the cellar")
    server.until(CASE, lambda _, text: "Capless port empties the cellar" in text)

    good = server.record.read_text("utf-8")
    lines = good.splitlines()
    row = next(i for i, line in enumerate(lines) if "cap-missing" in line)
    column = lines[row].index("cap-missing") + 1
    server.rewrite("cap-missing", "cap-mising")
    broken = server.until("", lambda status, text: status == 200 and 'class="banner"' in text)
    place = f"cases/records/2025/KW-2025-002.yaml:{row + 1}:{column}"
    file = tmp_path / "home.html"
    file.write_text(broken, "utf-8")
    home = Document.read(file, "index.html")
    (banner,) = [e for e in home.find("aside") if e.get("class") == "banner"]
    assert "1 problem in the records; what is wrong is left out here" in text_of(banner)
    assert place in text_of(banner)
    assert "cap-mising" in text_of(banner)
    assert "cap-missing" in text_of(banner), "what to write instead"
    status, missing = server.fetch(CASE)
    assert status == 404
    assert "There is no page here" in missing
    assert "KW-2025-002" not in server.fetch("data/cases.csv")[1]
    assert server.fetch("cases/OS-2024-007/")[0] == 200, "the others stay"
    for page in ("cases/OS-2024-007/", "house/pump/", "guide/", "reading/"):
        assert place in server.fetch(page)[1], page

    server.record.write_text(good, "utf-8")
    mended = server.until(CASE, lambda status, text: status == 200 and "Capless port" in text)
    assert 'class="banner"' not in mended
    assert "Traceback" not in server.said()


def test_serve_takes_a_record_that_is_no_yaml(server: Server) -> None:
    server.until(CASE, lambda status, _: status == 200)
    other = server.library / "records/2024/OS-2024-007.yaml"
    good = other.read_bytes()
    other.write_bytes(b"id: [\n\x00 \xff: }")
    server.until("", lambda status, text: status == 200 and "cases/records/2024/OS-2024-007.yaml:" in text)
    other.unlink()
    server.until("", lambda status, text: status == 200 and 'class="banner"' not in text)
    assert server.fetch("cases/OS-2024-007/")[0] == 404
    new = server.library / "records/2023/OS-2023-001.yaml"
    new.parent.mkdir()
    new.write_bytes(good.replace(b"2024", b"2023").replace(b"-007", b"-001"))
    server.until("cases/OS-2023-001/", lambda status, _: status == 200)
    assert "Traceback" not in server.said()


def test_serve_goes_on_with_own_words_at_fault(server: Server) -> None:
    server.until(CASE, lambda status, _: status == 200)
    words = 'msgid "{n} case"\nmsgid_plural "{n} cases"\nmsgstr[0] "{k} caso"\nmsgstr[1] "{k} casos"\n'
    (server.library / "house" / "words.po").write_text(words, "utf-8")
    company = server.library / "company.yaml"
    company.write_text(f"{company.read_text('utf-8')}language: es\n", "utf-8")
    server.until("", lambda _, text: "Oscuro" in text and "cases/house/words.po:3:1" in text)
    assert "Traceback" not in server.said()


def test_serve_shows_photos_and_tells_of_one_that_can_not_be_decoded(server: Server) -> None:
    server.until(CASE, lambda status, _: status == 200)
    folder = server.library / "photos/KW-2025-002"
    folder.mkdir(parents=True)
    (folder / "port.jpg").write_bytes(PHOTO)
    picture = io.BytesIO()
    Image.effect_noise((300, 200), 90).save(picture, "PNG")
    data = bytearray(picture.getvalue())
    data[len(data) // 2] ^= 0xFF
    (folder / "wall.png").write_bytes(data)
    good = server.record.read_text("utf-8")
    named = "photos: [{file: port.jpg, caption: The port}, {file: wall.png, caption: The wall}]\n"
    server.record.write_text(good + named, "utf-8")
    page = server.until(CASE, lambda status, text: status == 200 and "<picture>" in text)
    assert "cases/photos/KW-2025-002/wall.png:1:1" in page, server.said()
    assert page.count("<picture>") == 1
    (address,) = re.findall(r'<img src="\.\./\.\./(photos/[^"]+)"', page)
    with urllib.request.urlopen(f"http://127.0.0.1:{server.port}/{address}", timeout=30) as answer:
        assert Image.open(io.BytesIO(answer.read())).size == (640, 400)

    (folder / "wall.png").write_bytes(picture.getvalue())
    server.record.write_text(good + named + "lesson: Look at the wall, too.\n", "utf-8")
    mended = server.until(CASE, lambda status, text: status == 200 and text.count("<picture>") == 2)
    assert 'class="banner"' not in mended
    assert "Traceback" not in server.said()


def test_serve_starts_with_a_broken_record(tmp_path: Path) -> None:
    server = Server(tmp_path, LEAKLORE)
    server.rewrite("cap-missing", "cap-mising")
    try:
        server.until("", lambda status, text: status == 200 and "cap-mising" in text)
        server.rewrite("cap-mising", "cap-missing")
        server.until(CASE, lambda status, text: status == 200 and TITLE in text)
    finally:
        server.stop()
    assert "Traceback" not in server.said()
    assert not (tmp_path / "site").exists(), "serve writes no site"


def test_the_page_of_an_edited_record_comes_first_and_the_rest_follows(server: Server) -> None:
    """Its page is made alone; the lists that name it are made by the build that follows by itself."""
    server.until(CASE, lambda status, text: status == 200 and TITLE in text)
    server.until("cases/", lambda status, text: status == 200 and TITLE in text)
    builds = server.said().count("Building documentation")
    server.rewrite(TITLE, "The cap lay in the gravel")
    server.until(CASE, lambda _, text: "The cap lay in the gravel" in text)
    assert server.said().count("Building documentation") == builds, "not by a build of the whole"
    server.until("cases/", lambda _, text: "The cap lay in the gravel" in text)
    assert server.said().count("Building documentation") == builds + 1
    assert "Traceback" not in server.said()


def test_an_edit_while_the_whole_is_built_is_in_it(server: Server) -> None:
    """A build reads the records at its beginning; a record written after that is shown, and stays shown."""
    server.until(CASE, lambda status, text: status == 200 and TITLE in text)
    builds = server.said().count("Building documentation")
    title = TITLE
    server.rewrite(TITLE, "The cap lay in the gravel")
    server.until("", lambda *_: server.said().count("Building documentation") > builds)
    title = "The cap lay in the sump"
    server.rewrite("The cap lay in the gravel", title)
    server.until(CASE, lambda _, text: title in text)
    server.until("cases/", lambda _, text: title in text)
    assert title in server.fetch(CASE)[1]
    assert "Traceback" not in server.said()


@pytest.mark.parametrize("after", [0.0, 0.15, 0.3])
def test_it_ends_while_the_whole_is_built(server: Server, after: float) -> None:
    """Ctrl-C waited for ever for a process of a build that nobody wanted any more."""
    server.until(CASE, lambda status, text: status == 200 and TITLE in text)
    builds = server.said().count("Building documentation")
    server.rewrite(TITLE, "The cap lay in the gravel")
    server.until("", lambda *_: server.said().count("Building documentation") > builds)
    time.sleep(after)
    server.process.send_signal(signal.SIGINT)
    assert server.process.wait(LIMIT) == 0
    for word in ("Traceback", "last good site"):
        assert word not in server.said()
    assert not list(server.temporary.iterdir())
