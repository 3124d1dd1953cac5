"""The search in Python and in the browser: the same understanding, causes, checks, cases and pages."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

from analysis.builders import CASES
from leaklore.analysis.evidence import Check
from leaklore.analysis.order import Board, Candidate, State
from leaklore.analysis.places import Hypothesis
from leaklore.records.check import check
from leaklore.search import index
from leaklore.search.documents import FACETS
from leaklore.search.make import Made, make
from search.draw import Question, options, questions
from search.served import Searcher, as_browser
from twins.browser import JS

TODAY = dt.date(2026, 11, 26)
COUNT, SEED = 500, 20
WITHIN = 1.01e-9
"""Numbers are told with nine digits, so that a rounding can move the last of them."""
HEAD = "data/search/"


@pytest.fixture(scope="session")
def made() -> Made:
    """The engine of the demo library."""
    return make(check(CASES, today=TODAY).library)


@pytest.fixture(scope="session")
def searcher(made: Made) -> Iterator[Searcher]:
    """One browser for all tests of this file."""
    found = Searcher(dict(made.files()))
    yield found
    found.close()


@pytest.fixture
def pieces(searcher: Searcher) -> Iterator[Any]:
    """The server's pieces, put back afterwards."""
    searcher.pieces.asked.clear()
    yield searcher.pieces
    searcher.pieces.changed.clear()
    searcher.pieces.fresh.clear()


@pytest.fixture(scope="session")
def asked(made: Made) -> list[Question]:
    """The drawn questions."""
    return questions(made, COUNT, SEED)


def _python(made: Made, q: Question) -> list[dict[str, Any]]:
    answer = made.engine.find(q.text, TODAY, q.checks, q.only, q.second)
    told = {
        **made.engine.as_json(answer),
        "evidence": as_browser(answer.evidence),
        "stems": list(answer.stems),
    }
    for kind, hits in (("cases", answer.cases), ("pages", answer.pages)):
        for entry, hit in zip(told[kind], hits, strict=True):
            entry["line"] = list(made.engine.index.lines[hit.number])
    at_once = {key: value for key, value in told.items() if key not in ("cases", "pages", "stems")}
    return [at_once, told]


def _differences(ours: Any, theirs: Any, way: str = "") -> Iterator[str]:
    if isinstance(ours, dict) and isinstance(theirs, dict):
        if ours.keys() != theirs.keys():
            yield f"{way}: keys {sorted(ours.keys() ^ theirs.keys())} stand on one side only"
        for key in ours.keys() & theirs.keys():
            yield from _differences(ours[key], theirs[key], f"{way}.{key}")
    elif isinstance(ours, list) and isinstance(theirs, list):
        if len(ours) != len(theirs):
            yield f"{way}: {len(ours)} in Python, {len(theirs)} in the browser"
        for i, (one, other) in enumerate(zip(ours, theirs, strict=False)):
            yield from _differences(one, other, f"{way}[{i}]")
    elif {type(ours), type(theirs)} <= {int, float}:
        if not math.isclose(ours, theirs, rel_tol=1e-9, abs_tol=WITHIN):
            yield f"{way}: {ours!r} in Python, {theirs!r} in the browser"
    elif ours != theirs or type(ours) is not type(theirs):
        yield f"{way}: {ours!r} in Python, {theirs!r} in the browser"


@pytest.fixture(scope="session")
def both(made: Made, searcher: Searcher, asked: list[Question]) -> list[tuple[Question, Any, Any]]:
    """(question, Python's answers, the browser's answers)"""
    theirs = searcher.asked([[q.text, options(q, TODAY)] for q in asked])
    ours = [json.loads(json.dumps(_python(made, q))) for q in asked]
    return list(zip(asked, ours, theirs, strict=True))


def test_both_sides_answer_alike(both: list[tuple[Question, Any, Any]]) -> None:
    """Keys and orders equal, numbers to 1e-9: what is told at once, and the whole answer."""
    wrong = [(q.text, list(d)[:3]) for q, ours, theirs in both if (d := list(_differences(ours, theirs)))]
    assert wrong == [], f"{len(wrong)} of {len(both)} differ"


