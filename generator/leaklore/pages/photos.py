"""Photos for the pages: upright, in sRGB, without a word about who took them where, in sizes that a phone can load.

The original is never published. What was made is kept in a cache by the content of the original and the settings
below, so that a second build makes nothing anew; a cache that is lost or spoilt costs time and nothing else.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import signal
import warnings
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from functools import cache, partial
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

from leaklore import whole
from leaklore.errors import LeakloreError
from leaklore.problem import Problem
from leaklore.records import photo as on_disk
from leaklore.records import source
from leaklore.records.heif import is_heif
from leaklore.records.library import Library
from leaklore.workers import end_with

if TYPE_CHECKING:
    from PIL import Image

WIDTHS = (480, 1280)
"""Widest picture of each size, px: a phone's column, and a desk's or a phone's with two to three px a CSS pixel."""
QUALITY = {"avif": 60, "webp": 78, "jpg": 80}
"""Of 100, by eye on drawings and textures; no source."""
VERSION = 1
"""Raise it when what is made of the same original changes."""
MANY = 4
"""Fewer photos than this are made without further processes, whose start takes longer."""
MOST_PROCESSES = 8
TYPES = {"avif": "image/avif", "webp": "image/webp", "jpg": "image/jpeg"}
_ORIENTATION = 0x0112

Key = tuple[str, str]
"""Case number and name of the original in photos/ID/."""


@dataclass(frozen=True, slots=True)
class Variant:
    """One file made of a photo; `digest` is its SHA-256, hexadecimal, `file` its name in the cache."""

    width: int
    height: int
    ending: str
    digest: str
    file: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo as its page shows it. `folder` holds the files in the cache, `at` is where the site has them."""

    folder: Path
    at: str
    stem: str
    variants: tuple[Variant, ...]

    @property
    def fallback(self) -> Variant:
        """What every browser can show; it comes last."""
        return self.variants[-1]

    @property
    def small(self) -> tuple[Variant, ...]:
        """The same in the format that takes fewer bytes, narrowest first."""
        return self.variants[:-1]

    @property
    def type(self) -> str:
        """Media type of `small`."""
        return TYPES[self.small[0].ending]

    def url(self, variant: Variant) -> str:
        """Address relative to the site's root; it changes with the content."""
        return f"{self.at}/{self.stem}-{variant.width}-{variant.digest[:8]}.{variant.ending}"

    def srcset(self, root: str) -> str:
        """`small` as a srcset, for a page from which `root` leads to the site's root."""
        return ", ".join(f"{root}{self.url(v)} {v.width}w" for v in self.small)

    def files(self) -> Iterable[tuple[str, Path]]:
        """(address in the site, file in the cache) of everything that is published."""
        return [(self.url(v), self.folder / v.file) for v in self.variants]


@dataclass(frozen=True, slots=True)
class Made:
    """Pictures by case number and name, and what could not be made."""

    pictures: Mapping[Key, Picture]
    problems: tuple[Problem, ...]


class Spoilt(Exception):
    """A photo can't be decoded; the text says why."""


def make(library: Library, cache_folder: Path) -> Made:
    """Makes what is missing of every photo that a case names. Raises LeakloreError without a cache, OSError with the file that can't be written there."""
    keys = [(case.id, photo.file) for case in library.cases for photo in case.photos]
    if not keys:
        return Made({}, ())
    files = [library.root / "photos" / number / name for number, name in keys]
    try:
        cache_folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise LeakloreError(f"photos can't be kept in {cache_folder} ({wrong.strerror or wrong})") from None
    try:
        done = _all(files, cache_folder)
    except BrokenProcessPool:
        raise LeakloreError("a process that makes photos was killed; is there enough memory?") from None
    pictures: dict[Key, Picture] = {}
    problems = []
    for (number, name), file, result in zip(keys, files, done, strict=True):
        if isinstance(result, str):
            told = source.shown(file, library.root)
            problems.append(Problem(told, 1, 1, result, "copy the picture there again", "photo/whole"))
            continue
        folder, variants = result
        pictures[number, name] = Picture(folder, f"photos/{number}", Path(name).stem, variants)
    return Made(pictures, tuple(sorted(set(problems))))


Result = tuple[Path, tuple[Variant, ...]] | str


