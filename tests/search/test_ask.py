"""`leaklore find`: options, faults and what it prints."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from click.testing import CliRunner, Result

from analysis.builders import CASES, demo
from leaklore.cli import main
from leaklore.records import check as checking
from leaklore.records.check import CheckResult
from leaklore.search import ask
from leaklore.search.make import Made, make
from site_fixture import EPOCH

SAID = "R-410A ductless split: oil at the indoor flare, lost 3 kg in one year, ladder"


@pytest.fixture(scope="module")
def made() -> Made:
    """The demo's engine."""
    return make(demo())


@pytest.fixture
def quick(made: Made) -> Iterator[None]:
    """The demo read and made once for all runs; one test below goes without."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", EPOCH)
        patch.setattr(checking, "check", lambda _, **__: CheckResult(demo(), (), {}))
        patch.setattr(ask, "make", lambda _: made)
        yield


def _run(*words: str) -> Result:
    return CliRunner().invoke(main, ["find", *words, "--cases", str(CASES)])


def _json(*words: str) -> dict[str, Any]:
    result = _run(*words, "--json")
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_as_it_is_run(monkeypatch: pytest.MonkeyPatch, made: Made) -> None:
    """Read from the folder, nothing replaced: the shape of the answer, and the engine's own figures."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    told = _json(SAID)
    assert told.keys() == {
        "version", "understood", "words", "known", "causes", "checks", "minutes", "missed", "cases", "pages",
    }  # fmt: skip
    assert told["version"] == 1
    assert told["causes"][0].keys() == {"mode", "name", "probability", "word", "places"}
    assert told["checks"][0].keys() == {"technique", "at", "probability", "minutes", "why"}
    assert told["cases"][0].keys() == {"id", "title", "score", "why"}
    assert told["words"] == ["ladder"]
    asked = ask.question(demo(), SAID, {})
    assert asked.day is not None
    answer = made.engine.as_json(made.engine.find(SAID, asked.day))
    assert {k: v for k, v in told.items() if k != "version"} == json.loads(json.dumps(answer))


@pytest.mark.usefixtures("quick")
def test_text() -> None:
    """What was understood, five causes, six checks, eight cases, each with name and number."""
    result = _run(SAID)
    told = _json(SAID)
    assert result.exit_code == 0
    assert result.stderr == ""
    blocks = [b.splitlines() for b in result.stdout.strip().split("\n\n")]
    assert blocks[0][0].startswith("Understood: R-410A, ")
    assert f"at {demo().vocabulary.name('components', 'indoor-flare')}" in blocks[0][0]
    assert 'lost "3 kg"' in blocks[0][0]
    assert 'over "one year"' in blocks[0][0]
    assert blocks[0][1] == "Words searched: ladder"
    assert blocks[1][0] == (
        "Causes" if told["known"] else "Causes (these findings don't tell them apart yet)"
    )
    assert len(blocks[1]) == 6
    for line, cause in zip(blocks[1][1:], told["causes"], strict=False):
        at = demo().vocabulary.name("components", cause["places"][0]["at"])
        assert line == f"  {cause['probability']:5.0%}  {cause['name']} ({cause['word']}); {at}"
    assert blocks[2][0] == "Check next"
    assert len(blocks[2]) == 7
    assert f"{told['checks'][0]['minutes']:3.0f} min" in blocks[2][1]
    assert blocks[3] == ["Cases like it", *(f"  {c['id']}  {c['title']}" for c in told["cases"][:8])]
    assert len(blocks) == 4


@pytest.mark.usefixtures("quick")
def test_text_of_everything_that_is_understood() -> None:
    """Denied, ruled out, beside, clean at a place."""
    first = _run(
        "no oil film, not at the service port, not a flare leak, bubbles clean at the indoor coil, holds 4 kg"
    ).stdout
    line = first.splitlines()[0]
    name = demo().vocabulary.name
    for part in (
        f"no {name('symptoms', 'oil-film')}",
        f"not at {name('components', 'service-port')}",
        f"not {name('modes', 'flare-joint')}",
        f"{name('techniques', 'bubble-test')} at {name('components', 'indoor-coil')}: clean",
        'charge "4 kg"',
    ):
        assert part in line, line


