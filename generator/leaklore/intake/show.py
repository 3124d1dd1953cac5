"""A run told to people and to machines."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import asdict
from typing import Any

from leaklore.intake.candidate import Outcome
from leaklore.intake.take import Taken
from leaklore.problem import Problem

_OF_A_ROW = re.compile(r": row [0-9]+(, \".*\")?$", re.DOTALL)


def line(problem: Problem) -> str:
    """As `leaklore check` writes it; a cell of a sheet is named by row and column instead of line and column."""
    if not _OF_A_ROW.search(problem.path):
        return problem.text()
    mark = "warning: " if problem.severity == "warning" else ""
    tail = f"; {problem.instead}" if problem.instead else ""
    return f"{problem.path}: {mark}{problem.message}{tail} [{problem.rule}]"


def problems(taken: Taken) -> list[str]:
    """One line for each problem, each told once, in the order of what was brought."""
    return list(dict.fromkeys(line(p) for o in taken.outcomes for p in o.problems))


def done(taken: Taken) -> list[str]:
    """One line for each record that was taken or was there already."""
    out = []
    for o in taken.outcomes:
        note = f" ({o.note})" if o.note else ""
        if o.status == "taken":
            with_photos = f" with {o.photos} photo{'s' if o.photos != 1 else ''}" if o.photos else ""
            out.append(
                f"{o.origin}: {'would be taken' if taken.dry else 'taken'} as {o.path}{with_photos}{note}"
            )
        elif o.status == "already taken":
            out.append(f"{o.origin}: already taken{f' as {o.path}' if o.path else ''}{note}")
    return out


def summary(taken: Taken) -> str:
    """The closing line."""
    count = Counter(o.status for o in taken.outcomes)
    verb = "would be taken" if taken.dry else "taken"
    said = [f"{count['taken']} {verb}"]
    if count["already taken"]:
        said.append(f"{count['already taken']} already taken")
    said.append(f"{count['refused']} refused" + (f": {_origins(taken)}" if count["refused"] else ""))
    return ", ".join(said)


def _origins(taken: Taken) -> str:
    names = [o.origin for o in taken.outcomes if o.status == "refused"]
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def as_json(taken: Taken) -> str:
    """`{"version": 1, "dry_run": ..., "taken": n, "already_taken": n, "refused": n, "notes": [...], "results": [...]}`."""
    count = Counter(o.status for o in taken.outcomes)
    whole: dict[str, Any] = {
        "version": 1,
        "dry_run": taken.dry,
        "taken": count["taken"],
        "already_taken": count["already taken"],
        "refused": count["refused"],
        "notes": list(taken.notes),
        "results": [_record(o) for o in taken.outcomes],
    }
    return json.dumps(whole, indent=2, ensure_ascii=False)


def _record(o: Outcome) -> dict[str, Any]:
    return {
        "from": o.origin,
        "status": o.status,
        "id": o.number,
        "path": str(o.path) if o.path else None,
        "title": o.title or None,
        "photos": o.photos,
        "note": o.note or None,
        "problems": [{**asdict(p), "text": line(p)} for p in o.problems],
    }


def as_table(taken: Taken) -> Any:
    """A table for the terminal (rich): what would come of each file or row."""
    from rich.table import Table
    from rich.text import Text

    made = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("From", "Number", "File", "Title", "What comes of it"):
        made.add_column(name, overflow="fold")
    for o in taken.outcomes:
        says = {"taken": "would be taken", "already taken": "already taken", "refused": "refused"}[o.status]
        told = [says + (f" ({o.note})" if o.note else ""), *(_short(p, o.origin) for p in o.problems)]
        file = f"{o.path.parent.name}/{o.path.name}" if o.path else ""
        made.add_row(*map(Text, (o.origin, o.number or "", file, o.title, "\n".join(told))))
    return made


def _short(problem: Problem, origin: str) -> str:
    return line(problem).removeprefix(origin).lstrip(":, ")
