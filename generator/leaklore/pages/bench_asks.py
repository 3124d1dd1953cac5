"""What the pages on pressures, rates, holes and techniques ask; those on tests and air are in `bench_asks_tests`."""

from __future__ import annotations

from leaklore.language import later
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
        later("What you have"),
        (
            refrigerant(),
            Field(
                "given",
                later("I have read a"),
                "choice",
                default={"": "temperature"},
                choices=(("temperature", later("temperature")), ("pressure", later("pressure"))),
            ),
            Field(
                "temperature",
                later("Temperature of the liquid and its vapour"),
                "quantity",
                "temperature",
                {"degF": "70", "degC": "20"},
                later("Of the tube or vessel where both are, after it has stood long enough to be even."),
                only=("given", "temperature"),
                told=("temperature",),
            ),
            Field(
                "pressure",
                later("Pressure on the gauge"),
                "quantity",
                "compound",
                {"psig": "200", "bar": "14"},
                later("Read with the unit at rest, or running for superheat and subcooling."),
                only=("given", "pressure"),
                told=("pressure",),
            ),
            Field(
                "tube",
                later("Temperature of the tube"),
                "quantity",
                "temperature",
                {},
                later(
                    "Of the suction line or the liquid line, beside the gauge, with the unit running. Empty: no superheat and "
                    "no subcooling."
                ),
                optional=True,
                only=("given", "pressure"),
                told=("tube temperature",),
            ),
        ),
    ),
)

LEAK_RATE = (
    Group(
        later("What was lost"),
        (
            refrigerant(default="R-404A"),
            Field(
                "lost",
                later("Charge lost"),
                "quantity",
                "mass",
                {"lb": "9", "kg": "4"},
                later("Full charge less what was recovered, or what was added to be full again."),
                told=("charge lost", "refrigerant added", "mass"),
                record="lost",
            ),
            Field(
                "over",
                later("Over"),
                "quantity",
                "span",
                {"month": "14"},
                later("Since it was last known to be full."),
                told=("time", "days since the last addition"),
                record="over",
                called=later("the time it took"),
            ),
            Field(
                "charge",
                later("Full charge"),
                "quantity",
                "mass",
                {"lb": "32", "kg": "14.5"},
                later("From the nameplate plus the line set’s share. Empty: no percentage and no rules."),
                optional=True,
                told=("full charge", "charge"),
                record="charge",
            ),
            Field(
                "price",
                later("Price of the refrigerant"),
                "quantity",
                "price",
                {},
                later("What you pay, for the cost of what was lost."),
                optional=True,
                told=("price",),
            ),
        ),
    ),
    Group(
        later("For the rules"),
        (
            Field(
                "kind",
                later("Kind of plant"),
                "choice",
                default={"": "commercial-refrigeration"},
                choices=(
                    ("comfort-cooling", later("comfort cooling")),
                    ("commercial-refrigeration", later("commercial refrigeration")),
                    ("industrial-process", later("industrial process")),
                    ("refrigerated-transport", later("refrigerated transport")),
                    ("other", later("something else")),
                ),
                record="kind",
            ),
            Field(
                "light",
                later("Home or light-commercial air conditioning or heat pump"),
                "tick",
                default={"": "no"},
                hint=later("40 CFR part 84 leaves these out."),
                record="light",
            ),
            Field(
                "added",
                later("Added in the last 365 days, all together"),
                "quantity",
                "mass",
                {"lb": "6", "kg": "2.7"},
                later("For the rolling average. Empty: left out."),
                optional=True,
                told=("refrigerant added",),
                record="added",
            ),
            Field(
                "on",
                later("Day of the addition"),
                "day",
                default={"": "today"},
                hint=later("Decides which rules are in force."),
            ),
            Field("detection", later("A leak detection system is fitted"), "tick", default={"": "no"}),
            Field("hermetic", later("Labelled hermetically sealed"), "tick", default={"": "no"}),
            Field("residential", later("Stands in a home"), "tick", default={"": "no"}),
        ),
        folded=True,
    ),
)

LEAK_FLOW = (
    Group(
        later("The leak"),
        (
            refrigerant(),
            Field(
                "given",
                later("I have"),
                "choice",
                default={"": "mass"},
                choices=(("mass", later("refrigerant lost in a year")), ("flow", later("a gas flow"))),
            ),
            Field(
                "leak",
                later("Refrigerant lost"),
                "quantity",
                "leak-rate",
                {"oz/yr": "8", "g/yr": "250"},
                only=("given", "mass"),
                told=("leak rate",),
                record="leak",
            ),
            Field(
                "flow",
                later("Gas flow of the refrigerant"),
                "quantity",
                "gas-flow",
                {"atm-cc/s": "2e-3", "Pa-m3/s": "2e-4"},
                later("Small figures as 2e-4 for 0.0002."),
                only=("given", "flow"),
                told=("leak rate",),
            ),
            temperature(
                "temperature",
                later("Temperature of the circuit"),
                "68",
                "20",
                later("At rest, when it leaked."),
            ),
            Field(
                "inside",
                later("Pressure inside"),
                "quantity",
                "pressure",
                {},
                later("Empty: as it stands at rest with liquid in it."),
                optional=True,
                told=("pressure", "outside pressure"),
            ),
        ),
    ),
    Group(
        later("The same hole under test"),
        (
            Field(
                "gas",
                later("With"),
                "choice",
                default={"": "nitrogen"},
                choices=(("nitrogen", later("dry nitrogen")), ("refrigerant", later("the same refrigerant"))),
            ),
            Field(
                "test",
                later("At"),
                "quantity",
                "pressure",
                {"psig": "300", "bar": "20"},
                later("Never above the nameplate’s test pressure for the side."),
                told=("pressure", "outside pressure"),
                called=later("the test pressure"),
            ),
        ),
    ),
)

WHICH_TECHNIQUE = (
    Group(
        later("The leak"),
        (
            refrigerant(),
            LEAK,
            temperature("temperature", later("Temperature of the circuit"), "68", "20", later("At rest.")),
        ),
    ),
    Group(
        later("A test with nitrogen"),
        (
            Field(
                "test",
                later("Test pressure"),
                "quantity",
                "pressure",
                {"psig": "300", "bar": "20"},
                later("Never above the nameplate’s test pressure. Empty: no test is made."),
                optional=True,
                told=("pressure", "test pressure"),
            ),
            Field(
                "time",
                later("It stands for"),
                "quantity",
                "time",
                {"h": "24"},
                told=("time",),
                called=later("the time it stands"),
            ),
        ),
    ),
    TUBES,
    Group(
        later("Gauge, temperature and room"),
        (
            *GAUGE,
            Field(
                "room",
                later("Volume of the room round the leak"),
                "quantity",
                "room",
                {},
                later("For a survey of the air. Empty: left out."),
                optional=True,
                told=("room",),
            ),
            Field(
                "changes",
                later("Air changes"),
                "quantity",
                "air-change",
                {"1/h": "0.3"},
                told=("air changes",),
            ),
        ),
        folded=True,
    ),
)
