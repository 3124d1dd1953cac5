"""From what somebody types to findings: phrases, typing mistakes, negation, amounts, and the words left over.

The browser's twin is js/search/understand.mjs; a test holds both to the same answers.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from leaklore.analysis import text
from leaklore.analysis.evidence import Check, Evidence
from leaklore.search.amounts import amounts, measured_at
from leaklore.search.lexicon import Lexicon
from leaklore.search.negation import BACK, Finding, Reader, lists
from leaklore.search.phrases import items_of, tokens_of

LONGEST = 600
"""Characters that are read; a longer text is cut, so that nothing can be made slow by pasting a book."""


@dataclass(frozen=True)
class Understood:
    """Findings in the order of the text, and stems left over that search the prose (`words` as typed)."""

    findings: tuple[Finding, ...]
    words: tuple[str, ...]
    stems: tuple[str, ...]


def understand(raw: str, lexicon: Lexicon, today: dt.date) -> Understood:
    """Reads a text; `today` dates `since spring`."""
    raw = raw[:LONGEST]
    folded, where = text.fold_at(raw)
    # 407 c is a refrigerant and no temperature
    found = [
        a
        for a in amounts(folded, today)
        if a.kind != "reading" or not lexicon.knows("".join(text.words(folded[a.start : a.end])))
    ]
    tokens = tokens_of(folded, found, lexicon)
    items = items_of(tokens, lexicon)
    reader = Reader(lexicon, bool(found), lists(items, folded))
    several = Counter(item.clause for item in items)
    for item in items:
        reader.read(item, several[item.clause] == 1)
    reader.close()
    findings = [
        *(
            replace(f, kind="near") if f.kind == "place" and measured_at(folded, found, f.start, f.end) else f
            for f in reader.findings
        ),
        *(Finding(a.kind, (), a.start, a.end, a.value) for a in found if a.kind != "reading"),
    ]
    findings.sort(key=lambda f: (f.start, f.end))
    placed = [replace(f, start=where[f.start][0], end=where[f.end - 1][1]) for f in _last_word(findings)]
    return Understood(
        tuple(placed),
        tuple(w for w, _ in reader.words),
        tuple(dict.fromkeys(s for _, s in reader.words)),
    )


def _last_word(findings: Sequence[Finding]) -> list[Finding]:
    """Of two that contradict or repeat each other the later counts; one setting, kind, refrigerant and amount.

    What leaves open which kind is meant does not take the place of one that it may mean: a rooftop heat pump.
    """
    out: list[Finding] = []
    for f in findings:
        if len(f.keys) > 1 and any(o.kind == f.kind == "kind" and set(o.keys) < set(f.keys) for o in out):
            continue
        single = f.kind in ("setting", "kind", "refrigerant", "lost", "charge", "over", "age")
        base = BACK.get(f.kind, f.kind)
        out = [
            o
            for o in out
            if not (
                (single and o.kind == f.kind)
                or (not single and BACK.get(o.kind, o.kind) == base and o.keys == f.keys and o.at == f.at)
            )
        ]
        out.append(f)
    return out


def evidence(understood: Understood, checks: Sequence[Check] = ()) -> Evidence:
    """Findings as evidence; `checks` are those made beside the text."""
    by: dict[str, list[Finding]] = {}
    for f in understood.findings:
        by.setdefault(f.kind, []).append(f)

    def one(kind: str) -> str | None:
        return by[kind][-1].keys[0] if kind in by else None

    def value(kind: str) -> float | None:
        return by[kind][-1].value if kind in by else None

    lost, over = value("lost"), value("over")
    clean = tuple(Check(f.keys[0], f.at) for f in by.get("clean", ()) if f.at)
    seen = frozenset(f.keys[0] for f in by.get("symptom", ()))
    return Evidence(
        symptoms=seen,
        absent=frozenset(f.keys[0] for f in by.get("absent", ())) - seen,
        conditions=frozenset(f.keys[0] for f in by.get("condition", ())),
        setting=one("setting"),
        kinds=by["kind"][-1].keys if "kind" in by else (),
        refrigerant=one("refrigerant"),
        age=value("age"),
        rate=lost / over if lost is not None and over else None,
        charge=value("charge"),
        places=tuple(f.keys for f in by.get("place", ())),
        not_places=tuple(f.keys for f in by.get("not-place", ())),
        named=frozenset(f.keys[0] for f in by.get("mode", ())),
        ruled_out=frozenset(f.keys[0] for f in by.get("not-mode", ())),
        checks=(*clean, *checks),
    )
