"""What jsonschema finds wrong in data, told in plain words."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import islice
from typing import Any

from jsonschema import Draft202012Validator, FormatChecker, ValidationError, validators
from referencing import Registry, Resource

from leaklore.errors import QuantityError
from leaklore.problem import Finding, Pointer, pointer_text
from leaklore.records import quantity
from leaklore.records.days import is_date, is_partial_date
from leaklore.records.near import did_you_mean, nearest
from leaklore.records.parse import short as _one_line
from leaklore.records.schema_files import KINDS, MOST, TYPES, load, partial_date_pattern
from leaklore.records.vocabulary import NOUNS, Vocabulary

_FORMS = {
    "^[A-Za-zÀ-ÖØ-öø-ž][A-Za-zÀ-ÖØ-öø-ž0-9-]*( [A-Za-zÀ-ÖØ-öø-ž0-9-]+)*$": "letters, digits, hyphens and single spaces",
    "^[A-Za-z0-9-]+$": "letters A to Z, digits and hyphens",
    "^[a-z0-9]+(-[a-z0-9]+)*$": "small letters, digits and hyphens",
    "^[A-Z]{2,4}$": "two to four capital letters",
    "^[A-Z]{3}$": "three capital letters",
    "^https?://\\S+/$": "the whole address, with a / at its end",
    "^[^\\sA-Z.,;:!?'\"’()\\[\\]]+( [^\\sA-Z.,;:!?'\"’()\\[\\]]+)*$": "small letters without punctuation",
}
"""What a pattern asks for, in words."""
_ALIKE = 70
"""Of 100, as in near.py: keys are short, and there are few."""
_DECIMALS = re.compile(r"[0-9]+(?: [^ ]+)?")


def _cut_number(before: Any, key: str) -> bool:
    """Are a value and the key behind it one number that was written with a comma?"""
    return type(before) is int and _DECIMALS.fullmatch(key) is not None


@cache
def _registry() -> Registry[Any]:
    return Registry().with_resources(
        [(load(k)["$id"], Resource.from_contents(load(k))) for k in ("common", *KINDS)]
    )


class _Words(FormatChecker):  # type: ignore[misc]  # jsonschema is typed in part only
    """Carries the vocabulary to wherever a validator goes."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        super().__init__(())
        self.vocabulary = vocabulary


def _vocabulary_check(validator: Any, kind: str, instance: Any, _: Any) -> Iterator[ValidationError]:
    vocabulary: Vocabulary = validator.format_checker.vocabulary
    if isinstance(instance, str) and not vocabulary.has(kind, instance):
        yield ValidationError(
            f'"{_short(instance)}" is not {NOUNS[kind]}\0{vocabulary.suggest(kind, instance)}'
        )


def _fits(text: str, schema: Mapping[str, Any]) -> bool:
    """Is a text neither too short nor too long? Else that is told, and no more."""
    least, most = schema.get("minLength", 0), schema.get("maxLength", len(text))
    return bool(least <= len(text) <= most)


def _quantity_check(
    _: Any, dimension: str, instance: Any, schema: Mapping[str, Any]
) -> Iterator[ValidationError]:
    if isinstance(instance, str) and _fits(instance, schema):
        try:
            quantity.read(instance, dimension)
        except QuantityError as fault:
            yield ValidationError(f"{fault}\0{fault.instead}")


def _date_check(_: Any, name: str, instance: Any, __: Any) -> Iterator[ValidationError]:
    if name == "date" and isinstance(instance, str) and not is_date(instance):
        yield ValidationError(f'"{_short(instance)}" is not a day\0write YYYY-MM-DD, for example 2025-02-03')


def _pattern_check(
    _: Any, pattern: str, instance: Any, schema: Mapping[str, Any]
) -> Iterator[ValidationError]:
    """The schema's patterns mean ASCII digits and one line, as in JavaScript."""
    if not isinstance(instance, str) or not _fits(instance, schema):
        return
    if not re.search(pattern, instance, re.ASCII) or "\n" in instance:
        yield ValidationError("")
    elif pattern == partial_date_pattern() and not is_partial_date(instance):
        yield ValidationError(
            f'"{_short(instance)}" does not exist\0write YYYY, YYYY-MM or YYYY-MM-DD, for example 2022-06'
        )