def _all(files: list[Path], cache_folder: Path) -> list[Result]:
    """What is kept is taken, the rest is made, in several processes where it is much."""
    out: dict[Path, Result] = {}
    missing: dict[Path, str] = {}
    for file in dict.fromkeys(files):
        try:
            key = _key(file.read_bytes())
        except OSError as wrong:
            out[file] = f"can't be read ({wrong.strerror})"
            continue
        kept = kept_at(cache_folder / key)
        if kept is None:
            missing[file] = key
        else:
            out[file] = cache_folder / key, kept
    work = partial(_one, cache_folder)
    processes = min(os.cpu_count() or 1, len(missing), MOST_PROCESSES)
    if len(missing) < MANY or processes < 2:
        done = list(map(work, missing, missing.values()))
    else:  # spawned, not forked: `serve` runs threads
        with ProcessPoolExecutor(processes, get_context("spawn"), end_with, (os.getpid(),)) as pool:
            with _uninterrupted():
                made = pool.map(work, missing, missing.values())
            done = list(made)
    out.update(zip(missing, done, strict=True))
    return [out[file] for file in files]


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Processes that are started meanwhile hear nothing of Ctrl-C, else each would tell where it was: they end with us."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@cache
def small_ending() -> str:
    """AVIF, or WebP where this Pillow has none."""
    from PIL import features

    return "avif" if features.check("avif") else "webp"


@cache
def _settings() -> str:
    from PIL import __version__, features

    versions = [features.version(name) for name in ("avif", "webp", "jpg", "littlecms2")]
    told = [VERSION, WIDTHS, QUALITY, small_ending(), __version__, versions]
    return json.dumps(told, sort_keys=True)


@cache
def _heic_reader() -> str:
    """Its version; told without loading it."""
    return version("pi-heif")


def _key(data: bytes) -> str:
    made_by = _settings() + (_heic_reader() if is_heif(data) else "")
    return hashlib.sha256(made_by.encode() + b"\0" + hashlib.sha256(data).digest()).hexdigest()[:40]


def kept_at(folder: Path) -> tuple[Variant, ...] | None:
    """What the cache has, if every byte of it is as it was written; None otherwise."""
    try:
        variants = tuple(Variant(**v) for v in json.loads((folder / "made.json").read_text("utf-8")))
        for variant in variants:
            if Path(variant.file).name != variant.file:
                return None
            if hashlib.sha256((folder / variant.file).read_bytes()).hexdigest() != variant.digest:
                return None
    except (OSError, ValueError, TypeError):
        return None
    return variants if len(variants) > 1 else None


def _one(cache_folder: Path, file: Path, key: str) -> Result:
    """Makes the variants of one photo and keeps them; a text where it can't be decoded."""
    try:
        made = variants_of(file)
    except Spoilt as wrong:
        return str(wrong)
    folder = cache_folder / key
    folder.mkdir(exist_ok=True)
    variants = []
    for (width, height, ending), data in made:
        name = f"{width}.{ending}"
        whole.write(folder / name, data)
        variants.append(Variant(width, height, ending, hashlib.sha256(data).hexdigest(), name))
    whole.write(folder / "made.json", json.dumps([asdict(v) for v in variants]).encode())  # last: it vouches
    return folder, tuple(variants)


def variants_of(file: Path) -> list[tuple[tuple[int, int, str], bytes]]:
    """(width, height, ending) and bytes of all variants, the fallback last. Raises Spoilt."""
    from PIL import Image

    whole = upright(file)
    widths = sorted({min(width, whole.width) for width in WIDTHS})
    out = []
    for width in widths:
        height = max(1, round(whole.height * width / whole.width))
        sized = whole
        if width < whole.width:
            sized = whole.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=3.0)
        out.append(((width, height, small_ending()), _encoded(sized, small_ending())))
    out.append(((width, height, "jpg"), _encoded(sized, "jpg")))
    return out


def _encoded(picture: Image.Image, ending: str) -> bytes:
    """One thread only: the number of threads changes AVIF's bytes."""
    stream = io.BytesIO()
    quality = QUALITY[ending]
    if ending == "avif":
        picture.save(stream, "AVIF", quality=quality, speed=6, max_threads=1, autotiling=False)
    elif ending == "webp":
        picture.save(stream, "WEBP", quality=quality, method=6)
    else:
        picture.save(stream, "JPEG", quality=quality, optimize=True, progressive=True)
    return stream.getvalue()


