"""How the pages of the work bench ask: a field is declared once, for the template and for the browser."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from leaklore.language import gettext, later

Kind = Literal["quantity", "choice", "tick", "refrigerant", "tube", "day"]
Default = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Field:
    """One input.

    `default` is a figure by unit for quantities (one a system), or the value under "" for the rest; an `optional` one may
    stay empty. `only` = (field, value): asked only where that field has that value. `told` are the names by
    which `leaklore.trade` refuses it; `record` is what a system or a case fills in.
    """

    key: str
    label: str
    kind: Kind = "quantity"
    dimension: str = ""
    default: Default = field(default_factory=dict)
    hint: str = ""
    optional: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    only: tuple[str, str] | None = None
    told: tuple[str, ...] = ()
    record: str = ""
    called: str = ""

    @property
    def waiting(self) -> str:
        """How a sentence names it; `called` where the label alone would not do."""
        label = gettext(self.label)
        return gettext(self.called) if self.called else label[0].lower() + label[1:]


@dataclass(frozen=True, slots=True)
class Group:
    """Fields under one heading; `folded` ones have defaults that mostly fit and stay closed until asked for."""

    title: str
    fields: tuple[Field, ...]
    folded: bool = False


def refrigerant(hint: str = "", default: str = "R-410A") -> Field:
    """Which refrigerant."""
    return Field(
        "refrigerant", later("Refrigerant"), "refrigerant", "", {"": default}, hint, record="refrigerant"
    )


def temperature(
    key: str, label: str, f: str, c: str, hint: str = "", told: tuple[str, ...] = ("temperature",)
) -> Field:
    """A temperature with its defaults in °F and °C."""
    return Field(key, label, "quantity", "temperature", {"degF": f, "degC": c}, hint, told=told)


TUBES = Group(
    later("What is under test"),
    (
        Field("liquid", later("Liquid line"), "tube", default={"": "3/8 in"}, record="liquid"),
        Field("suction", later("Suction line"), "tube", default={"": "3/4 in"}, record="suction"),
        Field(
            "length",
            later("Length of the line set"),
            "quantity",
            "length",
            {"ft": "30", "m": "9"},
            later("One way; both tubes are taken as long as this."),
            told=("length", "volume"),
            record="length",
        ),
        Field(
            "rest",
            later("Everything else"),
            "quantity",
            "circuit",
            {"in3": "180", "L": "3"},
            later(
                "Coils, receiver, accumulator, hoses and manifold as far as they are open to the test. 0 for the line set alone."
            ),
            told=("rest",),
            record="rest",
        ),
    ),
)
GAUGE = (
    Field(
        "gauge",
        later("Two readings of one pressure may differ by"),
        "quantity",
        "pressure-step",
        {"psi": "1", "bar": "0.05"},
        later("One division of a needle gauge, or what a digital one wanders at a steady pressure."),
        told=("resolution",),
    ),
    Field(
        "kelvin",
        later("The change of gas temperature is known to"),
        "quantity",
        "temperature-step",
        {"degF": "2", "K": "1"},
        later("About 2 °F (1 K) with a probe on the tube, in shade. Sun on half of the circuit: 9 °F (5 K)."),
        told=("temperature uncertainty",),
    ),
)
LEAK = Field(
    "leak",
    later("Leak rate"),
    "quantity",
    "leak-rate",
    {"oz/yr": "8", "g/yr": "250"},
    told=("leak rate",),
    record="leak",
)
