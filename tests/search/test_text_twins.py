"""Words, amounts and understanding in Python and in the browser: the same stems, findings and places in the text."""

from __future__ import annotations

import datetime as dt
import json
import math
import random
import unicodedata
from collections.abc import Iterator
from typing import Any

import pytest

from analysis.builders import CASES
from leaklore.analysis import text
from leaklore.analysis.evidence import Check
from leaklore.records.check import check
from leaklore.search.amounts import TABLES, amounts
from leaklore.search.documents import case_document
from leaklore.search.lexicon import KINDS
from leaklore.search.make import Made, make
from leaklore.search.understand import Understood, evidence, understand
from search.served import Searcher, as_browser

DAYS = (
    dt.date(2026, 11, 26),
    dt.date(2024, 2, 29),
    dt.date(2026, 3, 15),
    dt.date(2026, 3, 16),
    dt.date(2027, 1, 1),
)
TYPED = """
410 hissing by the wall green copper lost 3 lb since spring
oil at flare minisplit
keeps loosing charge no bubbles
nothing found with detector at the flare
oil at the flare, nothing found with soap
oil at flare coil and txv ok drain also ok
oil at filter drier coil drain ok
nothing found hissing at the wall
oil at flare nothing found at the coil
soaped flares nothing found at the coil, coil and txv ok
hissing cant find leak not leaking at the flare
checked flares checked coil nothing
soaped the flare at the txv and got nothing, bubbles and uv nada
rooftop 20 yrs
soaped the flare and nothing, hissing and nothing
perdió medio kilo desde marzo, 2 de 6 kg en un año, 12 años de  uso
soap and sniffer on both flares clean
soaped flares and txv nothing found near the drier
sniffer beeps soap clean but dye and soap clean
ice on coil flares and txv ok oil on it no good
not windy, no rain or snow, hissing
flare checked with soap, clean
minisplit flare and txv soaped, clean, flare dye never showed
oil at the filter drier soap clean but coil soap clean
found nothing at the coil, not seen any oil
R-410A split, low suction, oil at outdoor flares
r 410a system low on gas
R410A  Low   ON  charge!!
R-1234ze(E) chiller, 12 kg lost in 2 years
r-1234ZE(z), R32; R-22 / r 404a
r1234ze(e)r32 and r-22r32
3 lb 8oz short
lost 3 lb 8 oz since march
added 3lb8oz last month
lost 1/2 lb
lost 1 1/2 lb since last summer
lost 4 of 12 kg, 1/2 of the 3 lb, 2 lb out of its 8 lb
2 of 3 compressors 4 kg in 3 mnths
suction 60 psi head pressure is only 200 psig flare 85 ppm
receiver at 20 %, suction at temp at 5 c
1-1/2 lb a year
½ lb low
lost 1½ lb in 3 months
lost 2¾ kg since christmas
3/8 flare weeping
5/8 in suction line oily
1/0 lb
0/5 lb in 0 years
lost 2,5 kg per month
chiller lost 1,200 lb
lost 0,850 kg of 12,500 g
lost 999,999 g, then 1234,567 kg
lost .5 lb
lost 1.500 kg
lost 12345678 kg
lost 2kg/month
lost 2 kg/3 months
a few pounds a year
half a pound every summer
half  a\tpound since new year
couple of kilos since easter
2# since may
2 # since last fall
500 g monthly
100 grams weekly, 2 ounces daily
lost 4 oz yearly
lost 3 kg annually
charge 4.5 kg
charge of 4.5 kg
system holds 4.5 kg, lost 1 kg
4.5 kg charge
4.5 kg of system charge
lost about 3 lb of charge
low by about 2 lb
down on charge by around 2 lb
below 3 lb charge
nameplate 6 lb 4 oz
total charge 12 lb, added 3 lb
12 years old
12-year-old condenser
2 yrs ago regassed
installed 2015
fitted in 1998
built 2030
put  in 2020
commissioned in 2026
brand new
brand  new install
just installed last week
since 2024
since 2030
since 1925
from late october
since the summer
since early may low on gas
since service
since last visit
hissing since last week
since last callout, after last summer
from march to april
needs gas every year
gas every summer
3 lb every winter
every few months
loses charge in one season only
each summer it is short
no oil every summer hissing
no oil 3 years hissing
no leak found in 2 weeks hissing
407c low
407 c low
407C -5 C suction
454c at 12 c
suction 60 psi head 200 psig
suction 60 lbs head is 250 lbs
500# nitrogen no leaks
300 lbs of dry nitrogen dropped 10 lbs overnight
nitrogen, dropped 10 lbs
presurice con nitrogeno y bajo 20 libras
lost 3 lbs nitrogen test clean
lost 300 g in 2 summers
nitro held 3 days no drop
nitrogen didnt hold
no hits with the sniffer at the coil
hi sh lo suction pkg unit screw thru
svc vlv lo
superheat 12 °F
superheat 12°C subcool 2 K
superheat 12 degf, sc 1.5 k
-5 psi
20% low
20 percent short
leak rate 15 ppm at the shaft seal
500 microns after 10 min
50 ft line, 10 m line set
no oil or hissing
no oil, hissing
no oil and no hissing
no oil nor hissing nor bubbles
no oil but hissing
oil but no hissing
neither oil nor frost
not seeing any oil
no visible oil
no sign of oil anywhere
isn't icing
isn’t icing
isn‘t icing
isnʼt icing
isn´t icing
isn`t icing
ISN'T ICING
doesn't cool, won't hold temp
never hissing
no longer hissing
without oil at the flare
no oil at the flare or the coil
no hissing at the wall
oil not at the flare
not the flare, not the coil
not the compressor but the filter drier
bubbles negative
bubbles negative at the flare
visual clean
visual clean at the coil
visual at the coil clean
soaped the flares, nothing
soaped the flares nothing
soaped the flares, nothing found at the coil
oil, nothing
no oil, hissing or frost
no oil, icing, hissing or frost, smell
no oil; icing, hissing or frost
no oil 3 lb, hissing or frost
no dent, nick or hole
not at the flare, hissing or frost
dye, negative. oil
lost 2 kg / month
system charge is about 3 kg
dye never showed
the dye never showed at the flare
dye never showed, oil
ultrasonic can't hear anything
ultrasonic can't hear a hiss
uv lamp nothing at the evaporator
sniffer found nothing at the coil
sniffer hit at the coil
nitrogen test held
pressure test passed
not a flare leak
no flare leak
rubbing ruled out
ruled out rub through
oil at the filter drier
oil film on the evaporator coil, green
hissing at the wall
icing at the txv
frost on the liquid line
frost on suction near the compressor
118 suction 300 head, 250 psig on the high side, unit 12 suction line
suction: 118, head = 300.5, low side 95 5% discharge 410a, 8.5 bar succion, 2 head
oil under the indoor coil of the heat pump
low suction at the evaporator
oil oil oil
oil, no oil, oil
no oil, oil, no oil
R-410A then R-32
relief valve
relief valve leaking
liquid line
cold room frosted
walk in freezer short of gas
minisplit multisplit rooftop
rooftop heat pump
heat pump at the rooftop
heat pump, not the chiller
buried line set, ammonia smell
heat pump heatpump minisplit mini-split mini split
supermarket rack leak
corroded evapurator
oyl at flair nut
hising behnd teh wal
hising behnd
oli at th filtr drir
custmer sez gren coper
compresor noisey
hising at the sevice valve
lwo suciton pressrue
shrot of gas
conndenser coil corosion
schrader leeking
flrae nut
eovaporator
capp missing
vibraton
loosing gas loosing charge losing refrigerant
plastic cap off
unit short of charge after the kitchen refit
ammonia smell
alarm went off in the plant room
co2 alarm
green stuff on the copper
there is a leak somewhere please help
what
customer says it is not cooling
the a an
no
no no no
nothing
nothing at all
or
nor oil
and
but
oil nothing
oil: nothing. hissing?
oil\thissing\tgreen
oil\nhissing\ngreen
oil\r\nhissing\x0bgreen\x0coily
no\noil
no oil\u2028hissing
no\u00a0oil at\u3000the\u2003flare
3\u00a0lb since\u202fspring
oil\u0085film
oil\u200bfilm at the flare\ufe0f
so\u00adaped
𢡊 oil at the flare
fuité à l'évaporateur
Öl am Verdampfer, Kältemittel fehlt
o\u0308il f\u0301ilm
ö́il at the flàre
e\u0301vaporator coil co\u0301rroded
ＲＥＦＲＩＧＥＲＡＮＴ ｌｏｗ １２ ｌｂ
ﬂare oﬀ
5℃ suction 40℉
№ 5 oil
m² oil ³
٣ lb ٤١٠
ΟΔΟΣ oil at the flare ΣΑΣ
oil 🔥 at the flare ❄️ hissing
🧊🧊🧊 ice on coil
👩‍🔧 says hissing
𝐨𝐢𝐥 at the flare
oil🔥film
3🔥lb
🔥
“oil” at the ‘flare’
oil—hissing–green
oil…hissing
oil;hissing:green!frost?rust.dye
constructor toString __proto__ hasOwnProperty
null undefined NaN true
<script>alert(1)</script>
'; drop table cases; --
r
rr410
_r410a_
for-410a
r-4
r-41000
r410abc
-r410a
R-410A's
ßr410a
123 456 7
.5.5.5 lb 1,2,3 kg
1.2.3 lb
3 lb 3 lb 3 lb
3 lb of 4 lb of 5 lb charge
lost 3 lb, over 2 years, charge 10 lb, 5 years old
lost 1 lb lost 2 lb since spring since june
""".strip("\n").split("\n")  # fmt: skip
LONG = "oil at the flare, no hissing since spring; " * 120
ODD = ("", " ", "\t\n", "a", "'", "’", "\u0301", "\ud800 oil", "oil \udfff", "oil\x00film", LONG[:5000], "🔥" * 601 + " oil", "x" * 5000,
       "🔥" * 590 + " oil film at", "a" * 596 + " oil", "\u0301" * 700 + "oil", "½" * 700, "oil " * 1250, "no " * 200 + "oil")  # fmt: skip
