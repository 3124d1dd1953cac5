"""One field of a case record by its pointer: what the schema says of it, its value, a record with another value."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any

from leaklore.problem import Pointer
from leaklore.records.schema import load

Data = dict[str, Any]


def about(pointer: Pointer) -> Data:
    """The schema of a field, `$ref` followed; KeyError where there is no such field."""
    found = load("case")
    for part in pointer:
        found = found["items"] if isinstance(part, int) else found["properties"][part]
        if "$ref" in found:
            found = {**load("common")["$defs"][found["$ref"].rsplit("/", 1)[1]], **found}
    return found


def names(pointer: Pointer) -> tuple[str, ...]:
    """The fields below this one, in the schema's order; empty where the schema names none."""
    try:
        return tuple(about(pointer).get("properties", ()))
    except KeyError:
        return ()


def value(record: Mapping[str, Any], pointer: Pointer) -> Any:
    """The value of a field; None where the record does not have it."""
    found: Any = record
    for part in pointer:
        try:
            found = found[part]
        except (KeyError, IndexError):
            return None
    return found


def put(record: Mapping[str, Any], pointer: Pointer, new: Any) -> Data:
    """A copy of the record with this value; lists and maps on the way are made."""
    made: Data = copy.deepcopy(dict(record))
    place: Any = made
    for part, following in zip(pointer, (*pointer[1:], None), strict=True):
        last = following is None
        fresh = new if last else [] if isinstance(following, int) else {}
        if isinstance(place, list) and part == len(place):
            place.append(fresh)
        elif last or (isinstance(place, dict) and part not in place):
            place[part] = fresh
        place = place[part]
    return made


def drop(record: Mapping[str, Any], pointer: Pointer) -> Data:
    """A copy of the record without this field, and without the list or map that it leaves empty."""
    made: Data = copy.deepcopy(dict(record))
    if value(made, pointer) is None:
        return made
    holder = value(made, pointer[:-1])
    del holder[pointer[-1]]
    return made if holder or len(pointer) == 1 else drop(made, pointer[:-1])


def read_pointer(text: str) -> Pointer | None:
    """`search[1].result` as a pointer; None where the schema has no such field."""
    parts = re.findall(r"[a-z_]+|\[[0-9]{1,3}\]", text)
    pointer = tuple(int(p[1:-1]) if p.startswith("[") else p for p in parts)
    try:
        about(pointer)
    except KeyError:
        return None
    return pointer if pointer and "".join(parts) == text.replace(".", "") else None
