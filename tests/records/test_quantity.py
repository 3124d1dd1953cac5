"""Units against their definitions.

SP 811 is NIST Special Publication 811 (2008), "Guide for the Use of the International System of Units (SI)",
Appendix B. Where it rounds, the exact figure follows from the definitions named beside it.
"""

from __future__ import annotations

import pytest

from leaklore.errors import QuantityError
from leaklore.records.quantity import (
    _COMPOUND,
    _UNITS,
    ATMOSPHERE,
    EXAMPLES,
    Quantity,
    currency,
    plain_amount,
    plain_size,
    read,
)

POUND = 0.45359237  # kg, exact: international yard and pound agreement of 1959; SP 811 B.8
INCH = 0.0254  # m, exact: the same; SP 811 B.8
GRAVITY = 9.80665  # m/s2, exact: standard acceleration of free fall; SP 811 B.8
PSI = POUND * GRAVITY / INCH**2  # Pa; SP 811 B.8 gives 6.894 757 E+03
MERCURY = INCH * 13_595.1 * GRAVITY  # Pa; conventional inch of mercury; SP 811 B.8 gives 3.386 389 E+03
TORR = 101_325 / 760  # Pa, exact: 1/760 of the standard atmosphere; SP 811 B.8 gives 1.333 224 E+02
YEAR = 365.25 * 86_400  # s; Julian year (IAU); a month is a twelfth of it

ONE = [
    ("1 lb", "mass", POUND),
    ("1 oz", "mass", POUND / 16),  # avoirdupois, SP 811 B.8: 2.834 952 E-02
    ("1 kg", "mass", 1.0),
    ("1 g", "mass", 1e-3),
    ("1 t", "mass", 1e3),  # metric ton, SP 811 B.8
    ("1 psia", "pressure", PSI),
    ("1 bara", "pressure", 1e5),  # bar, SP 811 B.8
    ("1 kPaa", "pressure", 1e3),
    ("1 Pa", "pressure", 1.0),
    ("1 mbar", "pressure", 100.0),  # millibar, SP 811 B.8
    ("1 hPa", "pressure", 100.0),
    ("1 inHga", "pressure", MERCURY),
    ("0 inHg vac", "pressure", 101_325.0),
    ("20 inHg vac", "pressure", 101_325 - 20 * MERCURY),  # counted down from the pressure of the air
    ("9.9 inHg abs", "pressure", 9.9 * MERCURY),
    ("1 torr", "pressure", TORR),
    ("1 mmHg", "pressure", TORR),  # conventional millimetre of mercury, SP 811 B.8: 1.333 224 E+02
    ("1 micron", "pressure", TORR / 1000),  # a thousandth of a torr, as vacuum gauges read
    ("0 psig", "pressure", 101_325.0),  # standard atmosphere, SP 811 B.8: 1.013 25 E+05, exact
    ("1 psig", "pressure", PSI + 101_325),
    ("1 bar", "pressure", 1e5 + 101_325),
    ("1 kPa", "pressure", 1e3 + 101_325),
    ("1 MPa", "pressure", 1e6 + 101_325),
    ("0 degC", "temperature", 273.15),  # SP 811 B.9: T/K = t/degC + 273.15
    ("100 degC", "temperature", 373.15),
    ("32 degF", "temperature", 273.15),  # SP 811 B.9: T/K = (t/degF + 459.67)/1.8
    ("212 degF", "temperature", 373.15),
    ("-40 degF", "temperature", 233.15),
    ("300 K", "temperature", 300.0),
    ("1 s", "duration", 1.0),
    ("1 min", "duration", 60.0),  # SP 811 B.8
    ("1 h", "duration", 3600.0),  # SP 811 B.8
    ("1 d", "duration", 86_400.0),  # SP 811 B.8
    ("1 week", "duration", 604_800.0),
    ("1 month", "duration", YEAR / 12),
    ("1 year", "duration", YEAR),
    ("1 in", "length", INCH),
    ("1 ft", "length", 12 * INCH),  # SP 811 B.8: 3.048 E-01, exact
    ("1 m", "length", 1.0),
    ("1 cm", "length", 0.01),
    ("1 mm", "length", 0.001),
    ("1 ppm", "fraction", 1e-6),
    ("1 g/yr", "leak rate", 1e-3 / YEAR),
    ("1 oz/yr", "leak rate", POUND / 16 / YEAR),
    ("46 dB", "level", 46.0),
    ("12.50 USD", "money", 12.5),
    ("9 lb 8 oz", "mass", 9.5 * POUND),
    ("2 h 30 min", "duration", 9000.0),
    ("29 ft 6 in", "length", 354 * INCH),
    ("3/8 in", "length", 0.375 * INCH),
    ("1 1/8 in", "length", 1.125 * INCH),
    ('1-1/8"', "length", 1.125 * INCH),
    ("29' 6 1/2\"", "length", 354.5 * INCH),
    ("4 1/2 lb", "mass", 4.5 * POUND),
    ("2 yr 3 mo", "duration", 2.25 * YEAR),
    ("1 d 6 h", "duration", 108_000.0),
]


