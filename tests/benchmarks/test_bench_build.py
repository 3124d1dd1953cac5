"""The parts of the build's benchmark that measure nothing: text for the peers, memory of processes, edits, options."""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import bench_build
import build_edits
import build_parts
import build_peers
import build_runs
import pytest
import synthetic
import yaml
from lxml import html

from leaklore.records.check import check

PAGE = """<html><body><header>Menu</header><main><h1>Oil at a <em>flare</em></h1><script>no()</script>
<p>A sum of 3 &lt; 4 &amp; [x]<br>on two lines.</p><svg><text>drawn</text></svg>
<ul><li>one</li><li><p>two</p> and <b>more</b><ul><li>inner</li></ul>last</li></ul>
<table><tr><th>Place</th><td>coil</td><td><a href="#">12</a> min</td></tr></table>
<div>loose <section><h2>Story</h2>text</section> tail</div></main><footer>Foot</footer></body></html>"""


def test_markdown_has_each_piece_of_text_once() -> None:
    found = build_peers.markdown(html.fromstring(PAGE).find(".//main"))
    assert found.strip().split("\n\n") == [
        "# Oil at a flare", "A sum of 3 &lt; 4 &amp; \\[x\\]; on two lines.", "- one", "two", "and more", "- inner",
        "last", "- Place; coil; 12 min", "loose", "## Story", "text", "tail",
    ]  # fmt: skip


def test_markdown_has_the_words_that_the_page_has() -> None:
    main = html.fromstring(PAGE).find(".//main")
    found = build_peers.markdown(main)
    for gone in main.xpath(".//script | .//svg"):
        gone.drop_tree()
    plain = found.replace("&lt;", "<").replace("&amp;", "&").replace("\\", "")
    for sign in "#-;":
        plain = plain.replace(sign, " ")
    assert sorted(plain.split()) == sorted(" ".join(main.itertext()).split())


def test_every_page_has_a_file_of_its_own_for_each_peer() -> None:
    pages = [
        "404.html",
        "index.html",
        "cases/index.html",
        "cases/A-1/index.html",
        "offline.html",
        "offline/index.html",
    ]
    found = {page: (mkdocs, hugo) for page, mkdocs, hugo in build_peers.names(pages)}
    assert found["index.html"] == ("index.md", "_index.md")
    assert found["cases/index.html"] == ("cases/index.md", "cases/_index.md")
    assert found["cases/A-1/index.html"] == ("cases/A-1/index.md", "cases/A-1.md")
    assert found["404.html"] == ("404-html.md", "404-html.md")
    for peer in (0, 1):
        assert len({names[peer] for names in found.values()}) == len(pages)


def test_pages_are_written_for_both_peers(tmp_path: Path) -> None:
    site = tmp_path / "site"
    (site / "cases").mkdir(parents=True)
    (site / "index.html").write_text(PAGE, "utf-8")
    (site / "cases" / "index.html").write_text(PAGE.replace("flare", "naïve joint"), "utf-8")
    (site / "bare.html").write_text("<html><body>no main</body></html>", "utf-8")
    material, hugo = tmp_path / "material", tmp_path / "hugo"
    assert build_peers.prepare(site, material, hugo) == 2
    text = (material / "docs" / "cases" / "index.md").read_text("utf-8")
    assert "naïve joint" in text
    assert (hugo / "content" / "cases.md").read_text("utf-8") == text
    assert yaml.safe_load((material / "mkdocs.yml").read_text("utf-8"))["nav"] == ["index.md"]


CHILD = """import subprocess, sys
held = bytearray({size}); held[::4096] = b"x" * len(held[::4096])
below = {below} and subprocess.Popen([sys.executable, "-c", sys.argv[1]], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
if below: below.stdout.readline()
print("ready", flush=True); sys.stdin.read()"""
HELD = 60 * 2**20


@pytest.fixture
def parent() -> Iterator[subprocess.Popen[bytes]]:
    """A process that holds 60 MiB and has one below it that does so, too."""
    inner = CHILD.format(size=HELD, below=False)
    process = subprocess.Popen(
        [sys.executable, "-c", CHILD.format(size=HELD, below=True), inner], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )  # fmt: skip
    assert process.stdout
    assert process.stdout.readline() == b"ready\n"
    yield process
    process.communicate()


