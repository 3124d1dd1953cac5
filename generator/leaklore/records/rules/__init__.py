"""What a schema can't say. One module a family; `RULES` names every rule and what it guards.

A rule yields findings and never stops the run.
"""

from leaklore.records.rules import dates, ids, photos, plausibility, privacy, proof, references, twins
from leaklore.records.rules.context import Context, Rule

CASE_RULES: tuple[Rule, ...] = (
    *ids.RULES,
    *references.RULES,
    *photos.RULES,
    *dates.RULES,
    *plausibility.RULES,
    *proof.RULES,
    *privacy.RULES,
)
LIBRARY_RULES = (ids.duplicate_ids, twins.near_duplicates)

RULES: dict[str, str] = {
    "file": "a file of the library can be read, is small enough and lies inside the library",
    "yaml": "the file is strict YAML: UTF-8, no tabs, anchors, aliases or tags",
    "duplicate-key": "a key is given once",
    "guide": "a guide file is built as it must be: front matter, entries, key, name and also",
    "schema/…": "types, missing and unknown keys, lengths: what the schema says",
    "register/twice": "keys of the company's settings and of the register are used once",
    "register/site": "a system stands on a site of the register, a crew belongs to a branch",
    "reference/reading": "what a reading list names exists, is named once, and fits what it is named for",
    "reference": "a word is a key of its vocabulary",
    "quantity": "a quantity has a number and a unit of the right dimension",
    "date": "a date is a day that exists",
    **ids.DOCS,
    **references.DOCS,
    **photos.DOCS,
    **dates.DOCS,
    **plausibility.DOCS,
    **proof.DOCS,
    **privacy.DOCS,
    **twins.DOCS,
}

__all__ = ["CASE_RULES", "LIBRARY_RULES", "RULES", "Context", "Rule"]
