"""Quantities: the phone reads the same SI values, and says the same of what can't be read."""

from __future__ import annotations

import random
from typing import Any

import pytest

from leaklore.errors import QuantityError
from leaklore.records import quantity

from .desk import Phone

GOOD = {
    "mass": [
        "9 lb 8 oz",
        "4 lb",
        "1.8 kg",
        "110 g",
        ".5 kg",
        "1 t",
        "0 kg",
        "2pounds",
        "9 lb\u00a08\u2009oz",
    ],
    "pressure": [
        "400 psig",
        "38 bar",
        "500 micron",
        "300 psi",
        "14.7 psia",
        "1 bara",
        "2 mbar",
        "-5 psig",
        "4 MPa",
        "0 Pa",
        "20 inHg vac",
        "20 in Hg  vacuum",
        "9.9 inHg abs",
        "29 1/2 inHg vac",
        "2 Torr",
        "480 mTorr",
        "3 hPa",
    ],
    "temperature": ["71 degF", "4 degC", "-40 °F", "300 K", "-20C", "0 degF"],
    "duration": ["14 months", "6 weeks", "2 h", "1 h 30 min", "1 year 2 months", "1440 minute", "3 d 4 h"],
    "length": [
        "9 m",
        "30 ft",
        "29 ft 6 in",
        "350 mm",
        "8 inches",
        "3/8 in",
        '1-1/8"',
        "1 1/8 in",
        "29' 6 1/2”",
        "1/2 in",
    ],
    "money": ["6 USD", "12.50 USD", "0 EUR", "1000000 USD", "6.1USD"],
    "reading": ["85 ppm", "12 g/yr", "46 dB", "480 micron", "-3 dB", "0.5 oz/yr"],
    "fraction": ["85 ppm"],
    "leak rate": ["12 g/yr", "1 g/a"],
    "level": ["46 dB"],
}
BAD = [
    "",
    " ",
    "\t",
    "4",
    "-",
    "four lb",
    "1,5 kg",
    "1e3 kg",
    "1E-3 bar",
    "-2 kg",
    "4 stone",
    "4 kgs",
    "9 lb 8 oz 2 g",
]
BAD += [
    "9 oz 8 lb",
    "9 lb 8 kg",
    "-500 degF",
    "-459.67 degF",
    "-459.66 degF",
    "-273.15 degC",
    "-20 psig",
    "-1 micron",
]
BAD += [
    "999999999999999999 kg",
    "1000000000000 USD",
    "6.123 USD",
    "6 usd",
    "-6 USD",
    "6 USD net",
    "4 lb.",
    "~4 lb",
]
BAD += [
    "4 lb approx",
    "4..5 kg",
    "4.5.6 kg",
    "4 LB",
    "psig 400",
    "12 ppmv",
    "46 db",
    "about  two\n lb",
    "４ lb",
    "5 µm",
    "5 😀",
    "20 inHg",
    "-20 in Hg",
    "-20 inHg vac",
    "31 inHg vac",
    "20 inHg gauge",
    "5 psi vac",
    "1/0 in",
    "3/8",
    "1 1/8",
    "1/8/2 in",
    "9 lb/2 oz",
    "1" * 400 + "/" + "9" * 90 + " in",
    "0" * 500 + "x",
    "0" * 90_000 + "x",
    "1 kg" + " " * 90_000 + "1",
    "😀" * 500,
    "😀" * 501,
]


def texts() -> list[tuple[str, str]]:
    """(text, dimension): the right ones, the wrong ones in every dimension, and both with signs changed."""
    rng = random.Random(7)
    every = [text for good in GOOD.values() for text in good]
    made = [(text, dimension) for dimension, good in GOOD.items() for text in good]
    made += [(text, dimension) for dimension in quantity.EXAMPLES for text in BAD]
    made += [(text, dimension) for dimension in quantity.EXAMPLES for text in rng.sample(every, 12)]
    for _ in range(300):
        dimension = rng.choice(list(GOOD))
        text = rng.choice(GOOD[dimension])
        at = rng.randrange(len(text))
        made.append((text[:at] + rng.choice("0.- ,eE°bkgsF/\n") + text[at + rng.choice([0, 1]) :], dimension))
    return made


def read(text: str, dimension: str) -> dict[str, Any]:
    """What Python says."""
    try:
        found = quantity.read(text, dimension)
    except QuantityError as fault:
        return {"message": str(fault), "instead": fault.instead}
    return {"written": found.written, "si": found.si, "dimension": found.dimension}


READ = """(calls) => JSON.stringify(JSON.parse(calls).map(([text, dimension]) => {
  try { return desk.read(text, dimension); } catch (fault) {
    if (fault.instead === undefined) throw fault;
    return { message: fault.message, instead: fault.instead };
  }
}))"""


def test_the_phone_reads_what_python_reads(phone: Phone) -> None:
    asked = texts()
    expected = [read(*one) for one in asked]
    assert len(asked) >= 400
    assert sum("si" in one for one in expected) > 100
    faults = {one["message"].rsplit('"', 1)[-1] for one in expected if "message" in one}
    assert len(faults) > 12, "every way to be wrong"
    for one, ours, theirs in zip(asked, expected, phone.run(READ, asked), strict=True):
        if "si" in ours:
            assert theirs.get("si") == pytest.approx(ours["si"], rel=1e-9, abs=1e-12), (one, theirs)
            assert {**theirs, "si": 0} == {**ours, "si": 0}, one
        else:
            assert theirs == ours, one


TYPED = [
    "9,5 kg",
    "1,234 kg",
    "0,125 kg",
    "1.234,5 kg",
    " −20 °C",
    "+ 5 degC",
    '1-1/8"',
    "1 - 1/8 in",
    "1⅛″",
    "⅜ in",
    "2 ½ lb",
    "29'6”",
    "29′ 6 1/2″ ",
    "3/8 inches",
    "3/8 IN.",
    "3/8",
    "7/8 OD",
    "9,52mm",
    "10.0 mm",
    "1e3 mm",
    "\ufeff3/8 in",
    "  3/8\u2009in",
    "①/8 in",
    "1" * 400 + " mm",
    "",
    " " * 50_000 + "½",
    "1 " * 5_000 + "'",
]
PLAIN = """async (texts) => {
  const { plainAmount, plainSize } = await import("/trade/typed.mjs");
  return JSON.stringify(JSON.parse(texts).map((text) => [plainAmount(text), plainSize(text)]));
}"""


def test_what_is_typed_becomes_the_same_text(phone: Phone) -> None:
    rng = random.Random(11)
    asked = [*TYPED]
    for _ in range(400):
        asked.append(
            "".join(rng.choice("0123456789 -/,.'\"”′⅛½inftm−+") for _ in range(rng.randrange(1, 12)))
        )

    found = phone.run(PLAIN, asked)

    assert found == [[quantity.plain_amount(text), quantity.plain_size(text)] for text in asked]


def test_every_unit_is_read_alike(phone: Phone) -> None:
    asked = [(f"12.5 {word}", dimension) for word, (dimension, _) in quantity._UNITS.items()]
    found = phone.run(READ, asked)
    assert [one["si"] for one in found] == pytest.approx([read(*one)["si"] for one in asked], rel=1e-12)