def upright(file: Path) -> Image.Image:
    """The first frame of a photo, upright, 8-bit sRGB on white, and nothing but its pixels. Raises Spoilt."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with file.open("rb") as stream, on_disk.opened(stream) as opened:
                if opened.format == "PNG":
                    opened.verify()  # its sums; the decoder passes over them
            with file.open("rb") as stream, on_disk.opened(stream) as opened:
                if opened.width * opened.height > on_disk.MAX_PIXELS:
                    raise Spoilt("has more pixels than can be taken")
                orientation = _orientation(opened)
                across = opened.width if orientation < 5 else opened.height
                if across > 2 * WIDTHS[-1]:  # a JPEG can be decoded smaller, which saves time and memory
                    share = 2 * WIDTHS[-1] / across
                    opened.draft(None, (int(opened.width * share), int(opened.height * share)))
                opened.load()
                flat = _flat(opened)
    except (Image.DecompressionBombError, MemoryError):
        raise Spoilt("has more pixels than can be taken") from None
    except Spoilt:
        raise
    except Exception as wrong:  # what a decoder raises for spoilt bytes is not foreseen
        why = " ".join(str(wrong).split()) or type(wrong).__name__
        why = why.replace(str(file), file.name)
        raise Spoilt(f"can't be decoded ({why})") from None
    turned = _turned(flat, orientation)
    bare = Image.new("RGB", turned.size)
    bare.paste(turned)  # a new picture carries no profile, comment or EXIF
    return bare


def _orientation(picture: Image.Image) -> int:
    """1 to 8, as the camera says (EXIF 2.32, tag Orientation); from 5 on width and height change places."""
    if on_disk.kind(picture) == "HEIC":
        return 1  # its boxes say how it lies, and the decoder has turned it; what EXIF repeats does not count
    try:
        said = picture.getexif().get(_ORIENTATION, 1)
    except Exception:  # a spoilt EXIF block is no reason to lose the picture
        return 1
    return said if said in range(1, 9) else 1


def _turned(picture: Image.Image, orientation: int) -> Image.Image:
    from PIL import Image

    way = Image.Transpose
    turns = (
        None,
        way.FLIP_LEFT_RIGHT,
        way.ROTATE_180,
        way.FLIP_TOP_BOTTOM,
        way.TRANSPOSE,
        way.ROTATE_270,
        way.TRANSVERSE,
        way.ROTATE_90,
    )
    turn = turns[orientation - 1]
    return picture if turn is None else picture.transpose(turn)


def _flat(picture: Image.Image) -> Image.Image:
    """8-bit sRGB, transparent parts on white."""
    from PIL import Image

    profile = picture.info.get("icc_profile")
    if picture.mode.startswith("I") or picture.mode == "F":
        return _eight_bits(picture)
    if picture.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in picture.info:
        seen = picture.convert("RGBA")
        ground = Image.new("RGB", seen.size, "white")
        ground.paste(_srgb(seen.convert("RGB"), profile), mask=seen.getchannel("A"))
        return ground
    if picture.mode not in ("RGB", "L", "CMYK"):
        picture = picture.convert("RGB")
    return _srgb(picture, profile)


def _eight_bits(picture: Image.Image) -> Image.Image:
    """16-bit grey to 8-bit: Pillow's own conversion would cut off at 255."""
    import numpy as np
    from PIL import Image

    grey = np.asarray(picture).astype(np.float64) / 257
    return Image.fromarray(grey.round().clip(0, 255).astype(np.uint8)).convert("RGB")


def _srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """Colours by the profile turned into sRGB; a profile that is spoilt or for other colours is passed over."""
    from PIL import Image, ImageCms

    if profile:
        try:
            turned = ImageCms.profileToProfile(
                picture,
                ImageCms.ImageCmsProfile(io.BytesIO(profile)),
                ImageCms.createProfile("sRGB"),
                renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
                outputMode="RGB",
                flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
            )
        except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
            turned = None
        if isinstance(turned, Image.Image):
            return turned
    return picture.convert("RGB")
