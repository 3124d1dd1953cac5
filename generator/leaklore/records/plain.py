"""Everyday words for the customer's page: the guide's plain.yaml, a company's own over it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

KEYED = (
    "equipment_kinds",
    "modes",
    "contributing",
    "components",
    "techniques",
    "actions",
    "refrigerants",
)
"""Groups of plain.yaml whose keys are words of the vocabulary of that name."""
GROUPS = ("says", "safety", *KEYED)
TEXTS = ("says", "safety", *(group for group in KEYED if group not in ("modes", "techniques")))
"""Groups whose entries are one text each."""


@dataclass(frozen=True, slots=True)
class PlainMode:
    """Why it leaks, and what the customer can do: sentences."""

    why: str
    you: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlainTest:
    """What a technique does, and what is said where it showed the spot or pointed to a part."""

    how: str
    shown: str
    narrowed: str


@dataclass(frozen=True)
class Plain:
    """All everyday words by group and key; `shares` from small to large: (upper bound of the share, words)."""

    texts: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    modes: Mapping[str, PlainMode] = field(default_factory=dict)
    techniques: Mapping[str, PlainTest] = field(default_factory=dict)
    shares: tuple[tuple[float, str], ...] = ()

    def text(self, group: str, key: str | None) -> str | None:
        """The text of an entry of one of `TEXTS`; None where there are no words of its own."""
        return self.texts[group].get(key) if key is not None else None

    def says(self, key: str, **words: str) -> str:
        """A sentence of the sheet, `{name}` and the like filled in."""
        text = self.texts["says"][key]
        for name, word in words.items():
            text = text.replace(f"{{{name}}}", word)
        return text

    def share(self, share: float) -> str | None:
        """Words for a share of the charge; None above the last bound."""
        return next((says for bound, says in self.shares if share <= bound), None)


def usable(group: str, value: Any) -> bool:
    """Can the rest of the run work with this value? What is wrong with it the schema tells."""
    if group == "shares":
        return isinstance(value, list) and all(
            isinstance(one, dict)
            and isinstance(one.get("up_to"), int | float)
            and isinstance(one.get("says"), str)
            for one in value
        )
    if group in TEXTS:
        return isinstance(value, str)
    if not isinstance(value, dict):
        return False
    if group == "modes":
        you = value.get("you")
        return (
            isinstance(value.get("why"), str)
            and isinstance(you, list)
            and all(isinstance(one, str) for one in you)
        )
    return all(isinstance(value.get(key), str) for key in ("how", "shown", "narrowed"))


def plain_of(merged: Mapping[str, Mapping[str, Any]], shares: list[Any]) -> Plain:
    """The words from usable values by group and key."""
    return Plain(
        texts={group: dict(merged[group]) for group in TEXTS},
        modes={key: PlainMode(v["why"], tuple(v["you"])) for key, v in merged["modes"].items()},
        techniques={
            key: PlainTest(v["how"], v["shown"], v["narrowed"]) for key, v in merged["techniques"].items()
        },
        shares=tuple((one["up_to"], one["says"]) for one in shares),
    )