@cache
def _validator_class() -> Any:
    """Made once: a class a run would stay in memory for ever."""
    return validators.extend(
        Draft202012Validator,
        {
            "x-vocabulary": _vocabulary_check,
            "x-quantity": _quantity_check,
            "format": _date_check,
            "pattern": _pattern_check,
        },
    )


class Refusals:
    """Validators of all kinds, bound to one vocabulary."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._words = _Words(vocabulary)
        self._made: dict[str, Any] = {}

    def of(self, kind: str, schema: dict[str, Any], data: Any) -> list[Finding]:
        """Findings for `data`; `kind` names the schema."""
        validator = self._made.get(kind)
        if validator is None:
            validator = self._made[kind] = _validator_class()(
                schema, registry=_registry(), format_checker=self._words
            )
        found = (f for error in validator.iter_errors(data) for f in _tell(error))
        findings = list(islice(found, MOST))
        if next(found, None) is not None:
            message = f"has more than {MOST} errors; the first {MOST} are told"
            findings.append(Finding((), message, "correct them and check again", "schema/more"))
        return findings


def _short(value: Any) -> str:
    return _one_line(value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, default=str))


def _quoted(value: Any) -> str:
    return f'"{_short(value)}"' if isinstance(value, str) else _short(value)


def _example(schema: Any) -> str:
    examples = schema.get("examples") if isinstance(schema, dict) else None
    if not examples:
        return ""
    return (
        json.dumps(examples[0], ensure_ascii=False).strip('"')
        if not isinstance(examples[0], dict | list)
        else json.dumps(examples[0], ensure_ascii=False)
    )


def _text_hint(value: Any, schema: Any, write: str) -> str:
    """What to write where text is wanted and YAML reads a number, true or false."""
    if "x-quantity" in schema:
        return f'write a number with its unit, for example "{_example(schema)}"'
    fits = re.search(schema["pattern"], str(value), re.ASCII) if "pattern" in schema else True
    if not fits or "format" in schema or "x-vocabulary" in schema:
        return write or "put it in quotes"
    return f'put it in quotes: "{_short(value)}"'


def _meant(data: Mapping[str, Any], known: Mapping[str, Any]) -> set[str | None]:
    """Keys that somebody wrote in another way, which is told: they are not missing."""
    return {nearest(key, known, _ALIKE) for key in data if key not in known}


def _name(pointer: Pointer) -> str:
    return pointer_text(pointer) or "the file"


def _tell(error: ValidationError) -> Iterator[Finding]:
    pointer = tuple(error.absolute_path)
    name, rule, schema, value = _name(pointer), str(error.validator), error.schema, error.instance
    example = _example(schema)
    write = f"write for example {example}" if example else ""

    def finding(message: str, instead: str, **more: Any) -> Finding:
        return Finding(pointer, f"{name}: {message}", instead, f"schema/{rule}", **more)

    match rule:
        case "x-vocabulary" | "x-quantity" | "format":
            message, _, instead = error.message.partition("\0")
            label = {"x-vocabulary": "reference", "x-quantity": "quantity", "format": "date"}[rule]
            yield Finding(pointer, f"{name}: {message}", instead, label)
        case "type":
            wanted = error.validator_value
            words = TYPES.get(wanted if isinstance(wanted, str) else wanted[0], str(wanted))
            if value is None:
                yield finding("is empty", f"{write or f'write {words}'}, or leave it out")
            elif wanted == "string" and isinstance(value, int | float) and not isinstance(value, bool):
                yield finding(f"{_short(value)} is a number, not text", _text_hint(value, schema, write))
            elif wanted == "string" and isinstance(value, bool):
                yield finding(
                    f"{_short(value)} is yes or no, not text", _text_hint(_short(value), schema, write)
                )
            elif wanted == "boolean":
                yield finding(
                    f'"{_short(value)}" is not true or false', "write true or false in small letters"
                )
            elif wanted in ("integer", "number") and isinstance(value, str):
                zeros = re.fullmatch(r"0+([0-9]+)", value)
                digits = f"for example {example}" if example else "for example 6"
                yield finding(
                    f'"{_short(value)}" is text, not {words}',
                    f"write {_short(zeros[1])}" if zeros else f"write plain digits, {digits}",
                )
            elif wanted == "array":
                yield finding(
                    f"{_quoted(value)} is not a list",
                    f"write [{_short(value)}]" if isinstance(value, str) else write,
                )
            elif wanted == "object" and not pointer and schema.get("required"):
                begin = f"write one key a line, and begin with `{schema['required'][0]}:`"
                yield finding(f"{_quoted(value)} is not a block of keys", begin)
            else:
                yield finding(f"{_quoted(value)} is not {words}", write or f"write {words}")
        case "required":
            # one error for each missing key; its name stands first in the message
            key = error.message.split("'")[1]
            if key in _meant(value, schema["properties"]):
                return
            sub = schema["properties"].get(key, {})
            told = _example(sub)
            if "enum" in sub:
                add = f"add `{key}:` and one of {', '.join(sub['enum'])}"
            elif told and len(told) < 90:
                add = f"add it, for example `{key}: {told}`"
            else:
                add = f"add `{key}:` ({sub.get('description', '')})"
            yield finding(f'"{key}" is missing', add)
        case "additionalProperties":
            known = list(schema.get("properties", {}))
            some = f"known keys: {', '.join(known[:8])}" + (", …" if len(known) > 8 else "")
            for before, key in zip([None, *value], value, strict=False):
                if key not in known:
                    instead = did_you_mean(key, known, some, _ALIKE)
                    if value[key] is None and _cut_number(value.get(before), key):  # {charge: 1,1 kg}
                        instead = "write decimals with a point, as in 1.1 kg"
                    elif value[key] is None and " " in key:  # {note: Cold, wet and windy}
                        instead = "put text that holds a comma in quotes"
                    yield Finding(
                        (*pointer, key),
                        f'{name}: "{_short(key)}" is not a key here',
                        instead,
                        "schema/unknown-key",
                        on_key=True,
                    )
        case "enum":
            allowed = [str(v) for v in error.validator_value]
            if value is None:
                yield finding("is empty", f"write one of {', '.join(allowed)}")
                return
            yield finding(
                f"{_quoted(value)} is not one of the words allowed here",
                did_you_mean(_short(value), allowed, f"write one of {', '.join(allowed)}", _ALIKE),
            )
        case "pattern":
            message, _, instead = error.message.partition("\0")
            if message:
                yield Finding(pointer, f"{name}: {message}", instead, "date")
            else:
                if (form := _FORMS.get(error.validator_value)) and example:
                    write = f"write {form}, for example {example}"
                yield finding(f'"{_short(value)}" does not have the form wanted here', write)
        case "minLength":
            least = f"write at least {error.validator_value} characters"
            yield finding("is empty" if not value else f'"{_short(value)}" is too short', write or least)
        case "maxLength":
            yield finding(
                f"is {len(value)} characters long; at most {error.validator_value} fit", "shorten it"
            )
        case "minItems":
            yield finding("the list is empty", write or "add an entry")
        case "maxItems":
            yield finding(f"has {len(value)} entries; at most {error.validator_value} fit", "leave some out")
        case "uniqueItems":
            seen: set[str] = set()
            for i, item in enumerate(value):
                sign = json.dumps(item, sort_keys=True)
                if sign in seen:
                    yield Finding(
                        (*pointer, i),
                        f'{name}: "{_short(item)}" is in the list twice',
                        "keep one",
                        "schema/twice",
                    )
                seen.add(sign)
        case "minimum" | "exclusiveMinimum":
            yield finding(f"{_short(value)} is too small", f"write at least {error.validator_value}")
        case "maximum":
            yield finding(f"{_short(value)} is too large", f"write at most {error.validator_value}")
        case _:
            yield finding(" ".join(error.message.split())[:160], write)
