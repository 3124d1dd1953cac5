"""How good the search is, against simple ways and independent libraries, on a company's own records.

    .venv/bin/python tests/evaluation/evaluate.py [--cases cases] [--judged tests/search/judged]

Causes: every proven case ranked without itself. Retrieval: judged queries, each a text with graded cases. It ends
with status 1 and a sentence where the search is not ahead of every baseline. Another company gives its own
`--cases`; its own judged queries are YAML lists of {q, want, judged: {case number: grade 1 to 3}}.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bm25s
import numpy as np
import yaml
from rich.console import Console
from rich.table import Table
from sklearn.naive_bayes import BernoulliNB, CategoricalNB, MultinomialNB

from leaklore.analysis import causes, evaluate
from leaklore.analysis.causes import LeftOut
from leaklore.analysis.evaluate import Scores, scores
from leaklore.records.check import check
from leaklore.records.library import Library
from leaklore.search.make import make

TOP = 10
RELEVANT = 2
"""Grade from which on a case counts as relevant for recall."""
WORST = 10


def gain(grade: int) -> int:
    """Exponential gain 2^grade - 1."""
    return 2**grade - 1


def dcg(grades: Sequence[int], top: int = TOP) -> float:
    """Discounted cumulative gain: sum of gain / log2(rank + 1).

    Järvelin and Kekäläinen, ACM TOIS 20, 2002, with the exponential gain of Burges et al., ICML 2005 (from memory).
    """
    return float(sum(gain(g) / np.log2(rank + 1) for rank, g in enumerate(grades[:top], 1)))


def ndcg(found: Sequence[str], judged: Mapping[str, int], top: int = TOP) -> float:
    """DCG of the cases found, in their order, over that of the best order of all judged ones."""
    best = dcg(sorted(judged.values(), reverse=True), top)
    return dcg([judged.get(case, 0) for case in found], top) / best if best else 0.0


def recall(found: Sequence[str], judged: Mapping[str, int], top: int = TOP) -> float | None:
    """Share of the relevant cases that are among the first `top`; None where none is relevant.

    More than `top` relevant cases can't all be there: then `top` of them are the whole.
    """
    relevant = {case for case, grade in judged.items() if grade >= RELEVANT}
    if not relevant:
        return None
    return len(relevant & set(found[:top])) / min(len(relevant), top)


@dataclass(frozen=True)
class Query:
    """A judged query."""

    q: str
    judged: Mapping[str, int]


@dataclass(frozen=True)
class Retrieval:
    """Means over the queries of one way to search, with what it found and its nDCG query by query."""

    name: str
    ndcg: float
    recall: float
    found: tuple[tuple[str, ...], ...]
    each: tuple[float, ...]


Find = Callable[[str], Sequence[str]]


def queries(folder: Path, library: Library) -> list[Query]:
    """Judged queries; cases that this library doesn't have are left out, and queries without any."""
    known = {c.id for c in library.active}
    out = []
    for file in sorted(folder.glob("*.yaml")):
        for entry in yaml.safe_load(file.read_text("utf-8")):
            judged = {str(case): int(grade) for case, grade in entry["judged"].items() if case in known}
            if any(judged.values()):
                out.append(Query(str(entry["q"]), judged))
    return out


def measure(name: str, find: Find, asked: Sequence[Query]) -> Retrieval:
    """One way to search over all queries."""
    found = [tuple(find(query.q))[:TOP] for query in asked]
    each = [ndcg(f, query.judged) for f, query in zip(found, asked, strict=True)]
    shares = [recall(f, query.judged) for f, query in zip(found, asked, strict=True)]
    known = [share for share in shares if share is not None]
    return Retrieval(name, float(np.mean(each)), float(np.mean(known)), tuple(found), tuple(each))


def ours(library: Library, today: dt.date) -> Find:
    """The search of the site."""
    engine = make(library).engine
    return lambda q: [engine.index.lines[hit.number][0] for hit in engine.find(q, today).cases]


def words_alone(library: Library, stopwords: str = "", stemmer: Any = None) -> Find:
    """bm25s with its defaults over title, story, lesson and advice of the same cases."""
    cases = library.active
    parts = [[c.title, c.story, c.lesson or "", c.advice or ""] for c in cases]

    def tokens(texts: list[str]) -> Any:
        return bm25s.tokenize(
            texts,
            lower=True,
            stopwords=stopwords or None,
            stemmer=stemmer,
            return_ids=False,
            show_progress=False,
        )

    index = bm25s.BM25()
    index.index(tokens([" ".join(p) for p in parts]), show_progress=False)

    def find(q: str) -> list[str]:
        asked = tokens([q])[0]
        got = index.get_scores(asked) if asked else np.zeros(len(cases))
        best = np.argsort(-got, kind="stable")[:TOP]
        return [cases[i].id for i in best if got[i] > 0]

    return find


