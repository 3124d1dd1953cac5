"""The page of the symptom search: its frame, and every word that its script says."""

from __future__ import annotations

from leaklore.language import gettext, later
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page

SAYS = later(
    {
        "absent": "No {name}",
        "not-place": "Not at: {name}",
        "not-mode": "Not: {name}",
        "place": "At: {name}",
        "near": "Near: {name}",
        "clean": "{name}: clean",
        "technique": "{name}",
        "lost": "Lost {mass}",
        "charge": "Charge {mass}",
        "over": "In {years}",
        "age": "{years} old",
        "or": " or ",
        "at": "{what}: {places}",
        "ready": "Type, or tap what you see.",
        "loading": "Loading the search …",
        "broken": "The search could not be loaded. {why} The symptom pages below work without it.",
        "cases-broken": "The cases could not be loaded. {why} Causes and checks stand without them.",
        "no-connection": "The connection failed.",
        "other-build": "A part of the search doesn't fit the rest: load the page again.",
        "one-case": "1 case like it.",
        "cases": "{n} cases like it.",
        "cases-more": "The {n} most similar cases first.",
        "nothing": "Nothing understood and nothing found.",
        "named-unit": "System {number}",
        "named-case": "Case {number}",
        "named-none": "{number} is not in the register.",
        "speaks-for": "For: {list}",
        "speaks-against": "Against: {list}",
        "sits": "Most likely at: {list}",
        "behind": "{n} proven cases",
        "behind-one": "1 proven case",
        "behind-none": "No proven case yet: the guide’s judgement",
        "likely": "Likely:",
        "unsure": "Not known yet: these findings fit several causes.",
        "named": "named by you",
        "hardly": "under 1 %",
        "chance": "{percent} chance that it shows here",
        "minutes": "about {n} min",
        "short": "{percent}, {n} min",
        "in-line": "First of {n}",
        "all": "In this order about {n} min to the first sign. {missed} that none of these {checks} shows it.",
        "then": "Then",
        "no-check": "Nothing left that could show it. Undo a step, or look again where access was bad.",
        "why-low-first": "Low first: this vapour is heavier than air.",
        "why-look-first": "Look before anything is stripped.",
        "why-before-gauges": "Air before gauges go on: every hose lets some gas go.",
        "why-at-limit": "The leak is near the limit of this technique: take the time.",
        "why-too-small": "The leak is too small for this technique on most days.",
        "did-clean": "Clean",
        "did-found": "Found",
        "did-skip": "Not now",
        "found-head": "Found: {what}",
        "sign-head": "A sign: {what}. Now narrow it down.",
        "lost-rate": "The charge lost is {rate}.",
        "no-rate": "Say how much was lost in what time, and it can be told whether this leak explains it.",
        "explains": "It passes about {rate}: that explains the loss.",
        "more": "It passes about {rate}. The charge lost is {times} times more than this explains: keep searching.",
        "bubble-bad": "Write seconds as a number, for example 4.",
        "bubble-broken": "The figures for gas could not be loaded: ask again when there is a connection.",
        "second": "Looking for another leak: what was found counts as clean now.",
        "shares": "Shares: {list}",
        "copied": "Copied.",
        "not-copied": "Copying was refused. Hold the text and copy it by hand: {text}",
        "no-steps": "No check was made yet, so there is nothing to copy.",
        "sent-title": "Leak search",
        "proof-suspected": "Suspected",
        "proof-section": "Section",
        "proof-point": "Pinpointed",
        "proof-held": "Held",
        "held-yes": "Held",
        "held-no": "Leaked again",
        "held-unknown": "Not looked at since",
        "kind-mode": "Failure mode",
        "kind-technique": "Technique",
        "kind-symptom": "Symptom",
        "kind-component": "Place",
        "kind-refrigerant": "Refrigerant",
        "kind-bench": "Work bench",
        "kind-reading": "Reading list",
        "day": "day",
        "days": "days",
        "month": "month",
        "months": "months",
        "year": "year",
        "years": "years",
    }
)
"""What the script says, by key; `{slots}` are filled there."""


def page(book: Book, templates: Templates) -> Page:
    """Search."""
    found = book.groups["symptom"]
    entries = [
        {"key": e.key, "name": e.name, "n": len(found[e.key].cases)}
        for e in book.library.guide.symptoms.values()
    ]
    entries.sort(key=lambda e: (-int(str(e["n"])), str(e["name"])))
    lead = gettext("Type what you see: likely causes, the next check, and cases like it.")
    body = templates.render("search.html", "search/", symptoms=entries, says=list(SAYS.items()))
    head = templates.render("search_head.html", "search/")
    return Page("search/", gettext("Search"), lead, body, "search", head=head)