def test_the_questions_reach_everything(both: list[tuple[Question, Any, Any]]) -> None:
    """Enough of them find cases, know a cause, are filtered, carry checks; every rule of order but rare ones moves one."""
    told = [ours[1] for _, ours, _ in both]
    assert len({q.text for q, *_ in both}) > 0.9 * COUNT
    assert sum(bool(one["cases"]) for one in told) > 0.7 * COUNT
    assert any(len(one["evidence"]["kinds"]) > 1 for one in told)
    assert sum(bool(one["pages"]) for one in told) > 0.7 * COUNT
    assert 0.2 * COUNT < sum(one["known"] for one in told) < 0.9 * COUNT
    results = Counter(c.result for q, *_ in both for c in q.checks)
    assert min(results[r] for r in ("clean", "found", "skip")) > 50
    narrowed = [(one["cases"], q.only) for (q, *_), one in zip(both, told, strict=True) if q.only]
    assert len(narrowed) > 50
    assert sum(bool(cases) for cases, _ in narrowed) > 20
    whys = {why for one in told for n in one["checks"] for why in n["why"]}
    assert whys >= {"low-first", "look-first", "before-gauges", "at-limit"}
    kinds = {f["kind"] for one in told for f in one["understood"]}
    assert kinds >= {
        "symptom",
        "absent",
        "place",
        "not-place",
        "kind",
        "refrigerant",
        "lost",
        "over",
        "age",
        "charge",
        "clean",
    }


def test_the_comparison_can_fail(both: list[tuple[Question, Any, Any]]) -> None:
    """Answers to other questions differ, and so does a number changed in the eighth digit."""
    moved = [*both[7:], *both[:7]]
    noticed = [
        any(_differences(ours, theirs)) for (_, ours, _), (_, _, theirs) in zip(both, moved, strict=True)
    ]
    assert sum(noticed) > 0.9 * len(both)
    ours = next(ours for _, ours, _ in both if ours[1]["cases"])
    changed = json.loads(json.dumps(ours))
    changed[1]["causes"][0]["probability"] += 1e-8
    assert list(_differences(ours, changed))


TEXT = "wall unit short of charge, oil film at the flare, overtightened nut"


def _one(searcher: Searcher, text: str = TEXT, **more: Any) -> Any:
    return searcher.asked([[text, {"checks": [], "today": day(TODAY), **more}]])[0]


def day(today: dt.date) -> dict[str, int]:
    """A day as the browser's modules take it."""
    return {"year": today.year, "month": today.month, "day": today.day}


def _path(made: Made, term: str) -> str:
    buckets = made.engine.index.buckets
    return f"{HEAD}terms/{index.fnv([term])[0] % buckets}.bin"


def _hits(made: Made) -> str:
    found = made.engine.find(TEXT, TODAY).cases[0].number
    return f"{HEAD}hits/{found // index.BLOCK}.json"


def _other_number(body: bytes) -> bytes:
    if body.startswith(b"["):
        rows = json.loads(body)
        return json.dumps(["00000000", *rows[1:]]).encode()
    return bytes([body[0] ^ 1]) + body[1:]


def _first_entry(body: bytes) -> bytes:
    """A bucket cut behind its first term, where all that is left is whole."""
    name = body[5]
    at = 6 + name
    size, shift = 0, 0
    while body[at] > 127:
        size |= (body[at] & 127) << shift
        shift, at = shift + 7, at + 1
    size |= body[at] << shift
    return body[: at + 1 + size]