def stemmer() -> Any:
    """The English Snowball stemmer, None where PyStemmer is not installed."""
    try:
        import Stemmer
    except ImportError:
        return None
    return Stemmer.Stemmer("english")


def retrieval(library: Library, asked: Sequence[Query], today: dt.date) -> list[Retrieval]:
    """Ours first, then every baseline."""
    out = [
        measure("Leaklore", ours(library, today), asked),
        measure("bm25s", words_alone(library), asked),
        measure("bm25s, English stopwords", words_alone(library, "english"), asked),
    ]
    snowball = stemmer()
    if snowball is not None:
        out.append(
            measure("bm25s, stopwords and Snowball stems", words_alone(library, "english", snowball), asked)
        )
    return out


def binary(counts: causes.Counts) -> np.ndarray[Any, np.dtype[np.float64]]:
    """[case, finding] 1 where the case has it."""
    x = np.zeros((len(counts.rows), len(counts.names)))
    for i, row in enumerate(counts.rows):
        x[i, list(row)] = 1
    return x


def categories(counts: causes.Counts) -> np.ndarray[Any, np.dtype[np.float64]]:
    """[case, feature] with a class number each: a symptom seen 1, absent 2, not noted 0; likewise the others."""
    single = ("setting", "kind", "refrigerant", "age", "rate", "share")
    names = sorted(
        {(g, "") if g in single else ("symptom", k) if g == "absent" else (g, k) for g, k in counts.names}
    )
    at = {name: i for i, name in enumerate(names)}
    values: dict[str, dict[str, int]] = {group: {} for group in single}
    x = np.zeros((len(counts.rows), len(names)))
    for i, row in enumerate(counts.rows):
        for g, k in (counts.names[f] for f in row):
            if g in single:
                x[i, at[g, ""]] = values[g].setdefault(k, len(values[g]) + 1)
            elif g == "absent":
                x[i, at["symptom", k]] = 2
            else:
                x[i, at[g, k]] = 1
    return x


def peers(library: Library, left: LeftOut) -> dict[str, Any]:
    """scikit-learn's naive Bayes on the same findings, each case left out: name -> probabilities."""
    counts = causes.count(library.counted, library.guide)
    truth = np.array(counts.mode_of)
    modes = len(counts.modes)
    sets = {
        "BernoulliNB": binary(counts),
        "MultinomialNB": binary(counts),
        "CategoricalNB": categories(counts),
    }
    out = {}
    for name, x in sets.items():
        for alpha in (0.5, 1.0):
            p = np.zeros((len(left.of), modes))
            for k, i in enumerate(left.of):
                rest = np.arange(len(x)) != i
                if name == "CategoricalNB":
                    model = CategoricalNB(alpha=alpha, min_categories=x.max(axis=0).astype(int) + 1)
                else:
                    model = (BernoulliNB if name == "BernoulliNB" else MultinomialNB)(alpha=alpha)
                model.fit(x[rest], truth[rest])
                p[k, model.classes_] = model.predict_proba(x[[i]])[0]
            out[f"{name}, alpha {alpha:g}"] = p
    return out


def peer_words(library: Library, left: LeftOut) -> Any:
    """Words alone with bm25s in place of our own BM25: probabilities."""
    counts = causes.count(library.counted, library.guide)
    index = bm25s.BM25(k1=1.2, b=0.75)
    index.index([evaluate.plain_words(evaluate.prose(c)) for c in library.counted], show_progress=False)
    best = np.full((len(left.of), len(counts.modes)), -np.inf)
    for k, i in enumerate(left.of):
        asked = evaluate.plain_words(evaluate.asked(library.counted[i], library))
        for j, score in enumerate(index.get_scores(asked) if asked else ()):
            if j != i:
                m = counts.mode_of[j]
                best[k, m] = max(best[k, m], float(score))
    return evaluate.by_guesses(best, left.truth)


def ranking(library: Library, left: LeftOut) -> list[Scores]:
    """Scores of every way to rank causes, ours first."""
    p = {**evaluate.rankings(library, left), "bm25s, words alone": peer_words(library, left)}
    p |= peers(library, left)
    return [scores(name, each, left.truth) for name, each in p.items()]


def behind(ranked: Sequence[Scores], found: Sequence[Retrieval]) -> list[str]:
    """Sentences on where the search is not ahead; empty where it is ahead of all."""
    out = []

    def hold(what: str, own: float, others: Mapping[str, float], less: bool = False) -> None:
        best = (min if less else max)(others, key=others.__getitem__)
        if not (own < others[best] if less else own > others[best]):
            out.append(f"{what}: {own:.3f}, and {best} has {others[best]:.3f}.")

    if ranked:
        own, *rest = ranked
        hold("Log loss", own.log_loss, {s.name: s.log_loss for s in rest}, less=True)
        hold(
            "Right cause among the first three",
            own.top3.value if own.top3 else 0.0,
            {s.name: s.top3.value if s.top3 else 0.0 for s in rest},
        )
    if found:
        mine, *others = found
        hold(f"nDCG@{TOP}", mine.ndcg, {r.name: r.ndcg for r in others})
        hold(f"Recall@{TOP}", mine.recall, {r.name: r.recall for r in others})
    return out