NEGATORS = (
    "no",
    "not",
    "without",
    "never",
    "no sign of",
    "can't find",
    "nothing",
    "or",
    "nor",
    "but",
    "and",
    "negative",
    "clean",
    "since",
)
AMOUNTS = (
    "3 lb",
    "2,5 kg",
    "since spring",
    "in 2 months",
    "a year",
    "every summer",
    "12 years old",
    "charge 5 kg",
    "lost 1/2 lb",
    "60 psi",
)
JOINTS = (
    " ",
    " ",
    " ",
    ", ",
    "; ",
    ". ",
    " at the ",
    " on ",
    " the ",
    "\n",
    " - ",
    "’s ",
    " 🔥 ",
    "\u00a0",
    " of ",
    "/",
)
LETTERS = "abcdefghijklmnopqrstuvwxyz"


@pytest.fixture(scope="module")
def made() -> Made:
    """The engine of the demo library."""
    return make(check(CASES, today=DAYS[0]).library)


@pytest.fixture(scope="module")
def searcher(made: Made) -> Iterator[Searcher]:
    """One browser for all tests of this file."""
    found = Searcher(dict(made.files()))
    yield found
    found.close()


def _phrases(made: Made) -> list[str]:
    return [p for by in made.phrases["phrases"].values() for listed in by.values() for p in listed]


