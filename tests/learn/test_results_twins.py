"""Result sheets: office and phone agree on what a sheet is, on its canonical form and on its code."""

from __future__ import annotations

import copy
import hashlib
import json
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leaklore.analysis import results

from .scripts import node

Raw = dict[str, Any]
MAKE = """
const s = await load("sheet");
const told = (make) => { try { return make(); } catch (e) { if (e instanceof s.SheetFault) return { refused: e.message }; throw e; } };
"""


def item(key: str, done: str | None = "2026-12-01", **more: Any) -> Raw:
    """An item of a sheet."""
    tries = {"tries": 0} if done is None else {"tries": 1}
    return {
        "key": key,
        "title": f"On {key}",
        "done": done,
        "score": None,
        "of": None,
        **tries,
        "minutes": None,
        **more,
    }


def sheet(**more: Any) -> Raw:
    """A sheet without its code."""
    whole: Raw = {
        "leaklore": "result",
        "version": 1,
        "company": "Ketterwick Air & Cold",
        "list": "first-week",
        "title": "First week on the van",
        "edition": "2026-12-31",
        "initials": "AB",
        "due": "2026-12-10",
        "finished": "2026-12-03",
        "again": 2,
        "items": [
            item("case:KW-2025-014"),
            item("unknown:KW-2025-014", "2026-12-03", score=7, of=9, tries=3, minutes=12),
            item("questions:flares", "2026-12-02", score=5, of=6, minutes=3),
        ],
    }
    return {**whole, **more}


def here(raw: Raw | bytes) -> Any:
    """What Python makes of a sheet: canonical form and code, or why not."""
    data = raw if isinstance(raw, bytes) else json.dumps({"code": "", **raw}).encode()
    try:
        found, _ = results.read(data)
    except results.NotASheet as why:
        return {"refused": str(why)}
    return [results.canonical(found).decode(), results.code(found)]


def there(files: list[bytes]) -> list[Any]:
    """What the browser makes of the bytes of sheets."""
    script = """
    return given.map((bytes) => told(() => {
      const { sheet } = s.readSheet(Uint8Array.from(bytes));
      return [s.canonicalSheet(sheet), s.sheetCode(sheet)];
    }));
    """
    return list(node(MAKE + script, [list(data) for data in files]))


SHEETS = {
    "whole": sheet(),
    "open": sheet(finished=None, items=[item("case:KW-1"), item("case:KW-2", None)]),
    "no score": sheet(finished="2026-12-01", items=[item("case:KW-1")]),
    "no due day": sheet(due=None),
    "four initials": sheet(initials="Z9ZZ"),
    "initials of zeros": sheet(initials="00"),
    "other letters": sheet(company="Kühl & Söhne 冷凍 🧊", title='"quoted" \\ <b>&amp;</b> \u2028 é'),
    "bounds": sheet(
        again=9999,
        finished="2109-09-17",
        items=[item("case:KW-1", "2109-09-17", score=9999, of=9999, tries=9999, minutes=9999)],
    ),
    "nothing right": sheet(finished="2020-01-01", items=[item("case:KW-1", "2020-01-01", score=0, of=3)]),
}


def test_both_give_the_same_canonical_form_and_code() -> None:
    files = [json.dumps({**raw, "code": ""}).encode() for raw in SHEETS.values()]
    answers = [here(file) for file in files]
    assert all(isinstance(answer, list) for answer in answers), answers
    assert there(files) == answers
    assert len({code for _, code in answers}) == len(answers)


def test_the_order_of_keys_and_the_way_of_writing_do_not_matter() -> None:
    raw = sheet()
    other = dict(reversed(list(raw.items())))
    texts = [
        json.dumps({**other, "code": ""}, indent=3, ensure_ascii=False).encode(),
        b"\xef\xbb\xbf" + json.dumps({**raw, "code": ""}).replace('"again": 2', '"again": 2.0').encode(),
    ]
    assert [here(text) for text in texts] == [here(raw)] * 2
    assert there(texts) == [here(raw)] * 2


