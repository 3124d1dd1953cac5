"""Files that are written whole or not at all."""

from __future__ import annotations

import secrets
from contextlib import suppress
from pathlib import Path


def write(file: Path, *data: bytes) -> None:
    """Writes `data`, its parts one after the other, in one move: whoever reads meanwhile gets the old file or the new one.

    Raises OSError with the file's name, which a failed write alone does not tell.
    """
    for last in (False, False, True):
        beside = file.with_name(f".{file.name}.{secrets.token_hex(6)}.new")
        try:
            with beside.open("xb") as stream:
                stream.writelines(data)
            beside.replace(file)
            return
        except FileNotFoundError:  # taken for a killed build's (website/place.sweep), or no folder
            if last:
                raise
        except OSError as fault:
            raise OSError(fault.errno, fault.strerror, str(file)) from None
        finally:
            with suppress(OSError):
                beside.unlink()