def better_words(found: Sequence[Retrieval]) -> Retrieval:
    """The baseline of the highest nDCG."""
    return max(found[1:], key=lambda r: r.ndcg)


def worst(asked: Sequence[Query], found: Sequence[Retrieval], most: int = WORST) -> list[tuple[float, int]]:
    """(difference of nDCG, query) where words alone beat us most."""
    base = better_words(found)
    gaps = [(a - b, i) for i, (a, b) in enumerate(zip(found[0].each, base.each, strict=True))]
    return [gap for gap in sorted(gaps)[:most] if gap[0] < 0]


def _table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    table = Table(title=title, title_justify="left")
    for i, name in enumerate(head):
        table.add_column(name, justify="left" if i == 0 else "right")
    for row in rows:
        table.add_row(*row)
    return table


def _share(found: Any) -> str:
    return f"{found.value:.1%} ({found.low:.0%} to {found.high:.0%})" if found else ""


def tell(library: Library, judged: Path, today: dt.date, console: Console) -> list[str]:
    """Prints all tables; gives the sentences on where the search is not ahead."""
    trust = evaluate.trust(library)
    ranked = ranking(library, trust.left_out) if trust.left_out.of else []
    console.print(
        _table(
            f"Causes: {len(trust.left_out.of)} proven cases, each left out",
            ("Way to rank", "First", "First three", "Log loss", "Brier"),
            [(s.name, _share(s.top1), _share(s.top3), f"{s.log_loss:.3f}", f"{s.brier:.3f}") for s in ranked],
        )
    )
    console.print(
        _table(
            "Percentages said and come true",
            ("Class", "Count", "Said", "Came true", "95 %"),
            [
                (
                    f"{r.low:.0%} to {r.high:.0%}",
                    str(r.true.n),
                    f"{r.said:.1%}",
                    f"{r.true.value:.1%}",
                    f"{r.true.low:.1%} to {r.true.high:.1%}",
                )
                for r in trust.reliability
            ],
        )
    )
    took = trust.took
    console.print(
        _table(
            f"Minutes to find, simulated on {trust.searched} cases"
            + (f"; crews really took {took.median:.0f} (median)" if took else ""),
            ("Order", "Median", "95 %", "Mean", "In 30", "In 60"),
            [
                (
                    s.name,
                    f"{s.minutes.median:.0f}",
                    f"{s.minutes.low:.0f} to {s.minutes.high:.0f}"
                    if s.minutes.low and s.minutes.high
                    else "",
                    f"{s.mean:.0f}",
                    f"{s.within_30:.0%}",
                    f"{s.within_60:.0%}",
                )
                for s in trust.searches
                if s.minutes
            ],
        )
    )
    asked = queries(judged, library)
    found = retrieval(library, asked, today) if asked else []
    console.print(
        _table(
            f"Retrieval: {len(asked)} judged queries",
            ("Way to search", f"nDCG@{TOP}", f"Recall@{TOP}"),
            [(r.name, f"{r.ndcg:.3f}", f"{r.recall:.3f}") for r in found],
        )
    )
    if stemmer() is None:
        console.print("PyStemmer is not installed: no row with stems.")
    if found:
        base = better_words(found)
        console.print(
            _table(
                f"Where {base.name} beats the search most",
                ("Query", "Ours", "Words", "Ours found first", "Words found first"),
                [
                    (
                        asked[i].q,
                        f"{found[0].each[i]:.2f}",
                        f"{base.each[i]:.2f}",
                        " ".join(f"{c}:{asked[i].judged.get(c, 0)}" for c in found[0].found[i][:3]),
                        " ".join(f"{c}:{asked[i].judged.get(c, 0)}" for c in base.found[i][:3]),
                    )
                    for _, i in worst(asked, found)
                ],
            )
        )
    return behind(ranked, found)


def main(arguments: Sequence[str] | None = None) -> int:
    """The command."""
    root = Path(__file__).resolve().parents[2]
    parser = argparse.ArgumentParser(description="Measures the search on a company's own records.")
    parser.add_argument("--cases", type=Path, default=root / "cases")
    parser.add_argument("--judged", type=Path, default=root / "tests" / "search" / "judged")
    given = parser.parse_args(arguments)
    library = check(given.cases).library
    if library is None:
        print(f"{given.cases}: the records have errors; `leaklore check` names them.", file=sys.stderr)
        return 1
    lines = tell(library, given.judged, dt.date.today(), Console(width=None if sys.stdout.isatty() else 150))
    for line in lines:
        print(f"Not ahead. {line}")
    if not lines:
        print("Ahead of every baseline that could be measured.")
    return 1 if lines else 0


if __name__ == "__main__":
    sys.exit(main())
