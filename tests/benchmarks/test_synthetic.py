"""The made-up libraries are right, repeatable and look like what the guide says."""

from __future__ import annotations

import hashlib
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path

import pytest
import synthetic

from leaklore.records.check import CheckResult, check

CASES, SEED = 300, 11


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("synthetic") / "library"
    synthetic.write_library(out, CASES, SEED)
    return out


@pytest.fixture(scope="module")
def checked(library: Path) -> CheckResult:
    return check(library, today=synthetic.LAST_LOOK)


def _digest(folder: Path) -> dict[str, str]:
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def test_checks_without_a_problem(checked: CheckResult) -> None:
    assert [str(p) for p in checked.problems] == []
    assert checked.library is not None
    assert len(checked.library.cases) == CASES


def test_another_seed_checks_too(tmp_path: Path) -> None:
    synthetic.write_library(tmp_path / "other", 100, 2)
    result = check(tmp_path / "other", today=synthetic.LAST_LOOK)
    assert [str(p) for p in result.problems] == []
    assert result.counts["cases"] == 100


def test_same_seed_same_bytes(library: Path, tmp_path: Path) -> None:
    synthetic.write_library(tmp_path / "again", CASES, SEED)
    assert _digest(tmp_path / "again") == _digest(library)
    synthetic.write_library(tmp_path / "seed", CASES, SEED + 1)
    assert _digest(tmp_path / "seed") != _digest(library)


def test_a_full_folder_is_left_alone(library: Path) -> None:
    before = _digest(library)
    with pytest.raises(ValueError, match="not empty"):
        synthetic.write_library(library, CASES, SEED)
    assert _digest(library) == before


def test_modes_come_as_often_as_the_guide_says(checked: CheckResult) -> None:
    assert checked.library is not None
    modes = checked.library.guide.modes
    # the ranking's judgement of the words
    often = {"very-common": 8, "common": 4, "occasional": 2, "rare": 1}
    weights = {m: often[e["how_common"]] for m, e in modes.items()}
    seen = Counter(c.cause.mode for c in checked.library.cases)
    expected = {m: CASES * w / sum(weights.values()) for m, w in weights.items()}
    chi2 = sum((seen[m] - e) ** 2 / e for m, e in expected.items())
    assert chi2 < 45.3, seen  # 20 degrees of freedom: 45.3 is passed by chance once in 1000 draws
    by_word, expected_word = Counter[str](), dict.fromkeys(often, 0.0)
    for mode, count in expected.items():
        by_word[modes[mode]["how_common"]] += seen[mode]
        expected_word[modes[mode]["how_common"]] += count
    chi2 = sum((by_word[w] - e) ** 2 / e for w, e in expected_word.items())
    assert chi2 < 16.3, by_word  # 3 degrees of freedom, once in 1000 draws


def test_components_fit_mode_and_kind(checked: CheckResult) -> None:
    assert checked.library is not None
    for case in checked.library.cases:
        for cause in (case.cause, *case.also_found):
            assert cause.component in synthetic.trade().parts(cause.mode, str(case.equipment.kind)), case.id


def test_symptoms_follow_the_judgement(checked: CheckResult) -> None:
    assert checked.library is not None
    # these depend on the kind of equipment or on each other
    apart = {"gas-in-water", "fixed-detector-alarm", "vent-line-trace", "sudden-loss", "repeat-top-up"}
    told, seen = Counter[str](), Counter[str]()
    for case in checked.library.cases:
        for word, symptoms in checked.library.guide.modes[case.cause.mode]["symptoms"].items():
            told[word] += len(set(symptoms) - apart)
            seen[word] += len((set(symptoms) - apart) & set(case.symptoms))
    for word, share in synthetic.SEEN.items():
        assert abs(seen[word] / told[word] - share) < 4 * (share * (1 - share) / told[word]) ** 0.5, (
            word,
            seen,
            told,
        )


def test_proofs_have_the_demos_shares(checked: CheckResult) -> None:
    assert checked.library is not None
    seen = Counter(c.cause.proof for c in checked.library.cases)
    for proof, share in synthetic.PROOF.items():
        assert abs(seen[proof] / CASES - share) < 4 * (share * (1 - share) / CASES) ** 0.5, seen


def test_a_search_has_clean_steps_and_misses(checked: CheckResult) -> None:
    assert checked.library is not None
    steps = [s for c in checked.library.cases for s in c.search]
    clean = sum(s.result == "clean" for s in steps) / len(steps)
    assert 0.2 < clean < 0.5  # the demo: 0.34
    inside = checked.library.guide.inside
    missed = [
        c.id
        for c in checked.library.cases
        for s in c.search
        if s.result == "clean" and any(c.cause.component in {a, *inside.get(a, ())} for a in s.at)
    ]
    assert len(missed) > 10


def test_stories_are_varied(library: Path, checked: CheckResult) -> None:
    assert checked.library is not None
    sizes = [len(c.story.split()) for c in checked.library.cases]
    assert min(sizes) >= 90
    assert max(sizes) <= 200
    assert len({c.title for c in checked.library.cases}) > 0.98 * CASES
    distinct, total = synthetic.distinct_words(library)
    assert 2500 < distinct < 6000
    assert total > 100 * CASES


def test_vocabulary_grows(tmp_path: Path, library: Path) -> None:
    synthetic.write_library(tmp_path / "more", 1200, SEED)
    few, some = synthetic.distinct_words(library)
    many, all_of_them = synthetic.distinct_words(tmp_path / "more")
    exponent = synthetic.log10(many / few) / synthetic.log10(all_of_them / some)
    assert 0.3 < exponent < 0.7  # Heaps' law: 0.4 to 0.6 in English text (from memory)


class _Balance(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.main = ""

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "main" in self.open:
            self.main += data


def test_pages_hold_the_text(library: Path, checked: CheckResult, tmp_path: Path) -> None:
    assert checked.library is not None
    assert synthetic.write_plain_pages(library, tmp_path / "docs") == CASES
    assert synthetic.write_html_pages(library, tmp_path / "html") == CASES
    for case in checked.library.cases:
        year = case.id.split("-")[1]
        plain = (tmp_path / "docs" / year / f"{case.id}.md").read_text()
        page = _Balance()
        page.feed((tmp_path / "html" / year / f"{case.id}.html").read_text())
        assert page.open == []
        assert plain.startswith("# ")
        assert "[[" not in plain
        assert "[[" not in page.main
        assert plain.count("\n| ") == len(case.search) + 1
        for sentence in case.story.split("\n\n")[0].split(". ")[:2]:
            if "[[" not in sentence:
                assert sentence.strip(".\n") in plain
                assert sentence.strip(".\n") in page.main
        for text in (case.id, checked.library.guide.modes[case.cause.mode]["name"]):
            assert text in plain
            assert text in page.main


def test_demo_makes_pages_too(tmp_path: Path) -> None:
    assert synthetic.write_plain_pages(synthetic.DEMO, tmp_path / "docs") > 200
