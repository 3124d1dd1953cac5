"""A photo can be published: it is a picture, of its ending's type, whole, and not too large."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from leaklore.problem import Finding
from leaklore.records import photo as pictures
from leaklore.records.model import Case
from leaklore.records.rules.context import Context

DOCS = {
    "photo/file": "a photo can be read, is not empty, is small enough and lies in the library itself",
    "photo/type": "a photo is a JPEG, PNG, WebP, AVIF or HEIC, as its ending says",
    "photo/pixels": "a photo has no more pixels than a computer can well take",
    "photo/whole": "a photo has its beginning and its end",
}


def photos(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """A photo has its beginning and its end (and the rest of this family; a missing one is `reference/photo`)."""
    for i, photo in enumerate(case.photos):
        place = f"{case.id}/{photo.file}"
        if place in ctx.photos and (wrong := pictures.fault(ctx.root / "photos" / place, ctx.root)):
            yield Finding(
                ("photos", i, "file"),
                f"photos[{i}].file: photos/{place} {wrong.message}",
                wrong.instead,
                wrong.rule,
            )


RULES = (photos,)