@pytest.mark.parametrize(("written", "dimension", "si"), ONE, ids=[row[0] for row in ONE])
def test_unit_against_its_definition(written: str, dimension: str, si: float) -> None:
    got = read(written, dimension)

    assert got.si == pytest.approx(si, rel=1e-12, abs=1e-30)
    assert (got.written, got.dimension) == (written, dimension)


@pytest.mark.parametrize(
    ("written", "dimension", "published", "digits"),
    [
        ("1 lb", "mass", 0.45359237, 1e-12),  # SP 811 B.8, exact
        ("1 oz", "mass", 0.028349523125, 1e-14),  # lb/16, exact
        ("1 psia", "pressure", 6894.757293168, 1e-9),  # lbf/in2 from the exact definitions
        ("1 in", "length", 0.0254, 1e-15),  # SP 811 B.8, exact
        ("1 inHga", "pressure", 3386.389, 5e-4),  # SP 811 B.8: 3.386 389 E+03
        ("1 torr", "pressure", 133.322368, 1e-6),  # 101 325/760; SP 811 B.8: 133.3224
        ("1 micron", "pressure", 0.133322368, 1e-9),
        ("71 degF", "temperature", 294.8166667, 1e-7),  # (71 + 459.67)/1.8
    ],
)
def test_figures_as_published(written: str, dimension: str, published: float, digits: float) -> None:
    assert read(written, dimension).si == pytest.approx(published, abs=digits, rel=0)


def test_standard_atmosphere() -> None:
    assert ATMOSPHERE == 101_325  # SP 811 B.8, exact


SAME = [
    "lb lbs pound pounds", "oz ounce ounces", "psig psi", "bar barg", "kPa kPag", "MPa MPag", "micron microns mTorr",
    "torr Torr mmHg", "mbar hPa", "degC °C C", "degF °F F", "s sec second seconds", "min minute minutes", "h hr hrs hour hours",
    "d day days", "wk week weeks", "mo month months", "yr year years", "ft foot feet ' ’ ′", "in inch inches \" ” ″", "g/yr g/a",
]  # fmt: skip


@pytest.mark.parametrize(
    ("written", "told", "instead"),
    [
        (
            "20 inHg",
            '"20 inHg" does not say whether it is vacuum or absolute',
            'write "20 inHg vac" for 20 below atmospheric pressure, "9.9 inHg abs" for 9.9 absolute',
        ),
        ("-20 inHg vac", '"-20 inHg vac" is negative', None),
        ("30 inHg vac", '"30 inHg vac" is below vacuum', None),
        ("20 inHg gauge", '"gauge" in', None),
    ],
)
def test_a_vacuum_says_from_where_it_counts(written: str, told: str, instead: str | None) -> None:
    with pytest.raises(QuantityError) as fault:
        read(written, "pressure")

    assert str(fault.value).startswith(told) or told == '"gauge" in'
    assert instead is None or fault.value.instead == instead


def test_words_for_inches_of_mercury_mean_the_same() -> None:
    assert read("20 inHg vacuum", "pressure").si == read("20 in Hg vac", "reading").si
    assert read("9 inHg absolute", "pressure").si == read("9 inHga", "pressure").si


