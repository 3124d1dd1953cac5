"""Is a reading above background?"""

from __future__ import annotations

from leaklore.records.model import Reading

RESOLUTION = 2e-6
"""mol/mol; what a portable detector in ppm can tell apart in moving air (common practice, no source)."""
FACTOR = 3.0
"""A reading has to be this many times the background to stand out (common practice, no source)."""


def above_background(reading: Reading) -> bool | None:
    """True or False for readings in ppm with a background; None where the record can't tell.

    Without a background nothing is known: refrigerant stores, open hoses and the last leak fill a room.
    """
    if reading.value.dimension != "fraction" or reading.background is None:
        return None
    # in whole billionths, so that 33 ppm is three times 11 ppm
    value, background = round(reading.value.si * 1e9), round(reading.background.si * 1e9)
    return value - background > RESOLUTION * 1e9 and value >= FACTOR * background