def _slip(word: str, rng: random.Random) -> str:
    """A letter left out, doubled, changed or swapped with its neighbour."""
    i = rng.randrange(len(word))
    return rng.choice(
        (
            word[:i] + word[i + 1 :],
            word[:i] + word[i] + word[i:],
            word[:i] + rng.choice(LETTERS) + word[i + 1 :],
            word[:i] + word[i : i + 2][::-1] + word[i + 2 :],
        )
    )


def _dressed(said: str, rng: random.Random) -> str:
    """As a hurried thumb has it: slips, capitals, an accent."""
    words = [_slip(w, rng) if w and rng.random() < 0.25 else w for w in said.split(" ")]
    said = " ".join(words)
    dice = rng.random()
    if dice < 0.1:
        return said.upper()
    if dice < 0.2:
        return said.title()
    return said.replace("e", "é", 1) if dice < 0.25 else said


def drawn(made: Made, count: int, seed: int) -> list[str]:
    """Texts made of phrases, negators and amounts."""
    rng = random.Random(seed)
    phrases = _phrases(made)
    out = []
    for _ in range(count):
        parts = []
        for _ in range(rng.randint(1, 7)):
            pool = rng.choices((phrases, NEGATORS, AMOUNTS), (5, 2, 1))[0]
            parts += [_dressed(rng.choice(pool), rng), rng.choice(JOINTS)]
        out.append("".join(parts[:-1]))
    return out