@pytest.mark.parametrize(
    ("typed", "amount"),
    [
        ("9,5 kg", "9.5 kg"),
        ("1,250 kg", "1,250 kg"),  # perhaps thousands: told
        ("−20 °C", "-20 °C"),
        ('1-1/8"', "1 1/8 in"),
        ("1⅛ in", "1 1/8 in"),
        ("29'6½″", "29 ft 6 1/2 in"),
        ("9 lb 8 oz", "9 lb 8 oz"),
    ],
)
def test_what_is_typed_becomes_what_a_record_has(typed: str, amount: str) -> None:
    assert plain_amount(typed) == amount


@pytest.mark.parametrize(
    ("typed", "size"),
    [
        ("3/8", "3/8 in"),
        ('1-1/8"', "1 1/8 in"),
        ("1 1/8 inches", "1 1/8 in"),
        ("⅜ IN.", "3/8 in"),
        ("9,52mm", "9.52 mm"),
        ("half  inch", "half inch"),
    ],
)
def test_a_size_of_a_tube_is_written_as_the_tables_have_it(typed: str, size: str) -> None:
    assert plain_size(typed) == size


@pytest.mark.parametrize("words", SAME)
def test_words_for_one_unit_mean_the_same(words: str) -> None:
    values = {read(f"7 {word}", _UNITS[word][0]).si for word in words.split()}

    assert len(values) == 1


def test_every_unit_is_checked_above() -> None:
    written = {word for row in ONE for word in (*row[0].split()[1::2], row[0].partition(" ")[2])}
    families = [set(words.split()) for words in SAME] + [
        {"inHg vac", "inHg vacuum"},
        {"inHg abs", "inHg absolute"},
    ]
    checked = written.union(*(family for family in families if family & written))

    assert set(_UNITS) - checked == set()


@pytest.mark.parametrize("unit", _UNITS)
def test_a_unit_serves_its_own_dimension_only(unit: str) -> None:
    own = _UNITS[unit][0]
    for dimension in EXAMPLES:
        fits = dimension == own or (
            dimension == "reading" and own in ("fraction", "leak rate", "level", "pressure")
        )
        if fits:
            assert read(f"5 {unit}", dimension).dimension == own
        else:
            with pytest.raises(QuantityError):
                read(f"5 {unit}", dimension)


@pytest.mark.parametrize("pair", sorted(_COMPOUND))
def test_two_units_go_together_the_larger_first(pair: tuple[str, str]) -> None:
    words = {unit: word for word, (_, unit) in _UNITS.items() if unit in pair}
    kind = _UNITS[words[pair[0]]][0]
    first, second = f"2 {words[pair[0]]}", f"3 {words[pair[1]]}"

    assert read(f"{first} {second}", kind).si == pytest.approx(read(first, kind).si + read(second, kind).si)
    with pytest.raises(QuantityError, match="mixes units"):
        read(f"{second} {first}", kind)


@pytest.mark.parametrize(
    ("written", "same"),
    [
        ("4lb", "4 lb"),
        ("  4 lb  ", "4 lb"),
        ("4\u00a0lb", "4 lb"),
        (".5 kg", "0.5 kg"),
        ("9lb8oz", "9 lb 8 oz"),
        ("4.0 lb", "4 lb"),
        ("0 kg", "0 g"),
    ],
)
def test_forms_that_mean_the_same(written: str, same: str) -> None:
    assert read(written, "mass").si == read(same, "mass").si


