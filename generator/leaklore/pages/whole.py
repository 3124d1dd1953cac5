"""Files that are written whole or not at all."""

from __future__ import annotations

import secrets
from contextlib import suppress
from pathlib import Path


def write(file: Path, data: bytes) -> None:
    """Writes `data` in one move: whoever reads meanwhile gets the old file or the new one. Raises OSError."""
    beside = file.with_name(f".{file.name}.{secrets.token_hex(6)}.new")
    try:
        with beside.open("xb") as stream:
            stream.write(data)
        beside.replace(file)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