@pytest.mark.usefixtures("quick")
def test_text_where_nothing_is_understood() -> None:
    """It says so, and that no case is like it."""
    told = _run("zzzzqqqq").stdout
    assert told.startswith(
        "Understood: nothing\nWords searched: zzzzqqqq\n\nCauses (these findings don't tell them apart yet)\n"
    )
    assert told.endswith("\nCases like it\n  none\n")


@pytest.mark.usefixtures("quick")
def test_clean_found_and_skip() -> None:
    """Clean lowers, found raises, skip only takes the check out; each may be given several times."""

    def flare(*words: str) -> float:
        return next(
            float(c["probability"]) for c in _json(SAID, *words)["causes"] if c["mode"] == "flare-joint"
        )

    at = "bubble-test@indoor-flare"
    base = flare()
    once = flare("--clean", at)
    assert (
        flare("--clean", at, "--clean", "visual@indoor-flare,outdoor-flare")
        < once
        < base
        < flare("--found", at)
    )
    first = _json(SAID)["checks"][0]
    skipped = _json(SAID, "--skip", f"{first['technique']}@{first['at']}")
    assert flare("--skip", f"{first['technique']}@{first['at']}") == base
    assert (first["technique"], first["at"]) not in [(c["technique"], c["at"]) for c in skipped["checks"]]


@pytest.mark.usefixtures("quick")
def test_only() -> None:
    """Every case found has the value; two facets both hold; `setting=` keeps cases without one."""
    by_id = demo().by_id
    found = _json(SAID, "--only", "proof=held", "--only", "refrigerant=R-410A")["cases"]
    assert found
    assert all(by_id[c["id"]].cause.proof == "held" for c in found)
    assert all(by_id[c["id"]].equipment.refrigerant == "R-410A" for c in found)
    without = _json(SAID, "--only", "setting=")["cases"]
    assert all(by_id[c["id"]].equipment.setting is None for c in without)


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize(("passes", "times", "more"), [("60 g/yr", 50, True), ("1500 g/yr", 2, False)])
def test_passes(passes: str, times: float, more: bool) -> None:
    """3 kg in a year: 50 times 60 g/yr asks for another leak, twice 1.5 kg/yr does not."""
    words = (SAID, "--found", "bubble-test@indoor-flare", "--passes", passes)
    told = _json(*words)
    assert told["second_leak"]["times"] == pytest.approx(times, rel=1e-3)
    assert told["second_leak"]["more"] is more
    last = _run(*words).stdout.splitlines()[-1]
    said = "look for another." if more else "it explains it."
    assert last == f"The loss is {told['second_leak']['times']:.2g} times what that leak passes: {said}"


@pytest.mark.usefixtures("quick")
def test_another_leak_is_looked_for_elsewhere(made: Made) -> None:
    """The find counts as clean from then on, and that it showed at the flare no longer draws the search there."""
    find = ("--found", "bubble-test@indoor-flare")

    def at_flare(told: dict[str, Any]) -> float:
        return sum(p["probability"] for c in told["causes"] for p in c["places"] if p["at"] == "indoor-flare")

    explained = _json(SAID, *find, "--passes", "1500 g/yr")
    more = _json(SAID, *find, "--passes", "60 g/yr")
    clean = _json(SAID, "--clean", "bubble-test@indoor-flare")
    assert explained["causes"] == _json(SAID, *find)["causes"]
    assert at_flare(more) < at_flare(clean) < at_flare(explained)
    adviser = made.engine.adviser
    asked = ask.question(demo(), SAID, {"found": ["bubble-test@indoor-flare"]})
    assert asked.day is not None
    known = made.engine.find(SAID, asked.day, asked.checks).evidence
    left = adviser.advise(adviser.without_find(known))
    assert [c["mode"] for c in more["causes"]] == [c.mode for c in left.causes]
    assert [(c["technique"], c["at"]) for c in more["checks"]] == [
        (c.technique, c.at) for c in left.plan.checks
    ]