@pytest.mark.parametrize(
    ("written", "dimension", "message", "instead"),
    [
        ("4 KG", "mass", '"KG" in "4 KG" is not a unit we know', 'did you mean "kg"?'),
        ("400 PSI", "pressure", '"PSI" in "400 PSI" is not a unit we know', 'did you mean "psi"?'),
        ("85 pmm", "reading", '"pmm" in "85 pmm" is not a unit we know', 'did you mean "ppm"?'),
        ("12 g/year", "reading", '"g/year" in "12 g/year" is not a unit we know', 'did you mean "g/yr"?'),
        (
            "9 metres",
            "length",
            '"metres" in "9 metres" is not a unit we know',
            'write for example "9 m" or "30 ft"',
        ),
        (
            "5 C",
            "mass",
            '"5 C" is a temperature, not a mass',
            'write for example "4 lb", "9 lb 8 oz" or "1.8 kg"',
        ),
        ("5 kg", "reading", '"5 kg" is a mass, not a reading', None),
        ("5 ppm", "leak rate", '"5 ppm" is a concentration, not a leak rate', 'write for example "12 g/yr"'),
        ("46 dB", "fraction", '"46 dB" is a sound level, not a concentration', 'write for example "85 ppm"'),
        ("4,5 kg", "mass", '"4,5 kg" has a comma, which can be read two ways', None),
        (
            "1e3 g",
            "mass",
            '"1e3 g" has a power of ten',
            f"write the number out, for example {EXAMPLES['mass']}",
        ),
        ("4", "mass", '"4" has no unit', None),
        ("kg", "mass", '"kg" does not begin with a number', None),
        ("NO", "mass", '"NO" does not begin with a number', None),
        ("12:30", "duration", '"12:30" is not a number with a unit', None),
        ("5-10 kg", "mass", '"5-10 kg" is not a number with a unit', None),
        ("1.8.2 kg", "mass", '"1.8.2 kg" is not a number with a unit', None),
        ("1 lb 2 oz 3 oz", "mass", '"1 lb 2 oz 3 oz" mixes units', None),
        ("1 kg 200 g", "mass", '"1 kg 200 g" mixes units', None),
        ("4 degC 3 degC", "temperature", '"4 degC 3 degC" mixes units', None),
        ("-1 kg", "mass", '"-1 kg" is negative', None),
        ("9 lb -8 oz", "mass", '"9 lb -8 oz" is negative', None),
        ("-1 h", "duration", '"-1 h" is negative', None),
        ("-2 bar", "pressure", '"-2 bar" is below vacuum', None),
        ("-1 micron", "pressure", '"-1 micron" is below vacuum', None),
        ("0 K", "temperature", '"0 K" is not above absolute zero', None),
        ("-273.15 degC", "temperature", '"-273.15 degC" is not above absolute zero', None),
        ("-459.67 degF", "temperature", '"-459.67 degF" is not above absolute zero', None),
        ("9999999999999999999 kg", "mass", '"9999999999999999999 kg" is far too large', None),
        ("9" * 400 + " kg", "mass", f'"{"9" * 400} kg" is far too large', None),
        ("", "mass", "is blank", None),
        (" \n ", "money", "is blank", 'write for example "6 USD"'),
        ("4\n  kgx", "mass", '"kgx" in "4 kgx" is not a unit we know', 'did you mean "kg"?'),
        ("$6", "money", '"$6" is not an amount with its currency', 'write for example "6 USD"'),
        ("6", "money", '"6" is not an amount with its currency', 'write for example "6 USD"'),
        ("6 usd", "money", '"6 usd" is not an amount with its currency', 'write for example "6 USD"'),
        ("6.505 USD", "money", '"6.505 USD" is not an amount with its currency', 'write for example "6 USD"'),
        ("6\nUS", "money", '"6 US" is not an amount with its currency', 'write for example "6 USD"'),
        ("-6 USD", "money", '"-6 USD" is negative', 'write for example "6 USD"'),
        ("9999999999999 USD", "money", '"9999999999999 USD" is far too large', 'write for example "6 USD"'),
    ],
)
def test_what_is_refused_and_what_to_write_instead(
    written: str, dimension: str, message: str, instead: str | None
) -> None:
    with pytest.raises(QuantityError) as caught:
        read(written, dimension)

    assert str(caught.value) == message
    assert caught.value.instead == (instead or f"write for example {EXAMPLES[dimension]}")


def test_figures_that_may_be_below_zero() -> None:
    assert read("-3 dB", "level").si == -3
    assert read("-10 degC", "temperature").si == pytest.approx(263.15)
    assert read("-0.5 bar", "pressure").si == pytest.approx(51_325)


@pytest.mark.parametrize("dimension", EXAMPLES)
def test_the_examples_in_messages_are_right(dimension: str) -> None:
    for example in EXAMPLES[dimension].split('"')[1::2]:
        assert isinstance(read(example, dimension), Quantity)


def test_the_currency_of_an_amount() -> None:
    assert currency(read(" 6.50 GBP ", "money")) == "GBP"