def test_memory_is_that_of_all_processes(parent: subprocess.Popen[bytes]) -> None:
    assert len(build_runs.tree(parent.pid)) == 2
    assert 2 * HELD < build_runs.tree_memory(parent.pid) < 2 * HELD + 60 * 2**20


def test_memory_of_a_process_that_is_gone_is_nothing() -> None:
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    assert build_runs.tree_memory(process.pid) == 0


def test_a_run_tells_time_cpu_and_words(tmp_path: Path) -> None:
    words = "import time\nend = time.process_time() + 0.3\nwhile time.process_time() < end: pass\nheld = b'x' * 2**26\n"
    done = build_runs.run("python", "-c", words + "time.sleep(0.5); print('said')", cwd=tmp_path, watch=True)
    assert done.out == "said\n"
    assert done.cpu >= 0.3
    assert done.seconds >= 0.8
    assert done.peak > 2**26


def test_a_run_that_fails_says_why(tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match="what was wrong"):
        build_runs.run("python", "-c", "raise SystemExit('what was wrong')", cwd=tmp_path)


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("edits") / "cases"
    synthetic.write_library(folder, 60, 3)
    return folder


def test_edits_leave_the_library_right(library: Path) -> None:
    cases = {f: yaml.safe_load(f.read_text("utf-8")) for f in (library / "records").glob("*/*.yaml")}
    for planned in build_edits.edits(library, 2):
        assert len({file for file, _ in planned.values()}) == 3
        for kind, (file, text) in planned.items():
            after, before = yaml.safe_load(text), cases.get(file)
            if kind == build_edits.NEW:
                assert before is None
                assert after["id"] == file.stem
            else:
                assert before is not None
                changed = {key for key in after if after[key] != before[key]}
                assert changed == ({"story"} if kind == build_edits.STORY else {"cause", "symptoms"})
            file.write_text(text, "utf-8")
    result = check(library, today=synthetic.LAST_LOOK)
    assert [str(p) for p in result.problems if p.severity == "error"] == []
    assert result.counts["cases"] == 62


def test_a_wrong_record_is_seen(library: Path) -> None:
    file = min((library / "records").glob("*/*.yaml"))
    text = file.read_text("utf-8")
    assert build_edits.is_right(library, file, text)
    assert not build_edits.is_right(
        library, file, text.replace("symptoms: [", "symptoms: [no-such-symptom, ")
    )


def test_folders_that_differ_are_told_file_by_file(tmp_path: Path) -> None:
    for name, text in (("a", "one"), ("b", "two")):
        (tmp_path / name / "deep").mkdir(parents=True)
        (tmp_path / name / "same").write_text("same")
        (tmp_path / name / "deep" / "changed").write_text(text)
    (tmp_path / "a" / "alone").touch()
    assert build_edits.differing(tmp_path / "a", tmp_path / "b") == ["alone", "deep/changed"]
    assert build_edits.differing(tmp_path / "a", tmp_path / "a") == []


def test_slope_is_the_power() -> None:
    sizes = [1000, 3000, 10000, 30000]
    assert build_parts.slope(sizes, [0.5 * n**1.5 for n in sizes]) == pytest.approx(1.5)


def test_costs_of_importing_are_summed_by_package() -> None:
    said = "import time: self [us] | cumulative | imported package\nimport time:       200 |        200 |   click.core\n"
    said += (
        "import time:      1500 |       1700 | leaklore.cli\nimport time:       100 |        100 | click\n"
    )
    assert build_parts.importing(said) == [("leaklore", 1.5), ("click", pytest.approx(0.3))]


def test_options() -> None:
    assert bench_build.options(["--parts", "growth,full"]).parts == ("full", "growth")
    assert set(bench_build.options([]).parts) == set(bench_build.PARTS)
    with pytest.raises(argparse.ArgumentTypeError, match="no part"):
        bench_build._parts("full,half")


def test_ratios_are_of_the_same_round() -> None:
    def took(*seconds: float) -> list[build_runs.Run]:
        return [build_runs.Run(s, s, 0, 0, "") for s in seconds]

    assert build_runs.ratio(took(1, 3), took(2, 12)) == [0.5, 0.25]