def altered() -> list[Raw]:
    """Sheets that are none, each by one thing."""
    out = [
        {**sheet(), "leaklore": "case"},
        {**sheet(), "version": 2},
        {**sheet(), "version": "1"},
        {**sheet(), "version": True},
        {**sheet(), "more": 1},
        {**sheet(), "__proto__": {}},
        {k: v for k, v in sheet().items() if k != "again"},
        sheet(items=[]),
        sheet(items={}),
        sheet(items=[None]),
        sheet(items=[item("case:KW-1")] * 2),
        sheet(items=[item(f"case:KW-{i}") for i in range(201)]),
        sheet(finished=None),
        sheet(finished="2026-12-02"),
        sheet(initials="<img src=x onerror=alert(1)>"),
        sheet(initials=""),
        sheet(initials="ab"),
        sheet(list="../../etc"),
        sheet(list="first-week\n"),
        sheet(company="x" * 201),
        sheet(company="line\nbreak"),
        sheet(company="half \ud83d a pair"),
        sheet(edition="2026-02-30"),
        sheet(edition="1999-12-31"),
        sheet(edition="2026-W01"),
        sheet(due="2110-01-01"),
        sheet(again=-1),
        sheet(again=1.5),
        sheet(again=10_000),
        sheet(again=10**30),
        sheet(again=True),
        sheet(again="2"),
        sheet(again=None),
        sheet(items=[item("case:KW-1", score=3)]),
        sheet(items=[item("case:KW-1", score=4, of=3)]),
        sheet(items=[item("case:KW-1", score=0, of=0)]),
        sheet(items=[item("<script>")]),
        sheet(items=[item("case:KW-1", tries=0)]),
        sheet(finished=None, items=[item("case:KW-1", None, tries=1)]),
        sheet(finished=None, items=[item("case:KW-1", None, score=1, of=1)]),
        sheet(items=[{**item("case:KW-1"), "x": 1}]),
    ]
    return [{**raw, "code": ""} for raw in out]


def test_both_refuse_what_is_no_sheet_for_the_same_reason() -> None:
    files = [json.dumps(raw).encode() for raw in altered()]
    files += [
        b"",
        b"null",
        b"[]",
        b"7",
        b"{",
        b"\xff\xfe\x00",
        b"[" * 100_000,
        b"x" * 200_001,
        b'{"leaklore": NaN}',
    ]
    answers = [here(file) for file in files]
    assert [a for a in answers if "refused" not in a] == []
    assert there(files) == answers


def test_numbers_that_no_computer_holds_are_refused_by_both() -> None:
    text = json.dumps({**sheet(), "code": ""})
    files = [text.replace('"again": 2', f'"again": {n}').encode() for n in ("1e400", "-1e400", "9" * 5000)]
    assert all("refused" in here(file) for file in files)
    assert all("refused" in answer for answer in there(files))


def test_sha_256_is_that_of_the_standard_library() -> None:
    """Beside it hashlib; 55, 56, 63, 64 bytes are the borders of padding (FIPS 180-4)."""
    draw = random.Random(7)
    data = [draw.randbytes(n) for n in (0, 1, 54, 55, 56, 57, 63, 64, 65, 119, 120, 1000, 20_000)]
    found = node(
        MAKE + "return given.map((bytes) => [...s.sha256(Uint8Array.from(bytes))]);", [list(d) for d in data]
    )
    assert [bytes(f).hex() for f in found] == [hashlib.sha256(d).hexdigest() for d in data]


@pytest.mark.parametrize("name", SHEETS)
def test_a_code_carries_what_it_should(name: str) -> None:
    found, _ = results.read(json.dumps({**SHEETS[name], "code": ""}).encode())
    code = results.code(found)
    carried = results.decode(code)
    assert carried.initials == found.initials
    assert (carried.finished.isoformat() if carried.finished else None) == found.finished
    assert (carried.score, carried.part) == (found.score, found.part)
    assert carried.which(["other", found.list, "third"]) == (found.list,)
    assert results.agrees(found, code)
    easy = code.lower().replace("0", "o").replace("1", "l").replace("-", " ")
    assert results.agrees(found, easy)
    theirs = node(MAKE + "return s.decodeCode(given);", easy)
    assert theirs == {
        "list": carried.list,
        "initials": carried.initials,
        "finished": found.finished,
        "score": carried.score,
        "part": carried.part,
        "digest": carried.digest,
    }