def garbage(count: int, seed: int) -> list[str]:
    """Characters of all of Unicode that this Python knows, among letters that mean something."""
    rng = random.Random(seed)
    known = [chr(n) for n in range(0x30000) if unicodedata.category(chr(n)) not in ("Cn", "Cs")]
    marks = [c for c in known if unicodedata.category(c).startswith("M")]
    folded = [c for c in known if c != unicodedata.normalize("NFKD", c)]
    ours = [
        "oil",
        "no",
        "r",
        "410a",
        "R-",
        "flare",
        "3",
        "lb",
        " ",
        "1",
        "/",
        "(e)",
        "kg",
        "since",
        "c",
        ".",
        "2 ",
    ]
    return [
        "".join(rng.choice(rng.choice((known, marks, folded, ours, ours))) for _ in range(rng.randint(1, 40)))
        for _ in range(count)
    ]


def _heard(found: Understood) -> dict[str, Any]:
    return {
        "findings": [
            {
                "kind": f.kind,
                "keys": list(f.keys),
                "start": f.start,
                "end": f.end,
                "value": f.value,
                "at": list(f.at),
                "stems": list(f.stems),
            }
            for f in found.findings
        ],
        "words": list(found.words),
        "stems": list(found.stems),
    }


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
    elif isinstance(ours, float) and type(theirs) in (int, float):
        if not math.isclose(ours, theirs, rel_tol=1e-9, abs_tol=1e-9):
            yield f"{way}: {ours!r} in Python, {theirs!r} in the browser"
    elif ours != theirs or type(ours) is not type(theirs):
        yield f"{way}: {ours!r} in Python, {theirs!r} in the browser"


CHECKS = (
    Check("bubble-test", ("indoor-flare",), "found"),
    Check("visual", ("outdoor-cabinet", "indoor-coil"), "skip"),
)
UNDERSTAND = """async (argument) => {
  const { amountReader } = await import("/search/amounts.mjs");
  const { Lexicon } = await import("/search/lexicon.mjs");
  const { evidenceOf, understand } = await import("/search/understand.mjs");
  const { asked, checks } = JSON.parse(argument);
  const model = await (await fetch("/data/search/model.json")).json();
  const amounts = amountReader(model.amounts);
  const lexicon = new Lexicon(model.lexicon);
  return JSON.stringify(asked.map(([text, today]) => {
    const heard = understand(text, lexicon, amounts, today, model.reading);
    return [heard, evidenceOf(heard, checks)];
  }));
}"""


@pytest.fixture(scope="module")
def both(made: Made, searcher: Searcher) -> list[tuple[str, Any, Any]]:
    """(text, Python's understanding and evidence, the browser's)"""
    said = [*TYPED, *ODD, *drawn(made, 300, 11), *garbage(150, 12)]
    asked = [(one, DAYS[i % len(DAYS)]) for i, one in enumerate(said)]
    asked += [(one, day) for one in said if "since" in one or "from" in one for day in DAYS]
    told = [[one, {"year": d.year, "month": d.month, "day": d.day}] for one, d in asked]
    checks = [{"technique": c.technique, "at": list(c.at), "result": c.result} for c in CHECKS]
    theirs = searcher.run(UNDERSTAND, {"asked": told, "checks": checks})
    ours = []
    for one, day in asked:
        heard = understand(one, made.engine.lexicon, day)
        ours.append([_heard(heard), as_browser(evidence(heard, CHECKS))])
    return list(zip([one for one, _ in asked], ours, theirs, strict=True))


def test_both_sides_understand_alike(both: list[tuple[str, Any, Any]]) -> None:
    """Keys, places in the text, words and stems equal; numbers to 1e-9."""
    assert len({one for one, *_ in both}) >= 500
    wrong = [(one, list(d)[:3]) for one, ours, theirs in both if (d := list(_differences(ours, theirs)))]
    assert wrong == [], f"{len(wrong)} of {len(both)} differ"


def test_the_texts_reach_everything(both: list[tuple[str, Any, Any]]) -> None:
    """Every kind of finding, offsets that differ between the two ways of counting, every part of the evidence."""
    kinds = {f["kind"] for _, (heard, _), _ in both for f in heard["findings"]}
    assert kinds == {
        *KINDS,
        "absent",
        "not-place",
        "not-mode",
        "near",
        "clean",
        "lost",
        "charge",
        "over",
        "age",
    }
    filled = {name for _, (_, known), _ in both for name, value in known.items() if value}
    assert filled == set(both[0][1][1])
    counted = [
        one
        for one, (heard, _), _ in both
        if any(c > "\uffff" for f in heard["findings"] for c in one[: f["end"]])
    ]
    assert len(counted) > 10
    assert any(f["at"] for _, (heard, _), _ in both for f in heard["findings"] if f["kind"] == "clean")


