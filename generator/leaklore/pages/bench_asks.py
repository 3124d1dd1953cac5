"""What the pages on pressures, rates, holes and techniques ask; those on tests and air are in `bench_asks_tests`."""

from __future__ import annotations

from leaklore.pages.bench_asks_tests import AIR, STANDING_TEST, VACUUM_HOLD
from leaklore.pages.bench_fields import GAUGE, LEAK, TUBES, Field, Group, refrigerant, temperature

__all__ = [
    "AIR",
    "LEAK_FLOW",
    "LEAK_RATE",
    "PRESSURE_TEMPERATURE",
    "STANDING_TEST",
    "VACUUM_HOLD",
    "WHICH_TECHNIQUE",
]

PRESSURE_TEMPERATURE = (
    Group(
        "What you have",
        (
            refrigerant(),
            Field(
                "given",
                "I have read a",
                "choice",
                default={"": "temperature"},
                choices=(("temperature", "temperature"), ("pressure", "pressure")),
            ),
            Field(
                "temperature",
                "Temperature of the liquid and its vapour",
                "quantity",
                "temperature",
                {"degF": "70", "degC": "20"},
                "Of the tube or vessel where both are, after it has stood long enough to be even.",
                only=("given", "temperature"),
                told=("temperature",),
            ),
            Field(
                "pressure",
                "Pressure on the gauge",
                "quantity",
                "pressure",
                {"psig": "200", "bar": "14"},
                "Gauge pressure, read with the unit at rest.",
                only=("given", "pressure"),
                told=("pressure",),
            ),
        ),
    ),
)

LEAK_RATE = (
    Group(
        "What was lost",
        (
            refrigerant(default="R-404A"),
            Field(
                "lost",
                "Charge lost",
                "quantity",
                "mass",
                {"lb": "9", "kg": "4"},
                "Full charge less what was recovered, or what was added to be full again.",
                told=("charge lost", "refrigerant added", "mass"),
                record="lost",
            ),
            Field(
                "over",
                "Over",
                "quantity",
                "span",
                {"month": "14"},
                "Since it was last known to be full.",
                told=("time", "days since the last addition"),
                record="over",
                called="the time it took",
            ),
            Field(
                "charge",
                "Full charge",
                "quantity",
                "mass",
                {"lb": "32", "kg": "14.5"},
                "From the nameplate plus the line set’s share. Empty: no percentage and no rules.",
                optional=True,
                told=("full charge", "charge"),
                record="charge",
            ),
            Field(
                "price",
                "Price of the refrigerant",
                "quantity",
                "price",
                {},
                "What you pay, for the cost of what was lost.",
                optional=True,
                told=("price",),
            ),
        ),
    ),
    Group(
        "For the rules",
        (
            Field(
                "kind",
                "Kind of plant",
                "choice",
                default={"": "commercial-refrigeration"},
                choices=(
                    ("comfort-cooling", "comfort cooling"),
                    ("commercial-refrigeration", "commercial refrigeration"),
                    ("industrial-process", "industrial process"),
                    ("refrigerated-transport", "refrigerated transport"),
                    ("other", "something else"),
                ),
                record="kind",
            ),
            Field(
                "light",
                "Home or light-commercial air conditioning or heat pump",
                "tick",
                default={"": "no"},
                hint="40 CFR part 84 leaves these out.",
                record="light",
            ),
            Field(
                "added",
                "Added in the last 365 days, all together",
                "quantity",
                "mass",
                {"lb": "6", "kg": "2.7"},
                "For the rolling average. Empty: left out.",
                optional=True,
                told=("refrigerant added",),
                record="added",
            ),
            Field(
                "on",
                "Day of the addition",
                "day",
                default={"": "today"},
                hint="Decides which rules are in force.",
            ),
            Field("detection", "A leak detection system is fitted", "tick", default={"": "no"}),
            Field("hermetic", "Labelled hermetically sealed", "tick", default={"": "no"}),
            Field("residential", "Stands in a home", "tick", default={"": "no"}),
        ),
        folded=True,
    ),
)

LEAK_FLOW = (
    Group(
        "The leak",
        (
            refrigerant(),
            Field(
                "given",
                "I have",
                "choice",
                default={"": "mass"},
                choices=(("mass", "refrigerant lost in a year"), ("flow", "a gas flow")),
            ),
            Field(
                "leak",
                "Refrigerant lost",
                "quantity",
                "leak-rate",
                {"oz/yr": "8", "g/yr": "250"},
                only=("given", "mass"),
                told=("leak rate",),
                record="leak",
            ),
            Field(
                "flow",
                "Gas flow of the refrigerant",
                "quantity",
                "gas-flow",
                {"atm-cc/s": "2e-3", "Pa-m3/s": "2e-4"},
                "Small figures as 2e-4 for 0.0002.",
                only=("given", "flow"),
                told=("leak rate",),
            ),
            temperature("temperature", "Temperature of the circuit", "68", "20", "At rest, when it leaked."),
            Field(
                "inside",
                "Pressure inside",
                "quantity",
                "pressure",
                {},
                "Empty: as it stands at rest with liquid in it.",
                optional=True,
                told=("pressure", "outside pressure"),
            ),
        ),
    ),
    Group(
        "The same hole under test",
        (
            Field(
                "gas",
                "With",
                "choice",
                default={"": "nitrogen"},
                choices=(("nitrogen", "dry nitrogen"), ("refrigerant", "the same refrigerant")),
            ),
            Field(
                "test",
                "At",
                "quantity",
                "pressure",
                {"psig": "300", "bar": "20"},
                "Never above the nameplate’s test pressure for the side.",
                told=("pressure", "outside pressure"),
                called="the test pressure",
            ),
        ),
    ),
)

WHICH_TECHNIQUE = (
    Group(
        "The leak",
        (
            refrigerant(),
            LEAK,
            temperature("temperature", "Temperature of the circuit", "68", "20", "At rest."),
        ),
    ),
    Group(
        "A test with nitrogen",
        (
            Field(
                "test",
                "Test pressure",
                "quantity",
                "pressure",
                {"psig": "300", "bar": "20"},
                "Never above the nameplate’s test pressure. Empty: no test is made.",
                optional=True,
                told=("pressure",),
            ),
            Field(
                "time",
                "It stands for",
                "quantity",
                "time",
                {"h": "24"},
                told=("time",),
                called="the time it stands",
            ),
        ),
    ),
    TUBES,
    Group(
        "Gauge, temperature and room",
        (
            *GAUGE,
            Field(
                "room",
                "Volume of the room round the leak",
                "quantity",
                "room",
                {},
                "For a survey of the air. Empty: left out.",
                optional=True,
                told=("room",),
            ),
            Field("changes", "Air changes", "quantity", "air-change", {"1/h": "0.3"}, told=("air changes",)),
        ),
        folded=True,
    ),
)
