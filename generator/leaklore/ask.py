"""The questions of `leaklore new` in the order of the work, up to the new record's file.

Nothing is written before the whole record has been shown and agreed to.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path

from leaklore.errors import LeakloreError
from leaklore.problem import Finding, Pointer, errors
from leaklore.questions import Prompt, Questions, Say, askable
from leaklore.records import field, heard
from leaklore.records.compose import compose
from leaklore.records.draft import Bench
from leaklore.records.library import Library
from leaklore.records.model import PROOFS, System
from leaklore.records.near import did_you_mean

ORDER = (
    "branch",
    "reported",
    "id",
    "system",
    "title",
    "symptoms",
    "not_seen",
    "charge",
    "environment",
    "readings",
    "search",
    "cause",
    "fix",
    "follow_up",
    "lesson",
    "story",
)
"""What is asked for; every other field of the schema can be named before the record is written."""
SYSTEM, STORY, CAUSE, PROOF = ("system",), ("story",), ("cause",), ("cause", "proof")
MOST = 12
"""Systems listed at once."""


def ask_case(library: Library, prompt: Prompt, say: Say, today: dt.date | None = None) -> Path:
    """Asks for a case and writes its record; the path of the new file.

    `prompt` asks a question, its second text is what Enter answers. LeakloreError where nothing was written.
    """
    interview = _Interview(library, prompt, say, today or dt.date.today())
    say("? lists what can be written; Enter leaves out what may be left out.")
    for name in ORDER:
        interview.section((name,))
    while True:
        text = interview.agree()
        path = interview.bench.place(interview.record["id"])
        try:
            _write(path, text)
        except OSError as fault:
            if path.exists():
                say(f"{path} is there already and was not overwritten.")
                interview.renumber()
            else:
                say(f"can't write {path} ({fault.strerror}); put that right and try again.")
        else:
            return path


def _write(path: Path, text: str) -> None:
    """Writes a new file, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("x", encoding="utf-8", newline="\n") as file:
        try:
            file.write(text)
            file.flush()
        except BaseException:
            path.unlink()
            raise


