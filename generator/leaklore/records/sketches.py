"""The lines of the sketches of units, as guide/sketches.yaml has them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import yaml

from leaklore.records.guide import SHIPPED


@cache
def lines() -> Mapping[str, Any]:
    """`signs` and `units`, described at the head of the file; not to be changed."""
    with (SHIPPED / "sketches.yaml").open(encoding="utf-8") as file:
        found: Mapping[str, Any] = yaml.load(file, yaml.CSafeLoader)
    return found