@pytest.mark.usefixtures("quick")
def test_passes_without_a_loss_says_nothing() -> None:
    """No rate in the text: nothing to hold it against."""
    assert "second_leak" not in _json("oil at the indoor flare", "--passes", "60 g/yr")


WRITE = "write a technique and a place, as in visual@indoor-flare"
FAULTS = [
    (("--clean", "visual"), f'--clean "visual": {WRITE}'),
    (("--clean", "visual@"), f'--clean "visual@": {WRITE}'),
    (("--found", "@indoor-flare"), f'--found "@indoor-flare": {WRITE}'),
    (("--skip", "visual@,"), f'--skip "visual@,": {WRITE}'),
    (
        ("--clean", "visuel@indoor-flare"),
        '--clean "visuel@indoor-flare": "visuel" is not a technique; did you mean "visual"?',
    ),
    (
        ("--found", "visual@indoor-flair"),
        '--found "visual@indoor-flair": "indoor-flair" is not a component or place; did you mean "indoor-flare"?',
    ),
    (
        ("--skip", "visual@indoor-coil,indoor-flair"),
        '--skip "visual@indoor-coil,indoor-flair": "indoor-flair" is not a component or place; did you mean "indoor-flare"?',
    ),
    (
        ("--only", "colour=red"),
        '--only "colour=red": "colour" is none of mode, setting, refrigerant, branch, proof, held',
    ),
    (("--only", "held"), '--only "held": write a value, as in held=yes'),
    (
        ("--only", "mode=flare-jint"),
        '--only "mode=flare-jint": "flare-jint" is not a failure mode; did you mean "flare-joint"?',
    ),
    (
        ("--only", "refrigerant=R-222"),
        '--only "refrigerant=R-222": "R-222" is not a refrigerant; did you mean "R-22"?',
    ),
    (("--only", "proof=hold"), '--only "proof=hold": "hold" is no value of proof; did you mean "held"?'),
    (
        ("--only", "held=perhaps"),
        '--only "held=perhaps": "perhaps" is no value of held; write one of yes, no, unknown',
    ),
    (("--only", "mode="), '--only "mode=": write a value, as in held=yes'),
    (("--passes", "60"), '--passes: "60" has no unit; write for example "12 g/yr"'),
    (("--passes", "60 kg"), '--passes: "60 kg" is a mass, not a leak rate; write for example "12 g/yr"'),
    (("--passes", ""), '--passes: is blank; write for example "12 g/yr"'),
    (("--passes", "0 g/yr"), '--passes "0 g/yr": a leak passes something; write for example "60 g/yr"'),
]


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize(("words", "said"), FAULTS)
def test_faults_are_told_in_one_line(words: tuple[str, ...], said: str) -> None:
    """Exit status 1, nothing on standard output, no traceback; the same with --json."""
    for more in ((), ("--json",)):
        result = _run(SAID, *words, *more)
        assert result.exit_code == 1
        assert result.stdout == ""
        assert result.stderr == f"leaklore: {said}\n"
        assert isinstance(result.exception, SystemExit)


def test_a_library_that_cannot_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """It says what to run."""
    monkeypatch.setattr(checking, "check", lambda _, **__: CheckResult(None, (), {}))
    result = _run(SAID)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == "leaklore: the library can't be read; run `leaklore check` first\n"


def test_the_text_must_be_given() -> None:
    """The command says how it is used."""
    result = CliRunner().invoke(main, ["find"])
    assert result.exit_code == 2
    assert "Missing argument 'TEXT'" in result.stderr
