"""Arguments and answers as JSON, the same for both sides; and what differs between two answers.

`$number` inf, -inf, nan; `$refrigerant` a key; `$gas` a gas state; `$tables` the provider of properties; `$day` a day
for Python, whose twin takes the text; `$left` an argument left out. A refusal is `{"$refused": class, "message": ...}`.
"""

from __future__ import annotations

import datetime as dt
import inspect
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from leaklore.errors import LeakloreError
from leaklore.trade import refrigerants, tables
from leaklore.trade.gas import GasState, NoSaturation
from leaklore.trade.units import OutOfRange

RELATIVE = 1e-6
"""Largest relative difference of two numbers."""
NUMBERS = {"inf": math.inf, "-inf": -math.inf, "nan": math.nan}
LEFT = {"$left": True}


def camel(name: str) -> str:
    """`time_to_see` -> `timeToSee`."""
    return re.sub(r"_(\w)", lambda hit: hit[1].upper(), name)


def decoded(node: Any) -> Any:
    """An argument for Python."""
    if isinstance(node, list):
        return [decoded(one) for one in node]
    if not isinstance(node, dict):
        return node
    if "$number" in node:
        return NUMBERS[node["$number"]]
    if "$refrigerant" in node:
        return refrigerants.shipped()[node["$refrigerant"]]
    if "$tables" in node:
        return tables.shipped()
    if "$gas" in node:
        return GasState(*decoded(node["$gas"]))
    if "$day" in node:
        return dt.date.fromisoformat(node["$day"])
    return {key: decoded(value) for key, value in node.items()}


def for_browser(node: Any) -> Any:
    """The same argument for the browser: days as text."""
    if isinstance(node, list):
        return [for_browser(one) for one in node]
    if isinstance(node, dict):
        return node["$day"] if "$day" in node else {key: for_browser(value) for key, value in node.items()}
    if isinstance(node, float) and not math.isfinite(node):
        return {"$number": str(node)}
    return node


def encoded(node: Any) -> Any:
    """An answer of Python as the browser would tell it; properties of results are among their keys."""
    if isinstance(node, float) and not math.isfinite(node):
        return {"$number": str(node)}
    if isinstance(node, dt.date):
        return node.isoformat()
    if isinstance(node, list | tuple):
        return [encoded(one) for one in node]
    if isinstance(node, Mapping):
        return {str(key): encoded(value) for key, value in node.items()}
    if is_dataclass(node) and not isinstance(node, type):
        found = {camel(f.name): encoded(getattr(node, f.name)) for f in fields(node)}
        for name, value in vars(type(node)).items():
            if isinstance(value, property):
                found[camel(name)] = encoded(getattr(node, name))
        if isinstance(node, NoSaturation):
            found["noSaturation"] = True
        return found
    return node


def _called(run: Callable[..., Any], args: list[Any]) -> Any:
    """What follows an argument that is left out goes by name."""
    first = args.index(LEFT) if LEFT in args else len(args)
    rest = {}
    if any(one != LEFT for one in args[first:]):
        names = list(inspect.signature(run).parameters)
        rest = {names[i]: decoded(one) for i, one in enumerate(args) if i > first and one != LEFT}
    return run(*(decoded(one) for one in args[:first]), **rest)


def answered(run: Callable[..., Any], args: list[Any]) -> Any:
    """Python's answer, or its refusal. Any other exception is a fault and passes."""
    try:
        return encoded(_called(run, args))
    except OutOfRange as refused:
        told = {name: getattr(refused, name) for name in ("field", "value", "low", "high", "unit")}
        return {"$refused": "OutOfRange", "message": str(refused), **encoded(told)}
    except (LeakloreError, ValueError) as refused:
        return {"$refused": "TradeError", "message": str(refused)}


def refused(answer: Any) -> bool:
    """Is this answer a refusal?"""
    return isinstance(answer, dict) and "$refused" in answer


def _number(node: Any) -> bool:
    return isinstance(node, int | float) and not isinstance(node, bool)


def differences(ours: Any, theirs: Any, way: str = "answer", within: float = RELATIVE) -> Iterator[str]:
    """Every place where Python's answer and the browser's differ."""
    if isinstance(ours, dict) and isinstance(theirs, dict):
        if ours.keys() != theirs.keys():
            yield f"{way}: keys {sorted(ours.keys() ^ theirs.keys())} stand on one side only"
        for key in ours.keys() & theirs.keys():
            yield from differences(ours[key], theirs[key], f"{way}.{key}", within)
    elif isinstance(ours, list) and isinstance(theirs, list):
        if len(ours) != len(theirs):
            yield f"{way}: {len(ours)} in Python, {len(theirs)} in the browser"
        for i, (one, other) in enumerate(zip(ours, theirs, strict=False)):
            yield from differences(one, other, f"{way}[{i}]", within)
    elif _number(ours) and _number(theirs):
        if not math.isclose(ours, theirs, rel_tol=within, abs_tol=0.0):
            yield f"{way}: {ours!r} in Python, {theirs!r} in the browser"
    elif type(ours) is not type(theirs) or ours != theirs:
        yield f"{way}: {ours!r} in Python, {theirs!r} in the browser"
