"""What the pages on tests and air ask."""

from __future__ import annotations

from leaklore.language import later
from leaklore.pages.bench_fields import GAUGE, TUBES, Field, Group, refrigerant, temperature

STANDING_TEST = (
    Group(
        later("The test"),
        (
            Field(
                "pressure",
                later("Nitrogen pressure at the start"),
                "quantity",
                "pressure",
                {"psig": "400", "bar": "28"},
                later(
                    "Dry nitrogen through a regulator. Never above the nameplate’s low-side test pressure."
                ),
                told=("pressure", "start pressure", "test pressure"),
            ),
            Field(
                "nameplate",
                later("Low-side test pressure on the nameplate"),
                "quantity",
                "pressure",
                {},
                later("Type it in, and the page says when the test goes above it."),
                optional=True,
                told=("nameplate",),
            ),
            temperature(
                "temperature",
                later("Temperature at the start"),
                "75",
                "24",
                later("Of the tube, not of the air, if you can."),
                ("temperature", "start temperature"),
            ),
            temperature(
                "later",
                later("Temperature at the second reading"),
                "60",
                "16",
                "",
                ("later temperature", "end temperature", "temperature"),
            ),
            Field(
                "time", later("Time between the readings"), "quantity", "time", {"h": "24"}, told=("time",)
            ),
            Field(
                "end",
                later("Pressure at the second reading"),
                "quantity",
                "pressure",
                {},
                later("When you have it: the page says what is left after temperature."),
                optional=True,
                told=("end pressure",),
            ),
        ),
    ),
    TUBES,
    Group(
        later("The leak you look for"),
        (
            refrigerant(later("For what the test shows in grams a year of it.")),
            Field(
                "leak",
                later("Leak rate"),
                "quantity",
                "leak-rate",
                {"oz/yr": "8", "g/yr": "250"},
                later("As it was before the repair, or the least that matters. Empty: no waiting time."),
                optional=True,
                told=("leak rate",),
                record="leak",
            ),
        ),
    ),
    Group(later("Gauge and temperature"), GAUGE, folded=True),
)

VACUUM_HOLD = (
    Group(
        later("The hold"),
        (
            Field(
                "start",
                later("Valved off at"),
                "quantity",
                "vacuum",
                {"micron": "350", "Pa": "50"},
                told=("start pressure", "pressure"),
                called=later("the pressure at the start"),
            ),
            Field(
                "end",
                later("It stands at"),
                "quantity",
                "vacuum",
                {"micron": "900", "Pa": "120"},
                told=("end pressure", "rise"),
                called=later("the pressure at the end"),
            ),
            Field(
                "time",
                later("After"),
                "quantity",
                "minutes",
                {"min": "10"},
                told=("time", "time of a reading"),
                called=later("the time"),
            ),
            Field(
                "middle",
                later("Half-way it stood at"),
                "quantity",
                "vacuum",
                {"micron": "620", "Pa": "85"},
                later("The reading that tells a leak from moisture. Empty: the page can’t tell them apart."),
                optional=True,
                told=("middle",),
            ),
            Field(
                "half",
                later("That was after"),
                "quantity",
                "minutes",
                {"min": "5"},
                optional=True,
                told=("half-way time", "time of a reading"),
                called=later("the time of the half-way reading"),
            ),
        ),
    ),
    Group(
        later("The circuit"),
        (
            refrigerant(),
            Field(
                "volume",
                later("Volume under vacuum"),
                "quantity",
                "circuit",
                {"in3": "250", "L": "4"},
                later("With hoses and manifold. The page on standing tests works out a line set."),
                told=("volume",),
            ),
            temperature(
                "temperature",
                later("Temperature of the circuit"),
                "70",
                "20",
                later("The coldest place of it."),
            ),
        ),
    ),
)

AIR = (
    Group(
        later("The reading"),
        (
            refrigerant(),
            Field(
                "reading",
                later("Highest reading"),
                "quantity",
                "concentration",
                {"ppm": "180"},
                later("Low down for heavy vapour, and close to where people breathe."),
                told=("reading", "concentration"),
            ),
            Field(
                "background",
                later("Background, same instrument, same day"),
                "quantity",
                "concentration",
                {"ppm": "12"},
                later("Away from the unit, before the search."),
                optional=True,
                told=("background",),
            ),
            Field(
                "oxygen",
                later("Oxygen measured"),
                "quantity",
                "oxygen",
                {},
                later("Needed before anybody goes into a pit, chase or closed room."),
                optional=True,
                told=("oxygen",),
            ),
        ),
    ),
    Group(
        later("The instrument"),
        (
            Field(
                "resolution",
                later("Step of its display"),
                "quantity",
                "concentration",
                {"ppm": "1"},
                told=("resolution",),
            ),
            Field(
                "accuracy",
                later("Background wanders by"),
                "quantity",
                "share",
                {"pct": "20"},
                later("As a share of it, while you stand still."),
                told=("accuracy",),
            ),
        ),
        folded=True,
    ),
    Group(
        later("What a leak builds up"),
        (
            Field(
                "leak",
                later("Leak rate"),
                "quantity",
                "leak-rate",
                {"lb/yr": "25", "kg/yr": "11"},
                told=("leak rate",),
                record="leak",
            ),
            Field(
                "room",
                later("Volume of the room or chase"),
                "quantity",
                "room",
                {"ft3": "700", "m3": "20"},
                told=("volume",),
            ),
            Field(
                "changes",
                later("Air changes"),
                "quantity",
                "air-change",
                {"1/h": "0.2"},
                later(
                    "A closed chase 0.1, a room with its door shut 0.3, a ventilated plant room 4 and more. 0: closed."
                ),
                told=("air changes",),
            ),
            Field(
                "time",
                later("After"),
                "quantity",
                "time",
                {"h": "24"},
                told=("time",),
                called=later("the time"),
            ),
            Field(
                "charge",
                later("Full charge"),
                "quantity",
                "mass",
                {"lb": "8.5", "kg": "3.9"},
                later("For all of it let out at once. Empty: left out."),
                optional=True,
                told=("charge",),
                record="charge",
            ),
        ),
    ),
)
