"""Modules joined into one file: what can't be joined fails the build with a plain message; the rest runs."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any, ClassVar

import pytest
from playwright.sync_api import sync_playwright

from chromium import CHROMIUM, FLAGS
from leaklore.errors import LeakloreError
from leaklore.website import scripts
from leaklore.website.scripts import JOINED, join, joined
from site_fixture import ROOT, Site

JS = ROOT / "site_overrides" / "js"
TWO = {"a": "export const one = 1;\n", "b": 'import { one } from "./a.mjs";\nexport const two = one + one;\n'}


def parts(target: str) -> dict[str, str]:
    """The modules of a joined file, as they lie in the checkout."""
    return {part: (JS / f"{part}.mjs").read_text("utf-8") for part in JOINED[target]}


class _Quiet(SimpleHTTPRequestHandler):
    extensions_map: ClassVar[dict[str, str]] = {
        ".mjs": "text/javascript",
        ".html": "text/html",
        "": "text/plain",
    }

    def log_message(self, format: str, *args: object) -> None:
        """Says nothing."""


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """`run(source, script)`: loads a module in Chromium and gives what `script`, a function of its exports, makes."""
    folder = tmp_path_factory.mktemp("modules")
    (folder / "index.html").write_text("<!doctype html><title>modules</title>", "utf-8")
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
    Thread(target=server.serve_forever, daemon=True).start()
    at = f"http://127.0.0.1:{server.server_address[1]}/"

    def open_page() -> tuple[Any, Any, Any]:
        play = sync_playwright().start()
        chromium = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = chromium.new_page()
        page.goto(at)
        return play, chromium, page

    # a thread of its own: other tests' browsers don't mind
    with ThreadPoolExecutor(1) as thread:
        play, chromium, page = thread.submit(open_page).result()
        made = iter(range(1000))

        def go(source: str, script: str) -> Any:
            file = folder / f"{next(made)}.mjs"
            file.write_text(source, "utf-8")
            call = f"async (url) => {{ const module = await import(url); return JSON.stringify(await ({script})(module)); }}"
            return json.loads(thread.submit(page.evaluate, call, f"{at}{file.name}").result())

        yield go
        thread.submit(chromium.close).result()
        thread.submit(play.stop).result()
    server.shutdown()
    server.server_close()


def test_imports_go_and_declarations_stay() -> None:
    assert joined(TWO) == "const one = 1;\nconst two = one + one;\n"
    more = {
        "x/a": "export async function wait() {}\nexport class Box {}\nexport let n = 0;\nexport function* all() {}\n",
        "x/b": 'import { wait, Box, n, all } from "./a.mjs";\n\n// import of words\nconst text = "import { x }";\n',
    }
    more["y/c"] = 'import { n } from "../x/a.mjs";\nconst m = n;\n'
    assert joined(more) == (
        "async function wait() {}\nclass Box {}\nlet n = 0;\nfunction* all() {}\n"
        'const text = "import { x }";\nconst m = n;\n'
    )


def test_the_result_runs(run: Any) -> None:
    """Nothing is exported any more, so the sum is told by the page."""
    source = joined({**TWO, "c": 'import { two } from "./b.mjs";\nglobalThis.told = two + 1;\n'})
    assert run(source, "(module) => [globalThis.told, Object.keys(module)]") == [3, []]


@pytest.mark.parametrize("target", JOINED)
def test_each_joined_file_is_parsed_and_run_by_chromium(run: Any, target: str) -> None:
    """On an empty page, where it finds nothing to wake; a name declared twice would be refused here."""
    source = joined(parts(target))
    assert not re.search(r"^(import|export)\b", source, re.MULTILINE)
    if target == "page.mjs":
        source = source.replace("themeSwitch(document);", "", 1)  # needs the switch of a page
    assert run(source, "() => document.title") == "modules"


GIVEN = """async ({ giveFile }) => {
  const file = new File(["{}"], "sheet.json", { type: "application/json" });
  const saved = [];
  document.addEventListener("click", (e) => saved.push(e.target.download));
  const told = [];
  for (const [takes, fault] of [["files", ""], ["text", ""], ["", ""], ["files text", "AbortError"], ["files text", "NotAllowedError"]]) {
    const shared = [];
    navigator.canShare = (what) => Object.keys(what).some((key) => takes.includes(key));
    navigator.share = async (what) => {
      shared.push(Object.keys(what)[0]);
      if (fault) throw new DOMException("", fault);
    };
    told.push([await giveFile(file, [{ files: [file] }, { text: "{}" }]), shared]);
  }
  return [told, saved];
}"""


def test_a_file_is_passed_on_where_that_goes_and_saved_elsewhere(run: Any) -> None:
    told, saved = run((JS / "give.mjs").read_text("utf-8"), GIVEN)
    assert told == [
        ["shared", ["files"]],
        ["shared", ["text"]],
        ["file", []],
        ["kept", ["files"]],
        ["file", ["files", "text"]],
    ]
    assert saved == ["sheet.json", "sheet.json"]


def test_the_joined_engine_answers_as_its_parts(run: Any, demo: Site) -> None:
    """The file of the built site, with its parts' exports called by name."""
    source = demo.text("js/search.mjs")
    model = demo.text("data/search/model.json")
    ask = (
        "\nconst model = "
        + model
        + ";\nexport const told = new Engine(model, () => Promise.reject(new Error('no')))"
        ".advise('oil at flare minisplit', { today: { year: 2026, month: 11, day: 26 } }).causes.slice(0, 3);\n"
    )
    found = run(source + ask, "(module) => module.told")
    assert found[0]["mode"] == "flare-joint"
    assert all(0 < c["probability"] < 1 for c in found)