SPOILT: dict[str, Callable[[bytes], bytes]] = {
    "another number": _other_number,
    "the last byte missing": lambda b: b[:-1],
    "half of it": lambda b: b[: len(b) // 2],
    "nothing": lambda b: b"",
    "a page of text instead": lambda b: b"<!doctype html><title>Not found</title>",
}


@pytest.mark.parametrize("how", SPOILT)
@pytest.mark.parametrize("which", ["terms", "hits", "facets", "words"])
def test_a_spoilt_piece_is_asked_for_again(
    made: Made, searcher: Searcher, pieces: Any, how: str, which: str
) -> None:
    """Cut, altered or of another build: it is fetched anew, and the answer is the right one."""
    path = _which(made, which)
    more = {"only": {"proof": "held"}} if which == "facets" else {}
    text = f"{TEXT} overtightend corrod" if which == "words" else TEXT
    whole = _one(searcher, text, **more)
    pieces.asked.clear()
    pieces.changed[path] = SPOILT[how](pieces.files[path])
    assert _one(searcher, text, **more) == whole
    assert (pieces.asked[path], pieces.asked[f"{path}?fresh"]) == (1, 1)
    pieces.fresh[path] = pieces.changed[path]
    refused = _one(searcher, text, **more)
    assert refused["$refused"] == "A part of the search doesn't fit the rest: load the page again."


def _which(made: Made, which: str) -> str:
    return {
        "terms": _path(made, "p:indoor-flare"),
        "hits": _hits(made),
        "facets": f"{HEAD}facets.bin",
        "words": f"{HEAD}words.json",
    }[which]


def test_a_bucket_cut_between_two_terms_or_of_another_name_is_noticed(
    made: Made, searcher: Searcher, pieces: Any
) -> None:
    """Its count says how many terms there are, its terms say which bucket it is."""
    path = _path(made, "p:indoor-flare")
    other = next(p for p in pieces.files if "/terms/" in p and p != path)
    whole = _one(searcher)
    for body in (_first_entry(pieces.files[path]), pieces.files[other]):
        pieces.asked.clear()
        pieces.changed[path] = body
        assert _one(searcher) == whole
        assert pieces.asked[f"{path}?fresh"] == 1


def test_a_piece_that_cannot_be_had_is_tried_again_by_the_next_question(
    made: Made, searcher: Searcher, pieces: Any
) -> None:
    """Without signal the fault is that of the network, and it does not stay."""
    path = _path(made, "p:indoor-flare")
    script = """async (argument) => {
      const { Engine } = await import("/search/find.mjs");
      const { text, today, path } = JSON.parse(argument);
      const root = "/data/search/";
      const model = await (await fetch(`${root}model.json`)).json();
      let off = true;
      let tries = 0;
      const engine = new Engine(model, async (at, kind) => {
        tries += at === path;
        if (off && at === path) throw new TypeError("no signal");
        const answer = await fetch(root + at);
        return kind === "json" ? answer.json() : answer.arrayBuffer();
      });
      const first = await engine.find(text, { today }).catch((fault) => fault.message);
      off = false;
      const second = await engine.find(text, { today });
      const third = await engine.find(text, { today });
      return JSON.stringify({ first, tries, same: JSON.stringify(second) === JSON.stringify(third), cases: second.cases.length });
    }"""
    told = searcher.run(script, {"text": TEXT, "today": day(TODAY), "path": path.removeprefix(HEAD)})
    assert told == {"first": "no signal", "tries": 2, "same": True, "cases": 20}


def test_pieces_are_few_and_fetched_once(made: Made, searcher: Searcher, pieces: Any) -> None:
    """Only the buckets of the question, facets with a filter, words with an unknown word; none twice."""
    ask = [TEXT, {"today": day(TODAY)}]
    searcher.asked([ask, ask])
    asked = {path: n for path, n in pieces.asked.items() if path != f"{HEAD}model.json"}
    assert set(asked.values()) == {1}
    assert not {f"{HEAD}facets.bin", f"{HEAD}words.json"} & asked.keys()
    assert sum("/terms/" in path for path in asked) <= len(made.engine.find(TEXT, TODAY).stems) + 20


def test_plain_words_can_go_ahead(made: Made, searcher: Searcher, pieces: Any) -> None:
    """The buckets of a text's words are known from the text alone, and a question needs no other for words."""
    plain = "compressor oil film at the flare under the insulation"
    script = """async (text) => {
      const { plainBuckets } = await import("/search/find.mjs");
      const model = await (await fetch("/data/search/model.json")).json();
      return JSON.stringify(plainBuckets(JSON.parse(text), model));
    }"""
    paths = {HEAD + path for path in searcher.run(script, plain)}
    answer = made.engine.find(plain, TODAY)
    assert {_path(made, f"w:{stem}") for stem in answer.stems} <= paths
    assert paths <= {path for path in pieces.files if "/terms/" in path}


@pytest.mark.parametrize("name", FACETS)
def test_every_value_of_a_facet_keeps_its_cases(made: Made, searcher: Searcher, name: str) -> None:
    """Filtered in the browser: the cases of Python, all with that value; the values take every case apart."""
    values = made.engine.index.codes[FACETS.index(name)]
    theirs = searcher.asked(
        [["short of charge", {"today": day(TODAY), "only": {name: value}}] for value in values]
    )
    for value, (_, told) in zip(values, theirs, strict=True):
        ours = made.engine.as_json(made.engine.find("short of charge", TODAY, only={name: value}))
        assert [c["id"] for c in told["cases"]] == [c["id"] for c in ours["cases"]]
    assert any(told["cases"] for _, told in theirs)


def test_a_filter_that_is_none_is_refused(made: Made, searcher: Searcher) -> None:
    """Python refuses it, too."""
    assert _one(searcher, only={"colour": "red"})["$refused"] == "Cases can't be filtered by colour."
    with pytest.raises(ValueError, match="not in tuple"):
        made.engine.find(TEXT, TODAY, only={"colour": "red"})


def test_a_facet_of_many_values_takes_two_bytes(made: Made, searcher: Searcher) -> None:
    """More than 256 branches are told apart."""
    branches = [f"branch {i:03}" for i in range(300)]
    lines = tuple((f"C{i}", "flare", "flare", *[""] * 7, []) for i in range(300))
    facets = tuple(("flare-joint", "", "", branch, "held", "yes") for branch in branches)
    postings = {"w:flar": index.Postings(tuple(range(300)), (9,) * 300)}
    many = index.Index(postings, lines, facets, 300)
    model = json.loads(dict(made.files())[f"{HEAD}model.json"])
    model["index"] = index.described(many)
    files = {path: list(body) for path, body in index.files(many)}
    script = """async (argument) => {
      const { Engine } = await import("/search/find.mjs");
      const { model, files, today } = JSON.parse(argument);
      const engine = new Engine(model, async (path, kind) => {
        const bytes = new Uint8Array(files[`data/search/${path}`]);
        return kind === "json" ? JSON.parse(new TextDecoder().decode(bytes)) : bytes.buffer;
      });
      const found = [];
      for (const branch of model.index.facets.branch) {
        found.push((await engine.find("flare", { today, only: { branch } })).cases.map((hit) => hit.id));
      }
      return JSON.stringify(found);
    }"""
    told = searcher.run(script, {"model": model, "files": files, "today": day(TODAY)})
    assert told == [[f"C{i}"] for i in range(300)]


def test_after_a_find_that_does_not_explain_the_loss(made: Made, searcher: Searcher) -> None:
    """The same evidence without the find, the same advice."""
    checks = (Check("bubble-test", ("indoor-flare",), "found"), Check("visual", ("outdoor-cabinet",)))
    evidence = made.engine.find(TEXT, TODAY, checks).evidence
    ours = made.engine.adviser.advise(made.engine.adviser.without_find(evidence))
    script = """async (argument) => {
      const { engine } = await import("/start.mjs");
      const { text, options } = JSON.parse(argument);
      const made = await engine();
      const { evidence } = made.advise(text, options);
      const { causes, plan } = made.adviser.advise(made.adviser.withoutFind(evidence));
      return JSON.stringify([causes.map((c) => [c.mode, c.probability]), plan.checks.map((c) => [c.technique, c.at, c.probability])]);
    }"""
    asked = Question(TEXT, checks, None)
    theirs = searcher.run(script, {"text": TEXT, "options": options(asked, TODAY)})
    expected = [
        [[c.mode, c.probability] for c in ours.causes],
        [[n.technique, n.at, n.probability] for n in ours.plan.checks],
    ]
    assert list(_differences(expected, theirs)) == []


def test_a_rounding_decides_no_order(made: Made, searcher: Searcher) -> None:
    """Of checks whose values differ in the last bit only the first is taken; of causes the guide's first."""
    order = made.engine.adviser.order
    third = ("visual", "plant-room"), ((0, 0.3),)
    sum_of_two = ("visual", "rack-frame"), ((1, 0.1), (2, 0.2))
    assert 0.1 + 0.2 > 0.3
    for first, second in ((third, sum_of_two), (sum_of_two, third)):
        candidates = tuple(
            Candidate(*at, chances, 1.0, 1.0, 1.0, False, ()) for at, chances in (first, second)
        )
        picked = Board(order, candidates, 3).pick(np.ones(3), State.after((), order))
        assert picked is not None
        assert picked[0] == 0
    script = """async (argument) => {
      const { Board, Done } = await import("/search/order.mjs");
      const { engine } = await import("/start.mjs");
      const { order } = (await engine()).adviser;
      const pairs = JSON.parse(argument).map((pair) => pair.map(([[technique, place], chances]) => (
        { technique, place, key: `${technique} ${place}`, inside: chances.map((c) => c[0]), chances: chances.map((c) => c[1]),
          worth: 1, first: 1, later: 1, strips: false, why: [] })));
      return JSON.stringify(pairs.map((pair) => new Board(order, pair).pick(new Float64Array(3).fill(1), new Done(order)).number));
    }"""
    assert searcher.run(script, [[third, sum_of_two], [sum_of_two, third]]) == [0, 0]
    modes = made.engine.adviser.causes.modes
    near = [Hypothesis(modes[0], "line-joint", 0.3), Hypothesis(modes[1], "line-joint", 0.1 + 0.2)]
    assert [c.mode for c in made.engine.adviser.rank(near)][:2] == list(modes[:2])


TOP = re.compile(r"^(?:export )?(?:async )?(?:function\*?|const|let|class) (\w+)", re.M)


def test_modules_can_be_joined_into_one_file() -> None:
    """Every top-level name once; imports on one line and without another name; no default export, no await."""
    named: Counter[str] = Counter()
    for file in sorted((JS / "search").glob("*.mjs")):
        text = file.read_text(encoding="utf-8")
        named.update(TOP.findall(text))
        for line in re.findall(r"^(?:import|export).*", text, re.M):
            assert re.fullmatch(
                r'import \{ [\w, ]+ \} from "\./[\w-]+\.mjs";|export (?:async )?(?:function|const|class) .*',
                line,
            ), f"{file.name}: {line}"
        assert not re.search(r"^(?:const .*= )?await ", text, re.M), file.name
    assert len(named) > 30
    assert [name for name, n in named.items() if n > 1] == []