def test_the_comparison_can_fail(both: list[tuple[str, Any, Any]]) -> None:
    """What another text means is noticed, and so is one offset that is moved by one."""
    moved = [*both[5:], *both[:5]]
    noticed = [
        any(_differences(ours, theirs)) for (_, ours, _), (_, _, theirs) in zip(both, moved, strict=True)
    ]
    assert sum(noticed) > 0.8 * len(both)
    changed = json.loads(json.dumps(both[0][1]))
    changed[0]["findings"][0]["end"] += 1
    assert list(_differences(both[0][1], changed))


TEXT_SCRIPT = """async (argument) => {
  const { distance, editsAllowed, fold, foldAt, stem, stems, words } = await import("/search/text.mjs");
  const { said, listed, pairs } = JSON.parse(argument);
  return JSON.stringify({
    folded: said.map((one) => [fold(one), foldAt(Array.from(one)), words(fold(one)), stems(one)]),
    stems: listed.map((word) => [stem(word), editsAllowed(word)]),
    edits: pairs.map(([a, b]) => [0, 1, 2, 3, 99].map((most) => distance(a, b, most))),
  });
}"""


def test_words_stems_and_edits_are_the_same(made: Made, searcher: Searcher) -> None:
    """All words of the lexicon and those of the cases' prose; pairs a slip or two apart, and others."""
    rng = random.Random(13)
    prose = {word for c in made.library.active for word in case_document(c, made.library).forms}
    listed = sorted({*made.engine.lexicon.every, *made.engine.index.words, *prose})
    assert len(listed) > 3000
    pairs = [
        (a, b) for a in rng.sample(listed, 700) for b in (_slip(a, rng), _slip(_slip(a, rng) or "a", rng))
    ]
    pairs += [(rng.choice(listed), rng.choice(listed)) for _ in range(500)]
    pairs += [("".join(rng.choices("abc", k=rng.randint(0, 7))), "".join(rng.choices("abc", k=rng.randint(0, 7)))) for _ in range(400)]  # fmt: skip
    said = [*TYPED, *ODD, *drawn(made, 100, 14), *garbage(300, 15)]
    theirs = searcher.run(TEXT_SCRIPT, {"said": said, "listed": listed, "pairs": pairs})
    for one, (folded, at, words, stems) in zip(said, theirs["folded"], strict=True):
        plain, places = text.fold_at(one)
        assert (folded, words, stems) == (plain, text.words(plain), text.stems(one)), repr(one)
        assert text.fold(one) == plain, repr(one)
        assert at == {"folded": plain, "begins": [b for b, _ in places], "ends": [e for _, e in places]}
    assert theirs["stems"] == [[text.stem(w), text.edits_allowed(w)] for w in listed]
    ours = [[text.distance(a, b, most) for most in (0, 1, 2, 3, 99)] for a, b in pairs]
    assert theirs["edits"] == ours
    assert len(pairs) >= 2000
    assert {edits for *_, edits in ours} >= {0, 1, 2, 3, 4, 8}


NEAR_SCRIPT = """async (argument) => {
  const { Lexicon } = await import("/search/lexicon.mjs");
  const { lexicon } = await (await fetch("/data/search/model.json")).json();
  const compiled = new Lexicon(lexicon);
  const rows = [...compiled.starts].map(([start, listed]) => [start, listed.map(({ pattern, meaning }) => [pattern, meaning.map(({ kind, keys }) => [kind, keys])])]);
  const said = JSON.parse(argument);
  return JSON.stringify({ near: said.map((word) => compiled.near(word)), again: said.map((word) => compiled.near(word)), rows, joined: [...compiled.joined] });
}"""


def test_the_lexicon_compiles_alike_and_finds_the_same_neighbours(made: Made, searcher: Searcher) -> None:
    """The browser looks at few words only; it must not miss one."""
    rng = random.Random(16)
    lexicon = made.engine.lexicon
    long = [w for w in lexicon.every if len(w) >= 4]
    said = [*rng.sample(long, 300), *(s for w in rng.sample(long, 700) if (s := _slip(w, rng)))]
    said += [s for w in rng.sample(long, 500) if (s := _slip(_slip(w, rng), rng))] + list(lexicon.plain)[:50]
    brief = [w for w in lexicon.every if 3 <= len(w) <= 4]
    said += [*brief[:50], *(s for w in rng.sample(brief, 200) if len(s := _slip(w, rng)) == 3)]
    theirs = searcher.run(NEAR_SCRIPT, said)
    ours = [list(lexicon.near(word)) for word in said]
    assert theirs["near"] == theirs["again"] == ours
    assert sum(len(n) > 1 for n in ours) > 50
    assert sum(not n for n in ours) > 50
    assert dict(theirs["rows"]) == {
        start: [[list(pattern), [[m.kind, list(m.keys)] for m in meaning]] for pattern, meaning in rows]
        for start, rows in lexicon.starts.items()
    }
    assert {word: tuple(parts) for word, parts in theirs["joined"]} == dict(lexicon.joined)