def test_score_and_part_by_hand() -> None:
    found, _ = results.read(json.dumps({**SHEETS["whole"], "code": ""}).encode())
    assert (found.score, found.part, found.done) == (80, 100, 3)  # 12 of 15 points
    found, _ = results.read(json.dumps({**SHEETS["open"], "code": ""}).encode())
    assert (found.score, found.part) == (None, 50)


def bare() -> str:
    """A code without its groups."""
    return str(here(sheet())[1]).replace("-", "")


def refused(code: str) -> bool:
    """Whether a code is none."""
    try:
        results.decode(code)
    except results.NotACode:
        return True
    return False


def test_every_wrong_sign_and_every_swap_is_found() -> None:
    good = bare()
    wrong = [
        good[:i] + sign + good[i + 1 :] for i in range(25) for sign in results.ALPHABET if sign != good[i]
    ]
    for i in range(25):
        for j in range(i + 1, 25):
            signs = list(good)
            signs[i], signs[j] = signs[j], signs[i]
            wrong.append("".join(signs))
    wrong = [code for code in wrong if code != good]
    groups = [good[i : i + 5] for i in range(0, 25, 5)]
    for i in range(5):
        for j in range(i + 1, 5):
            swapped = groups.copy()
            swapped[i], swapped[j] = swapped[j], swapped[i]
            wrong.append("".join(swapped))
    passed = [code for code in wrong if not refused(code)]
    assert passed == []
    assert len(wrong) > 1000


def test_both_say_alike_why_a_code_is_none() -> None:
    good = bare()
    typed = [
        "",
        "12",
        good + "0",
        "U" + good[1:],
        "é" + good[1:],
        good[:-1] + ("0" if good[-1] != "0" else "1"),
    ]
    said = []
    for code in typed:
        with pytest.raises(results.NotACode) as why:
            results.decode(code)
        said.append({"refused": str(why.value)})
    assert node(MAKE + "return given.map((code) => told(() => s.decodeCode(code)));", typed) == said


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_any_alteration_is_found(data: st.DataObject) -> None:
    raw = sheet()
    found, _ = results.read(json.dumps({**raw, "code": ""}).encode())
    code = results.code(found)
    other = copy.deepcopy(raw)
    where = data.draw(st.sampled_from(["initials", "title", "due", "again", "score", "tries", "day", "drop"]))
    if where == "initials":
        other["initials"] = data.draw(st.from_regex(r"\A[A-Z0-9]{1,4}\Z").filter(lambda t: t != "AB"))
    elif where == "title":
        other["title"] += data.draw(st.sampled_from([" ", ".", "é"]))
    elif where == "due":
        other["due"] = data.draw(st.sampled_from([None, "2026-12-11"]))
    elif where == "again":
        other["again"] = data.draw(st.integers(0, 9999).filter(lambda n: n != 2))
    elif where == "score":
        other["items"][1]["score"] = data.draw(st.sampled_from([0, 1, 8, 9]))
    elif where == "tries":
        other["items"][1]["tries"] = data.draw(st.sampled_from([1, 2, 4]))
    elif where == "day":
        other["items"][2]["done"] = data.draw(st.sampled_from(["2026-11-30", "2026-12-03"]))
    else:
        del other["items"][0]
    changed, _ = results.read(json.dumps({**other, "code": code}).encode())
    assert not results.agrees(changed, code)


def test_what_the_phone_seals_the_office_confirms() -> None:
    raw = {k: v for k, v in SHEETS["other letters"].items() if k not in ("leaklore", "version")}
    whole = node(MAKE + "return s.sealed(given);", raw)
    found, code = results.read(json.dumps(whole).encode())
    assert results.agrees(found, code)
    assert found.company == raw["company"]
