"""What the form finds wrong with a record, as messages: its scripts say it in English, the data hand over the rest.

site_overrides/js/record/ says what `leaklore check` says. On the terminal that stays English; on the page every sentence
of it goes through `say`, and another language comes along as pairs in data/record.json.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from leaklore.language import foreign, gettext, later
from leaklore.records import schema
from leaklore.records.schema_files import TYPES

NOUNS = later(
    (
        "a failure mode",
        "a technique",
        "a symptom",
        "a component or place",
        "a refrigerant",
        "a setting",
        "a kind of equipment",
        "a condition",
        "a contributing factor",
        "a repair",
        "a route of a line set",
        "a branch of the company",
        "a crew of the company",
        "a caution",
        "a mass",
        "a pressure",
        "a temperature",
        "a time",
        "a length",
        "an amount of money",
        "a concentration",
        "a leak rate",
        "a sound level",
        "an e-mail address",
        "a telephone number",
        "a street address",
    )
)
"""What a word, a quantity or something private is, as the tables of `leaklore.records` call it."""
EXAMPLES = later(
    (
        '"4 lb", "9 lb 8 oz" or "1.8 kg"',
        '"400 psig", "38 bar", "500 micron" or "20 inHg vac"',
        '"71 degF" or "4 degC"',
        '"14 months", "6 weeks" or "2 h"',
        '"9 m" or "30 ft"',
        '"85 ppm", "12 g/yr", "46 dB" or "480 micron"',
        '"480 micron" or "300 psig"',
    )
)
"""Quantities to copy, as the tables of `leaklore.records` have them: a record keeps its English units."""
SCRIPTS = later(
    {
        "schema": (
            "write for example {example}",
            'write a number with its unit, for example "{example}"',
            "put it in quotes",
            'put it in quotes: "{value}"',
            "is empty",
            "{write}, or leave it out",
            "write {words}",
            "{value} is a number, not text",
            "{value} is yes or no, not text",
            '"{value}" is not true or false',
            "write true or false in small letters",
            "write plain digits, for example {example}",
            '"{value}" is text, not {words}',
            "{value} is not a list",
            "write one key a line, and begin with {key}",
            "{value} is not {words}",
            "add {key} and one of {words}",
            "add it, for example {example}",
            "add {key} ({what})",
            '"{value}" is not {noun}',
            '"{value}" is not a day',
            "write YYYY-MM-DD, for example 2025-02-03",
            '"{value}" does not have the form wanted here',
            "write YYYY, YYYY-MM or YYYY-MM-DD, for example 2022-06",
            '"{value}" does not exist',
            "{key} is missing",
            "known keys: {keys}",
            "put text that holds a comma in quotes",
            "write decimals with a point, as in 1.1 kg",
            '"{key}" is not a key here',
            "write one of {words}",
            "{value} is not one of the words allowed here",
            '"{value}" is too short',
            "write at least {n} characters",
            "is {n} characters long; at most {most} fit",
            "shorten it",
            "the list is empty",
            "add an entry",
            "has {n} entries; at most {most} fit",
            "leave some out",
            '"{value}" is in the list twice',
            "keep one",
            "{value} is too small",
            "write at least {least}",
            "{value} is too large",
            "write at most {most}",
            "the file",
            "has more than {n} errors; the first {n} are told",
            "correct them and check again",
        ),
        "words": (
            'did you mean "{word}"?',
            "leave it out, or add it to company.yaml",
        ),
        "quantities": (
            '"{value}" is not an amount with its currency',
            '"{value}" is negative',
            '"{value}" is far too large',
            '"{value}" is not above absolute zero',
            '"{value}" is below vacuum',
            "is blank",
            '"{value}…" is too long for a quantity',
            '"{value}" has a comma, which can be read two ways',
            "write the number out, for example {example}",
            '"{value}" has a power of ten',
            '"{value}" does not begin with a number',
            '"{value}" has no unit',
            '"{value}" is not a number with a unit',
            '"{unit}" in "{value}" is not a unit we know',
            "a reading",
            '"{value}" is {name}, not {wanted}',
            '"{value}" mixes units',
            '"{value}" does not say whether it is vacuum or absolute',
            'write "20 inHg vac" for 20 below atmospheric pressure, "9.9 inHg abs" for 9.9 absolute',
        ),
        "rules": (
            "correct one of the two dates",
            "{day} is before the report on {other}",
            "correct the date here or in the register",
            "{day} is before the installation in {other}",
            "{system} was taken out in {removed}, before this report on {day}",
            "correct the date or the system",
            "{day} lies in the future",
            "write the day on which it happened",
            '"{lost}" is more than was there: the system holds {charge} and {added} were added',
            '"{lost}" is more than was there: the system holds {charge}',
            "correct it, or write what was added meanwhile as topped_up:",
            '"{end}" is more than it began with, and start_temp: and end_temp: are not both given ({expected} expected)',
            '"{end}" is more than its temperatures explain ({expected} expected)',
            "correct the figures, or give both temperatures of the tubes",
            '"{value}" is no vacuum',
            'write it in micron or mbar, for example "480 micron"',
            '"{value}" is below atmospheric pressure, but the medium is {medium}',
            "write medium: vacuum, or the gauge pressure",
            '"{key}" is among the symptoms too',
            "keep it in one of the two lists",
            '"{value}" is not what {instrument} reads',
            "write for example {example}, or correct the instrument",
            '"{background}" and the value "{value}" have different kinds of unit',
            "write both in the same unit",
            '"{value}" is not in {currency}',
            "write the amount in {currency}, the company's currency",
            '"{value}" looks like {what}',
            "take it out; nothing private belongs here",
            "held, but a follow-up found it leaking again",
            "write proof: point",
            "add fix.hold_test: or follow_up:, or write proof: point",
            "held, but there is neither a hold test nor a follow-up that found it holding",
            "held, but a vacuum alone is no proof and no follow-up found it holding",
            "held, but the hold test lost pressure and no follow-up found it holding",
            "add a follow_up:, or write proof: point",
            "add the step, or write proof: section or suspected",
            "{proof}, but no search step pinpointed {component}",
            "{proof}, but only {technique} found {component}; a second technique has to confirm it",
            "add the step with result: confirmed, or write proof: section",
            "add the step with result: section, or write proof: suspected",
            "section, but no search step narrowed it down",
            "{result} at {places}, but the leak was at {component}",
            "write result: false-alarm or lead, correct the place, or add the leak to also_found:",
            '{branch} numbers its cases {prefix}-…, this one is "{id}"',
            "correct the branch or the number",
            "add it to systems.yaml, or describe it under equipment:",
            '"{value}" is not in the register',
            "{keys} unknown, and no system is named",
            "name the system of the register, or write equipment: {example}",
            '"{value}" is this case',
            '"{value}" is no case of this library',
            "write the number of a case",
            "there is no {file}",
            "put the picture there or take the entry out",
            '"{value}" is an area, not a part that can leak',
            "write a part, such as {parts}",
            "write one that exists",
            "write a key of the guide, a case or a system number",
            '"{value}" leads nowhere',
            "{day} is before the closing on {other}",
            "{day} is before the follow-up above it on {other}",
        ),
    }
)
"""What site_overrides/js/record says; it has these in English itself."""


def said() -> list[tuple[str, str]]:
    """Pairs of English and the language of the site, for the scripts of the form; none in English."""
    if not foreign():
        return []
    messages = (
        *TYPES.values(),
        *(m for part in SCRIPTS.values() for m in part),
        *_described(schema.load("case")),
    )
    return [(m, gettext(m)) for m in dict.fromkeys(messages)]


def named(table: Mapping[str, str]) -> dict[str, str]:
    """A table of words that a sentence takes in, in the language of the site."""
    return {key: gettext(word) for key, word in table.items()}


def _described(node: Any) -> Iterator[str]:
    """Descriptions of the fields that have to be there: the schema's own words say what is missing."""
    if isinstance(node, Mapping):
        fields = node.get("properties", {})
        yield from (
            fields[key]["description"] for key in node.get("required", ()) if "description" in fields[key]
        )
        for inner in node.values():
            yield from _described(inner)
