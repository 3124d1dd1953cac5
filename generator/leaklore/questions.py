"""Asks for any field of a case record as the schema describes it, and again until the answer is right.

Names, meanings and examples come from the schema; what is wrong is told in the words of `leaklore check`.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable
from typing import Any

from leaklore.problem import Finding, Pointer, pointer_text
from leaklore.records import field, heard, quantity
from leaklore.records.draft import Bench
from leaklore.records.library import Library
from leaklore.records.quantity import EXAMPLES
from leaklore.records.vocabulary import NOUNS

Prompt = Callable[[str, str], str]
"""Asks a question; the second text is what Enter answers."""
Say = Callable[[str], None]

FEWER = {
    "equipment": ("setting", "kind", "refrigerant", "charge", "installed"),
    "readings": ("at", "by", "value", "background"),
    "search": ("technique", "at", "minutes", "result"),
}
"""Where only these fields are asked for, unless `full` is wanted."""
YES_OR_NO = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}


class Questions:
    """A record that grows answer by answer."""

    def __init__(self, library: Library, prompt: Prompt, say: Say, today: dt.date) -> None:
        self.library, self.say, self.today = library, say, today
        self._prompt = prompt
        self.bench = Bench(library, today)
        self.record: dict[str, Any] = {}
        self._told: set[str] = set()

    def ask(self, question: str, enter: str) -> str:
        """One line without the signs that no file can hold."""
        return "".join(sign if sign.isprintable() else " " for sign in self._prompt(question, enter)).strip()

    def section(self, pointer: Pointer, full: bool = False) -> None:
        """Asks for a field, and again until nothing that was answered so far is at fault."""
        self.answer(pointer, full)
        self.settle(pointer, full)

    def settle(self, pointer: Pointer, full: bool) -> None:
        """Asks again until nothing that was answered so far is at fault; `pointer` was answered last.

        What is at fault is asked for first; where that is kept, the answers around it may be wrong.
        """
        before: set[str] = set()
        while True:
            found = self.bench.rules(self.record)
            if not self.tell(found):
                return
            faults = [f for f in found if f.severity == "error"]
            again = [askable(f.pointer) for f in faults]
            if before == {f.message for f in faults}:
                again.append(pointer)
            before = {f.message for f in faults}
            for place in dict.fromkeys(again):
                self.answer(place, full)

    def answer(self, pointer: Pointer, full: bool) -> None:
        """Asks for a field once; its value fits the schema then, though not yet the rules."""
        about = field.about(pointer)
        free = pointer[-1] not in field.about(pointer[:-1]).get("required", ())
        if "properties" in about:
            self.block(pointer, full, free)
        elif "properties" in about.get("items", ()):
            self._entries(pointer, full)
        else:
            self._leaf(pointer, free)

    def tell(self, findings: Iterable[Finding]) -> bool:
        """Tells findings, a warning only once; True if one of them is an error."""
        found = list(findings)
        for f in found:
            mark = "warning: " if f.severity == "warning" else ""
            text = f"  {mark}{f.message}; {f.instead}"
            if f.severity == "error" or text not in self._told:
                self.say(text)
            self._told.add(text)
        return any(f.severity == "error" for f in found)

    def block(self, pointer: Pointer, full: bool, free: bool) -> bool:
        """Asks for the fields of a map; False where it is left out, which `free` allows."""
        required = field.about(pointer)["required"]
        self.explain(pointer)
        names = field.names(pointer)
        for name in names if full else FEWER.get(_shape(pointer), names):
            place = (*pointer, name)
            if field.names(place):
                self.block(place, full, True)
                continue
            ends = free and name == names[0]  # an empty first answer leaves the map out
            if not self._leaf(place, ends or name not in required) and name in required:
                self.record = field.drop(self.record, pointer)
                return False
        return field.value(self.record, pointer) is not None

    def default(self, pointer: Pointer) -> str:
        """What Enter answers: what was answered before."""
        kept = field.value(self.record, pointer)
        return "" if kept is None else written(kept)

    def example(self, pointer: Pointer) -> str:
        """What could be answered."""
        return written(field.about(pointer)["examples"][0])

    def explain(self, pointer: Pointer) -> None:
        """Says once what is asked for."""
        shape = f"{_shape(pointer)}[]" if isinstance(pointer[-1], int) else _shape(pointer)
        if shape in self._told:
            return
        self._told.add(shape)
        if not field.names(pointer):
            about = field.about(pointer)
            self.say(f"  {about['description']} For example: {self.example(pointer)}")
        else:
            about = field.about(pointer[:-1] if isinstance(pointer[-1], int) else pointer)
            self.say(f"\n{about['title']}: {about['description']}")

    def list_words(self, about: dict[str, Any]) -> None:
        """Says what can be written."""
        inner = about.get("items", about)
        if "x-vocabulary" in inner:
            kind = inner["x-vocabulary"]
            self._list_keys(kind, self.library.vocabulary.terms.get(kind, ()))
            return
        if "enum" in inner:
            words = ", ".join(inner["enum"])
        elif "x-quantity" in inner:
            words = EXAMPLES[inner["x-quantity"]]
        else:
            words = written(about["examples"][0])
        self.say(f"  {about['description']}\n  {words}")

    def _list_keys(self, kind: str, keys: Iterable[str]) -> None:
        for key in keys:
            name = self.library.vocabulary.name(kind, key)
            self.say(f"    {key}" if name == key else f"    {key:<24}  {name}")

    def _entries(self, pointer: Pointer, full: bool) -> None:
        """Asks for the entries of a list until one is left empty."""
        least = field.about(pointer).get("minItems", 0)
        number = 0
        while True:
            count = len(field.value(self.record, pointer) or ())
            if self.block((*pointer, number), full, number < count or number >= least):
                self.settle((*pointer, number), full)
                number += 1
            elif number >= count:
                return

    def _leaf(self, pointer: Pointer, free: bool) -> bool:
        """Asks for one value until it is right; False where it is left out.

        An answer that only a rule speaks against stands when it is given twice: another may be the wrong one.
        """
        about = field.about(pointer)
        self.explain(pointer)
        default = self.default(pointer)
        hint = "" if not free else " (- takes it out)" if default else " (or Enter)"
        insisted = field.value(self.record, pointer)
        while True:
            answer = self.ask(_label(pointer) + hint, default)
            if answer == "?":
                self.list_words(about)
                continue
            if free and answer in ("", "-"):
                self.record = field.drop(self.record, pointer)
                return False
            value = self._read(about, answer)
            if value == "" != answer:
                continue  # given up
            trial = field.put(self.record, pointer, value)
            if self.tell(self.bench.field(trial, pointer)):
                continue
            if value == insisted or not self.tell(self.bench.rules_at(trial, pointer)):
                self.record = trial
                return True
            insisted = value

    def _read(self, about: dict[str, Any], answer: str) -> Any:
        """An answer as the value that the schema wants; what does not fit stays text, and the schema tells."""
        kind, low = about.get("type"), answer.lower()
        if kind == "array":
            words = [word.strip() for word in answer.split(",")]
            items = [self._read(about["items"], word) for word in words if word]
            return list(dict.fromkeys(item for item in items if item))
        if "x-quantity" in about:
            return quantity.plain_amount(answer)
        if "x-tube" in about:
            return quantity.plain_size(answer)
        if "x-vocabulary" in about:
            return self._word(about["x-vocabulary"], answer)
        if "enum" in about:
            begun = [word for word in about["enum"] if word.startswith(low)]
            return begun[0] if low and len(begun) == 1 else low if low in begun else answer
        if kind == "integer" and re.fullmatch(r"-?[0-9]{1,9}", answer):
            return int(answer)
        if kind == "boolean":
            return YES_OR_NO.get(low, answer)
        return self.today.isoformat() if about.get("format") == "date" and low == "today" else answer

    def _word(self, kind: str, typed: str) -> str:
        """The key that is meant, asked for until it is clear; empty where it is given up."""
        vocabulary, word = self.library.vocabulary, typed
        while word not in ("", "-"):
            meant = heard.word(vocabulary, kind, word)
            if meant.key:
                if meant.key != word:
                    self.say(f"  {word}: {meant.key} ({vocabulary.name(kind, meant.key)})")
                return meant.key
            if word == "?":
                self._list_keys(kind, vocabulary.terms[kind])
            elif meant.nearest:
                self.say(f'  "{word}" may be')
                self._list_keys(kind, meant.nearest)
            else:
                self.say(f'  "{word}" is not {NOUNS[kind]}; {vocabulary.suggest(kind, word)}')
            word = self.ask(f'Instead of "{typed}" (or Enter)', "")
        return ""


def askable(pointer: Pointer) -> Pointer:
    """The nearest field with a question of its own."""
    place: Pointer = ()
    for part in pointer:
        place = (*place, part)
        about = field.about(place)
        if "properties" not in about and "properties" not in about.get("items", ()):
            break
    return place


def written(value: Any) -> str:
    """A value as somebody would type it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(written, value))
    return str(value)


def _shape(pointer: Pointer) -> str:
    """The same for every entry of a list: `search.result`."""
    return pointer_text(tuple(part for part in pointer if isinstance(part, str)))


def _label(pointer: Pointer) -> str:
    """`Reading 2, Value`: the title of a field behind that of the map it belongs to."""
    title = str(field.about(pointer)["title"])
    if len(pointer) == 1:
        return title
    number = f" {pointer[-2] + 1}" if isinstance(pointer[-2], int) else ""
    return f"{field.about(pointer[:-1])['title']}{number}, {title}"
