"""Result sheets of learners: what a sheet may hold, its canonical form, and the check code printed on it.

The code finds a sheet that was altered after it was made. It holds no secret: whoever wants to can make a sheet and its
code anew, so it proves nothing about who did the work. js/learn/sheet.mjs is the browser's twin; it makes the sheets.

A code is 25 signs: 23 carry 115 bits (version 3, list 20, initials 21, finished day 15, score 7, share done 7, digest
42), two check the typing. The alphabet has no I, L, O and U, and takes I and L for 1 and O for 0 (as in Crockford's
base 32, from memory). The check is the number modulo 1021, a prime: it finds any one wrong sign and any two neighbours
swapped.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from leaklore.errors import LeakloreError

VERSION = 1
LARGEST = 200_000
"""Bytes of a sheet; one of 100 items has about 20,000."""
MOST_ITEMS = 200
MOST = 9999
"""Largest score, whole, minutes and count of tries."""
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LONG = 25
"""Signs of a code."""
PRIME = 1021
"""Largest prime below 32 * 32."""
FIRST_DAY = dt.date(2020, 1, 1)
LAST_DAY = dt.date(2109, 9, 17)
"""The last day that 15 bits reach, one below 32768 days."""
NO_SCORE = 127
BITS = (
    ("version", 3),
    ("list", 20),
    ("initials", 21),
    ("day", 15),
    ("score", 7),
    ("part", 7),
    ("digest", 42),
)
_LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
INITIALS = re.compile(r"[A-Z0-9]{1,4}")
"""A learner's: what a list is given to, and what a result sheet may carry."""
_LIST = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")
_ITEM = re.compile(r"[a-z]{1,20}:[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_SIGNS = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
"""What no text of a sheet has: control characters and halves of surrogates."""
SHEET = (
    "leaklore",
    "version",
    "company",
    "list",
    "title",
    "edition",
    "initials",
    "due",
    "finished",
    "again",
    "items",
)
ITEM = ("key", "title", "done", "score", "of", "tries", "minutes")


class NotASheet(LeakloreError):
    """The file is no result sheet, or it contradicts itself; the message says why, without the file's name."""


class NotACode(LeakloreError):
    """What was typed is no check code; the message says why."""


@dataclass(frozen=True, slots=True)
class Item:
    """One item of a sheet. `done` is the day of the try that counts; `minutes` of all tries, None where not known."""

    key: str
    title: str
    done: str | None
    score: int | None
    of: int | None
    tries: int
    minutes: int | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A learner's result of one list. `again`: questions of it that still come back; days are ISO 8601."""

    company: str
    list: str
    title: str
    edition: str
    initials: str
    due: str | None
    finished: str | None
    again: int
    items: tuple[Item, ...]

    @property
    def done(self) -> int:
        """Items done."""
        return sum(item.done is not None for item in self.items)

    @property
    def score(self) -> int | None:
        """Percent of all points of the items done, halves rounded up; None where nothing was scored."""
        of = sum(item.of or 0 for item in self.items)
        return (200 * sum(item.score or 0 for item in self.items) + of) // (2 * of) if of else None

    @property
    def part(self) -> int:
        """Percent of the items that are done, rounded down."""
        return 100 * self.done // len(self.items)


@dataclass(frozen=True, slots=True)
class Carried:
    """What a code alone tells. `list` is a mark made of the list's key; `finished` is None for a list not finished."""

    list: int
    initials: str
    finished: dt.date | None
    score: int | None
    part: int
    digest: int

    def which(self, keys: Iterable[str]) -> tuple[str, ...]:
        """Which of these lists it can be."""
        return tuple(key for key in keys if mark(key) == self.list)


def read(data: bytes) -> tuple[Sheet, str]:
    """A sheet and the code that it carries, from the bytes of a file. Raises NotASheet; the code is not checked yet."""
    if len(data) > LARGEST:
        raise NotASheet(f"it has {len(data):,} bytes, more than a result sheet can have ({LARGEST:,})")
    try:
        raw = json.loads(data.decode("utf-8-sig", "replace"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise NotASheet("it is no result sheet: it can't be read as JSON") from None
    if not isinstance(raw, dict) or raw.get("leaklore") != "result":
        raise NotASheet("it is no result sheet")
    if raw.get("version") is True or raw.get("version") != VERSION:
        raise NotASheet(f"it is a result sheet of another version than {VERSION}; build the site anew")
    _exactly(raw, (*SHEET, "code"), "the sheet")
    code = raw["code"]
    if not isinstance(code, str):
        raise NotASheet("its code is no text")
    items = raw["items"]
    if not isinstance(items, list) or not 1 <= len(items) <= MOST_ITEMS:
        raise NotASheet(f"it has no list of 1 to {MOST_ITEMS} items")
    sheet = Sheet(
        company=_text(raw["company"], "company", 200),
        list=_like(raw["list"], "list", _LIST),
        title=_text(raw["title"], "title", 200),
        edition=_day(raw["edition"], "edition"),
        initials=_like(raw["initials"], "initials", INITIALS),
        due=_day_or_none(raw["due"], "due"),
        finished=_day_or_none(raw["finished"], "finished"),
        again=_whole(raw["again"], "again"),
        items=tuple(_item(one, i + 1) for i, one in enumerate(items)),
    )
    if len({item.key for item in sheet.items}) != len(sheet.items):
        raise NotASheet("it has an item twice")
    days = [item.done for item in sheet.items]
    finished = max(day for day in days if day) if all(days) else None
    if sheet.finished != finished:
        raise NotASheet("its finished day is not that of its last item")
    return sheet, code


def canonical(sheet: Sheet) -> bytes:
    """The sheet without its code in the one form that the digest is made of: JSON, keys in order, no spaces."""
    items = [{key: getattr(item, key) for key in ITEM} for item in sheet.items]
    told: dict[str, Any] = {key: getattr(sheet, key) for key in SHEET[2:-1]}
    whole = {"leaklore": "result", "version": VERSION, **told, "items": items}
    return json.dumps(whole, ensure_ascii=False, separators=(",", ":")).encode()


def code(sheet: Sheet) -> str:
    """The check code of a sheet, in five groups of five."""
    initials = 0
    for sign in sheet.initials:
        initials = initials * 37 + _LETTERS.index(sign) + 1
    fields = {
        "version": VERSION,
        "list": mark(sheet.list),
        "initials": initials,
        "day": (dt.date.fromisoformat(sheet.finished) - FIRST_DAY).days + 1 if sheet.finished else 0,
        "score": NO_SCORE if sheet.score is None else sheet.score,
        "part": sheet.part,
        "digest": _first_bits(canonical(sheet), 42),
    }
    number = 0
    for name, bits in BITS:
        number = number << bits | fields[name]
    number = number * 1024 + number % PRIME
    signs = "".join(ALPHABET[number >> 5 * i & 31] for i in reversed(range(LONG)))
    return "-".join(signs[i : i + 5] for i in range(0, LONG, 5))


def decode(typed: str) -> Carried:
    """What a code carries, however it was typed: small letters, spaces, O for 0. Raises NotACode."""
    signs = re.sub(r"[\s.–—-]", "", typed).upper().translate(str.maketrans("OIL", "011"))
    if len(signs) != LONG:
        raise NotACode(f"a code has {LONG} letters and digits, and this has {len(signs)}")
    strange = next((sign for sign in signs if sign not in ALPHABET), None)
    if strange is not None:
        raise NotACode(f'"{strange}" is in no code; look again')
    number = 0
    for sign in signs:
        number = number << 5 | ALPHABET.index(sign)
    number, check = divmod(number, 1024)
    if number % PRIME != check:
        raise NotACode("a sign is wrong, or two are swapped; look again")
    fields = {}
    for name, bits in reversed(BITS):
        fields[name] = number & (1 << bits) - 1
        number >>= bits
    if fields["version"] != VERSION:
        raise NotACode("it is a code of another version")
    initials, left = "", fields["initials"]
    while left:
        left, sign_of = divmod(left, 37)
        initials = (_LETTERS[sign_of - 1] if sign_of else "?") + initials
    score = fields["score"]
    if not INITIALS.fullmatch(initials) or fields["part"] > 100 or 100 < score < NO_SCORE:
        raise NotACode("it carries what no sheet has")
    return Carried(
        list=fields["list"],
        initials=initials,
        finished=FIRST_DAY + dt.timedelta(fields["day"] - 1) if fields["day"] else None,
        score=None if score == NO_SCORE else score,
        part=fields["part"],
        digest=fields["digest"],
    )


def agrees(sheet: Sheet, carried: str) -> bool:
    """Whether a sheet is as it was when its code was made. Raises NotACode for what is no code."""
    decode(carried)
    return re.sub(r"[\s.–—-]", "", carried).upper().translate(str.maketrans("OIL", "011")) == code(
        sheet
    ).replace("-", "")


def mark(key: str) -> int:
    """20 bits of a list's key."""
    return _first_bits(f"list:{key}".encode(), 20)


def _first_bits(data: bytes, bits: int) -> int:
    return int.from_bytes(hashlib.sha256(data).digest()[:8], "big") >> 64 - bits


def _no_number(_: str) -> None:
    raise ValueError


def _exactly(raw: Mapping[str, Any], keys: tuple[str, ...], where: str) -> None:
    for key in keys:
        if key not in raw:
            raise NotASheet(f"{where} has no {key}")
    if len(raw) != len(keys):
        raise NotASheet(f"{where} has more than a result sheet has")


def _item(raw: object, number: int) -> Item:
    if not isinstance(raw, dict):
        raise NotASheet(f"item {number} is none")
    _exactly(raw, ITEM, f"item {number}")
    of = f"of item {number}"
    item = Item(
        key=_like(raw["key"], f"key {of}", _ITEM),
        title=_text(raw["title"], f"title {of}", 200),
        done=_day_or_none(raw["done"], f"done {of}"),
        score=None if raw["score"] is None else _whole(raw["score"], f"score {of}"),
        of=None if raw["of"] is None else _whole(raw["of"], f"whole {of}"),
        tries=_whole(raw["tries"], f"tries {of}"),
        minutes=None if raw["minutes"] is None else _whole(raw["minutes"], f"minutes {of}"),
    )
    if (item.score is None) != (item.of is None) or (
        item.of is not None and not (item.score or 0) <= item.of > 0
    ):
        raise NotASheet(f"the score {of} can't be")
    if (item.done is None) != (item.tries == 0) or (
        item.done is None and (item.score, item.minutes) != (None, None)
    ):
        raise NotASheet(f"item {number} is done and not done")
    return item


def _whole(value: object, what: str) -> int:
    """1.0 is 1: JSON has one kind of number, and the browser can't tell them apart."""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= MOST:
        raise NotASheet(f"its {what} is no whole number up to {MOST}")
    return value


def _text(value: object, what: str, most: int) -> str:
    if not isinstance(value, str) or not value or len(value) > most or _SIGNS.search(value):
        raise NotASheet(f"its {what} is no text of up to {most} letters")
    return value


def _like(value: object, what: str, pattern: re.Pattern[str]) -> str:
    if not isinstance(value, str) or not pattern.fullmatch(value):
        raise NotASheet(f"its {what} can't be")
    return value


def _day(value: object, what: str) -> str:
    try:
        if (
            isinstance(value, str)
            and _DAY.fullmatch(value)
            and FIRST_DAY <= dt.date.fromisoformat(value) <= LAST_DAY
        ):
            return value
    except ValueError:
        pass
    raise NotASheet(f"its {what} is no day")


def _day_or_none(value: object, what: str) -> str | None:
    return None if value is None else _day(value, what)