class _Interview(Questions):
    """What is asked for in a way of its own."""

    def section(self, pointer: Pointer, full: bool = False) -> None:
        super().section(pointer, full)
        if pointer[0] == "follow_up" or (pointer[0] == "fix" and full):
            self._raise_proof()

    def answer(self, pointer: Pointer, full: bool) -> None:
        if pointer == SYSTEM:
            self._system()
        elif pointer == STORY:
            self._story()
        else:
            super().answer(pointer, full)
        if pointer == CAUSE:
            self._further_leaks()

    def default(self, pointer: Pointer) -> str:
        kept = super().default(pointer)
        if pointer == ("id",):
            free = self.bench.next_number(self.record["branch"], int(self.record["reported"][:4]))
            return kept if kept.rsplit("-", 1)[0] == free.rsplit("-", 1)[0] else free
        if pointer == ("reported",):
            return kept or self.today.isoformat()
        branches = list(self.library.company.branches)
        return kept or (branches[0] if pointer == ("branch",) and len(branches) == 1 else "")

    def example(self, pointer: Pointer) -> str:
        if pointer == ("id",):
            return self.default(pointer)
        company = self.library.company
        own: dict[Pointer, Mapping[str, object]] = {
            ("branch",): company.branches,
            ("crew",): company.crews,
            SYSTEM: self.library.systems,
        }
        return next(iter(own.get(pointer, {})), "") or super().example(pointer)

    def explain(self, pointer: Pointer) -> None:
        super().explain(pointer)
        if pointer == ("branch",):
            self.list_words(field.about(pointer))
        elif pointer == PROOF:
            self._offer_proofs()

    def _system(self) -> None:
        self.explain(SYSTEM)
        kept = self.default(SYSTEM)
        branch = self.record["branch"]
        while True:
            hint = "- takes it out" if kept else "number or part of the site's name; Enter: not registered"
            answer = self.ask(f"{field.about(SYSTEM)['title']} ({hint})", kept)
            if answer in ("", "-"):
                self.record = field.drop(self.record, SYSTEM)
                while not self.block(("equipment",), False, True):
                    self.tell(self.bench.rules({**self.record, "equipment": {}}))
                self.settle(("equipment",), False)
                return
            found = heard.systems(self.library, answer, branch)
            if answer == "?":
                own = [s for s in self.library.systems.values() if s.site.branch == branch]
                self._list_systems(own, len(own))
            elif len(found) == 1:
                self._list_systems(found, MOST)
                self.record = field.put(self.record, SYSTEM, found[0].id)
                return
            elif found:
                self._list_systems(found, MOST)
            else:
                near = heard.near_system(self.library, answer)
                self.say(f'  system: "{answer}" is not in the register; {near}')

    def _list_systems(self, systems: list[System], most: int) -> None:
        for system in systems[:most]:
            has = system.equipment
            what = [has.kind, has.refrigerant, has.charge.written if has.charge else None]
            gone = f" (taken out {system.removed.written})" if system.removed else ""
            about = ", ".join(filter(None, what))
            self.say(f"    {system.id}  {system.full_name}: {about}{gone}")
        if len(systems) > most:
            self.say(f"    and {len(systems) - most} more; add a word, or write the number")

    def _story(self) -> None:
        self.explain(STORY)
        kept, lines = self.default(STORY), list[str]()
        while True:
            hint = "Enter keeps it" if kept and not lines else "each line a paragraph, an empty one ends it"
            line = self.ask(f"{field.about(STORY)['title']} ({hint})", "")
            if kept and not lines and not line:
                return
            if line == "?":
                self.list_words(field.about(STORY))
                continue
            text = "\n\n".join([*lines, line] if line else lines)
            trial = field.put(self.record, STORY, f"{text}\n" if text else "")
            found = self.bench.field(trial, STORY)
            if line:
                found = [f for f in found if f.rule != "schema/minLength"]  # more may follow
                found += [] if found else self.bench.rules_at(trial, STORY)
            if self.tell(found):
                continue  # the lines before stay
            if not line:
                self.record = trial
                return
            lines.append(line)

    def _proof_faults(self, level: str) -> list[Finding]:
        return self.bench.rules_at(field.put(self.record, PROOF, level), PROOF)

    def _offer_proofs(self) -> None:
        """Says which levels the record carries, and why not more."""
        faults = {level: self._proof_faults(level) for level in PROOFS}
        self.say(f"  Carried so far: {', '.join(level for level in PROOFS if not faults[level])}")
        refused = next((found[0].message for found in faults.values() if found), "")
        if refused:
            later = "" if faults["point"] or "fix" in self.record else "; asked again after the fix"
            self.say(f"  Not more: {refused}{later}")

    def _raise_proof(self) -> None:
        """Offers `held` where the fix has earned it since the cause was told."""
        if self.record["cause"]["proof"] == "point" and not self._proof_faults("held"):
            self.record = field.put(self.record, PROOF, "held")
            self.section(PROOF)

    def _further_leaks(self) -> None:
        """Asks for the second leak where a place was pinpointed that is not the cause's."""
        while found := [f for f in self.bench.rules(self.record) if f.rule == "search/elsewhere"]:
            self.tell(found[:1])
            place = field.value(self.record, (*found[0].pointer[:-1], "at"))[0]
            number = len(self.record.get("also_found", ()))
            self.record = field.put(self.record, ("also_found", number, "component"), place)
            if not self.block(("also_found", number), False, True):
                return

    def agree(self) -> str:
        """Shows the record and asks for corrections until it is agreed to; the text to write."""
        text, wrong = self._shown()
        while True:
            answer = self.ask("Write it? (yes, no, or a field to answer again; ? lists them)", "")
            if answer.lower() in ("y", "yes"):
                if not wrong:
                    return text
                self.say("  not with an error in it; name the field to answer again")
            elif answer.lower() in ("n", "no"):
                raise LeakloreError("nothing was written, as you wished")
            elif answer == "?":
                for name in field.names(()):
                    self.say(f"    {name:<16}  {field.about((name,))['title']}")
            elif pointer := self._named(answer):
                self.section(pointer, full=True)
                text, wrong = self._shown()

    def _shown(self) -> tuple[str, bool]:
        """The record's text, shown with what `leaklore check` says of it; True where that is an error."""
        text = compose(self.record)
        problems = self.bench.whole(text, self.record["id"])
        self.say("\n".join(["", text, *(problem.text() for problem in problems)]))
        return text, bool(errors(problems))

    def _named(self, answer: str) -> Pointer | None:
        """The field that is named; None, and told, where there is none."""
        pointer = field.read_pointer(answer)
        if pointer:
            holder = field.value(self.record, pointer[:-1]) if len(pointer) > 1 else self.record
            if holder is not None and (isinstance(pointer[-1], str) or pointer[-1] <= len(holder)):
                return askable(pointer)
        if answer:
            near = did_you_mean(answer, field.names(()), "? lists them")
            self.say(f'  there is no field "{answer}"; {near}')
        return None

    def renumber(self) -> None:
        """Takes another number where this one is used by now."""
        self.bench = Bench(self.library, self.today)
        self.record = field.drop(self.record, ("id",))
        self.section(("id",))