def test_comments_and_indentation_go_but_not_from_a_text_over_lines(run: Any) -> None:
    """A template that runs over lines keeps its module as written."""
    plain = "// says one\n\nfunction one() {\n  // inside\n  return 'a // b'; // kept\n}\n"
    assert joined({"a": plain}) == "function one() {\nreturn 'a // b'; // kept\n}\n"
    over = "const text = `a\n  // b\n\n  c`;\nglobalThis.over = text;\n"
    source = joined({"a": plain, "b": over})
    assert run(source, "() => [globalThis.over]") == ["a\n  // b\n\n  c"]


REFUSED: Mapping[str, tuple[dict[str, str], str]] = {
    "the same name twice": (
        {"a": "const one = 1;\n", "x/b": "function one() {}\n"},
        "js/x/b.mjs: one is also in js/a.mjs; give one another name",
    ),
    "the same name, exported": (
        {"a": "export class Box {}\n", "b": "export const Box = 1;\n"},
        "js/b.mjs: Box is also in js/a.mjs; give one another name",
    ),
    "the same name in a generator and a promise": (
        {"a": "function* all() {}\n", "b": "async function all() {}\n"},
        "js/b.mjs: all is also in js/a.mjs; give one another name",
    ),
    "a default export": (
        {"a": "export default function one() {}\n"},
        "js/a.mjs: 'export default function one() {}' can't be joined; write a one-line import or export",
    ),
    "a list of exports": (
        {"a": "const one = 1;\nexport { one };\n"},
        "js/a.mjs: 'export { one };' can't be joined; write a one-line import or export",
    ),
    "an import over several lines": (
        {**TWO, "b": 'import {\n  one,\n} from "./a.mjs";\n'},
        "js/b.mjs: 'import {' can't be joined; write a one-line import or export",
    ),
    "an import under another name": (
        {**TWO, "b": 'import { one as uno } from "./a.mjs";\n'},
        "js/b.mjs: 'import { one as uno } from \"./a.mjs\";' can't be joined; write a one-line import or export",
    ),
    "an import of everything": (
        {**TWO, "b": 'import * as a from "./a.mjs";\n'},
        "js/b.mjs: 'import * as a from \"./a.mjs\";' can't be joined; write a one-line import or export",
    ),
    "an import of a default": (
        {**TWO, "b": 'import one from "./a.mjs";\n'},
        "js/b.mjs: 'import one from \"./a.mjs\";' can't be joined; write a one-line import or export",
    ),
    "an import for its effect": (
        {**TWO, "b": 'import "./a.mjs";\n'},
        "js/b.mjs: 'import \"./a.mjs\";' can't be joined; write a one-line import or export",
    ),
    "an import from elsewhere": (
        {**TWO, "b": 'import { one } from "/a.mjs";\n'},
        "js/b.mjs: 'import { one } from \"/a.mjs\";' can't be joined; write a one-line import or export",
    ),
    "a module that isn't among them": (
        {**TWO, "x/b": 'import { one } from "./a.mjs";\n'},
        "js/x/b.mjs: js/x/a.mjs is not joined before it",
    ),
    "a module that comes later": (
        {"b": TWO["b"], "a": TWO["a"]},
        "js/b.mjs: js/a.mjs is not joined before it",
    ),
    "a name that isn't there": (
        {**TWO, "b": 'import { one, three } from "./a.mjs";\n'},
        "js/b.mjs: js/a.mjs exports no three",
    ),
    "a name that is kept inside": (
        {"a": "const one = 1;\n", "b": 'import { one } from "./a.mjs";\n'},
        "js/b.mjs: js/a.mjs exports no one",
    ),
}


@pytest.mark.parametrize("why", REFUSED)
def test_what_cannot_be_joined_is_refused(why: str) -> None:
    sources, message = REFUSED[why]
    with pytest.raises(LeakloreError) as told:
        joined(sources)
    assert str(told.value) == message


def test_join_writes_over_the_parts_and_takes_a_companys_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scripts, "JOINED", {"b.mjs": ("a", "b")})
    for part, text in TWO.items():
        (tmp_path / f"{part}.mjs").write_text(text, "utf-8")
    (tmp_path / "a.mjs").write_text("export const one = 5;\n", "utf-8")
    join(tmp_path)
    assert (tmp_path / "b.mjs").read_text("utf-8") == "const one = 5;\nconst two = one + one;\n"
    assert [p.name for p in tmp_path.iterdir()] == ["b.mjs"], "the parts have gone into it"


def test_the_site_has_the_joined_files(demo: Site) -> None:
    for target in JOINED:
        assert demo.text(f"js/{target}") == joined(parts(target))