AMOUNTS_SCRIPT = """async (argument) => {
  const { amountReader } = await import("/search/amounts.mjs");
  const { amounts: tables } = await (await fetch("/data/search/model.json")).json();
  const amounts = amountReader(tables);
  return JSON.stringify(JSON.parse(argument).map(([text, today]) => amounts(text, today)));
}"""


def _amount_texts(count: int, seed: int) -> list[str]:
    rng = random.Random(seed)
    figures = [
        "3",
        "2,5",
        "1,200",
        "0,850",
        "1.25",
        "1/2",
        "1 1/2",
        "1-3/4",
        "12",
        "0",
        "999999",
        "1234567",
        "",
        "a",
        "half a",
        "couple of",
    ]
    pools: list[list[str]] = [
        figures,
        [
            str(word)
            for name in ("mass", "days", "readings", "ounces", "per", "when")
            for word in TABLES[name]
        ],
        [
            str(word)
            for name in (
                "lost",
                "holds",
                "about",
                "whole",
                "share",
                "from",
                "built",
                "just",
                "pressing",
                "gauged",
                "fell",
            )
            for word in TABLES[name]
        ],
        [*TABLES["since"], *TABLES["often"], *TABLES["then"], "2015", "1999", "2040", "in"],
    ]
    return [
        "".join(
            f"{rng.choice(rng.choices(pools, (3, 3, 2, 1))[0])}{rng.choice(('', ' ', ' ', ' ', '  ', '-', ', ', '. ', '/', chr(9)))}"
            for _ in range(rng.randint(2, 9))
        )
        for _ in range(count)
    ]


def test_amounts_are_read_alike(searcher: Searcher) -> None:
    """Made of every word of the tables, on days before and after the middle of a month."""
    said = [(one, DAYS[i % len(DAYS)]) for i, one in enumerate(_amount_texts(1500, 17))]
    theirs = searcher.run(
        AMOUNTS_SCRIPT, [[one, {"year": d.year, "month": d.month, "day": d.day}] for one, d in said]
    )
    seen = set()
    for (one, day), found in zip(said, theirs, strict=True):
        ours = [
            {"kind": a.kind, "value": a.value, "start": a.start, "end": a.end, "loose": a.loose}
            for a in amounts(one, day)
        ]
        assert list(_differences(ours, found)) == [], repr(one)
        seen.update((a["kind"], a["loose"]) for a in ours)
    assert seen == {
        ("lost", False),
        ("charge", False),
        ("over", False),
        ("over", True),
        ("age", False),
        ("reading", False),
    }


SPEED_SCRIPT = """async (argument) => {
  const { amountReader } = await import("/search/amounts.mjs");
  const { Lexicon } = await import("/search/lexicon.mjs");
  const { understand } = await import("/search/understand.mjs");
  const model = await (await fetch("/data/search/model.json")).json();
  const texts = JSON.parse(argument);
  const began = performance.now();
  const lexicon = new Lexicon(model.lexicon);
  const amounts = amountReader(model.amounts);
  const compiled = performance.now() - began;
  const each = texts.map((text) => {
    const start = performance.now();
    understand(text, lexicon, amounts, { year: 2026, month: 11, day: 26 }, model.reading);
    return performance.now() - start;
  });
  return JSON.stringify({ compiled, each });
}"""


def test_understanding_is_quick_enough_to_follow_typing(made: Made, searcher: Searcher) -> None:
    """Twelve misspelt words in a few milliseconds; the limits leave room for a busy machine."""
    rng = random.Random(18)
    said = []
    for _ in range(40):
        words = " ".join(rng.sample(_phrases(made), 12)).split()
        said.append(" ".join(_slip(w, rng) if len(w) > 3 else w for w in rng.sample(words, 12)))
    told = searcher.run(SPEED_SCRIPT, said)
    assert sorted(told["each"])[len(said) // 2] < 10
    assert told["compiled"] < 200
