"""Words of the work bench that are put together elsewhere: verdicts of `leaklore.trade`, and what its scripts say.

`leaklore.trade` and the scripts speak English. Here stands every sentence of theirs as a message with slots; in another
language a sentence is taken apart by it and said anew (`reworded`), and the page hands the scripts the same messages.
"""

from __future__ import annotations

import re
from functools import cache

from leaklore.language import foreign, gettext, later

NAMED = later(
    (
        "40 CFR part 82 subpart F (ozone-depleting refrigerants)",
        "40 CFR part 82 subpart F (ozone-depleting refrigerants and, until 9 April 2020, HFCs)",
        "40 CFR 82.156(i) (superseded)",
        "40 CFR part 84 subpart C (HFCs and their substitutes)",
        "Regulation (EU) 2024/573",
        "These figures help to think. The law where the plant stands decides, and its text may have changed.",
        "Field limit",
        "Tighter limit for ester oil",
        "ASHRAE Guideline 3-1996 (superseded by ASHRAE 147)",
    )
)
"""Names of rules and limits, and the advice above them, as the tables of `leaklore.trade` have them."""
VERDICTS = later(
    (
        "{name}: {leak} against {limit}, {times} times what is needed",
        "{name}: {leak} against {limit}, only {times} times what is needed; expect to miss it in wind or haste",
        "{name}: {leak}, and it needs {limit}; it would show after {wait}",
        "{name}: {leak}, and it needs {limit}",
        "{name} does not respond to {refrigerant}",
        "{name} has no figure: it depends on oil, time and cleanliness",
        "{name}: {missing} is needed to tell",
        "{refrigerant} holds no ozone-depleting substance",
        "{refrigerant} holds ozone-depleting substance",
        "{refrigerant} is not among the refrigerants of that time",
        "{refrigerant} is among the refrigerants of that time",
        "{refrigerant} holds an HFC",
        "{refrigerant} holds no HFC; part 82 takes it",
        "{refrigerant} holds no HFC and we have no GWP of it",
        "{refrigerant} holds no HFC and its GWP of {gwp} is not above {limit}",
        "{refrigerant} holds no HFC and its GWP of {gwp} is above {limit}",
        "residential and light commercial AC and heat pumps are excluded",
        "the full charge is below {mass}",
        "no GWP for {refrigerant} in the regulation's annexes",
        "an ozone-depleting substance: Regulation (EU) 2024/590 instead",
        "no fluorinated gas: not in this regulation",
        "sealed, in a home and below {mass}",
        "sealed and below {mass}",
        "{mass} with a detection system",
        "below {mass}",
        "{end} micron against {limit} micron",
        "it began above {limit} micron",
        "shorter than {time} minutes",
    )
)
"""Why a rule, a limit or a technique decides as it does; of two that fit, the narrower one comes first."""
PIECES = later(
    {
        "test": "the test pressure",
        "temperature": "a temperature below the critical one",
        "table": "a temperature for which we hold a table of the vapour",
        "rest": "pressure at rest above that of the air outside",
        "volume": "the volume under test",
        "air": "the room's volume and air change",
        "days": "{n} days",
    }
)
"""What stands in the slots of a verdict and is no figure."""
REFUSED = later(
    (
        '{field} "{text}" is not a day; write it as 2026-03-31',
        '"{text}" is not a tube size we know; write for example "3/8 in" or "10 mm"',
        "there is no table for {refrigerant}",
    )
)
"""Why the scripts of `leaklore.trade` give no answer, where it is no figure out of range."""
SCRIPTS = later(
    (
        "{why} What stands here is the worked example of the build; the fields can’t be changed.",
        "Something on this page is broken.",
        "The figures could not be loaded: no connection, or this page was opened as a file.",
        "The figures could not be loaded: the server answered {status}.",
        "The figures came in pieces. Load the page again.",
        "This page and its figures are of different editions. Load the page again; if that does not help, clear what this device keeps of the site.",
        "The record could not be read, so the example’s figures stand here. {why}",
        "There is no {wanted} in this library; the example’s figures stand here.",
        "case {id}",
        "system {id}",
        "From {record}. Taken from the record: {fields}.",
        "From {record}. Taken from the record: nothing.",
        "Not on record, please fill in: {fields}.",
        "Copied: whoever opens it sees these figures.",
        "Copy it from the address bar: it holds these figures.",
        "Something in the fields can’t be read; it is told there.",
        "Waiting for: {fields}.",
        "No answer for these figures: {why}.",
        "No answer for this field ({field}); what it takes is told there.",
        "This does not fit here.",
        "This has to be more than zero.",
        "This has to be above {low}.",
        "A test needs more pressure than the air outside.",
        "This has to lie before the end ({high}).",
        "This has to lie between {low} and {high}.",
        "“{text}” can be read in two ways. Write {point} or {comma}.",
        "“{text}” is not a number. Write it like 2.4.",
    )
)
"""What site_overrides/js/bench says; it has these in English itself."""
_SLOT = re.compile(r"\{(\w+)\}")


def said() -> list[tuple[str, str]]:
    """Pairs of English and the language of the site, for the scripts of a page; none in English."""
    return [(m, gettext(m)) for m in (*VERDICTS, *PIECES.values(), *REFUSED, *SCRIPTS)] if foreign() else []


def reasons() -> list[tuple[str, str]]:
    """The pairs that a name of a rule or a verdict needs; none in English."""
    return [(m, gettext(m)) for m in (*NAMED, *VERDICTS, *PIECES.values())] if foreign() else []


def reworded(text: str) -> str:
    """A name or a verdict in the language of the site; what no message fits comes back as it is."""
    return _anew(text, (*NAMED, *VERDICTS, *PIECES.values())) if foreign() else text


def _anew(text: str, messages: tuple[str, ...]) -> str:
    for message in messages:
        if found := form(message).fullmatch(text):
            inner = {slot: _anew(value, tuple(PIECES.values())) for slot, value in found.groupdict().items()}
            return gettext(message).format(**inner)
    return text


@cache
def form(message: str) -> re.Pattern[str]:
    """Matches a sentence that was made from the message."""
    parts = _SLOT.split(message)
    return re.compile("".join(f"(?P<{p}>.+?)" if i % 2 else re.escape(p) for i, p in enumerate(parts)))
