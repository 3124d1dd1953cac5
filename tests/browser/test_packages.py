"""Packages run in the browser against stand-ins of our own: an xAPI endpoint with a token service on another host, and
a window with a SCORM 1.2 API.

What the stand-ins ask of a package is written after cmi5_spec.md (AICC/CMI-5_Spec_Current, quartz; sections named below),
xAPI 1.0.3 and the SCORM 1.2 run-time environment (both from memory).
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Frame, Page, expect

from chromium import listening
from learn.courses import course, library

from .conftest import DESK, PHONE, USUAL, WATCH, WIDE, Complaints

TYPES = {
    ".html": "text/html",
    ".js": "application/x-javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".json": "application/json",
}
VERBS = "http://adlnet.gov/expapi/verbs/"
CATEGORY = "https://w3id.org/xapi/cmi5/context/categories/"
SESSION = "https://w3id.org/xapi/cmi5/context/extensions/sessionid"
MASTERY = "https://w3id.org/xapi/cmi5/context/extensions/masteryscore"
ACTOR = {"objectType": "Agent", "account": {"homePage": "https://lms.example", "name": "4711"}}
ACTIVITY = "https://lms.example/activity/9"
QUESTIONS = "questions:detectors"


@pytest.fixture(scope="session")
def cases(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library with the list `course`."""
    return library(tmp_path_factory.mktemp("packages"))


@dataclass
class Course:
    """A host that holds an unpacked package: files only, no folder has an index."""

    files: dict[str, bytes]
    missing: list[str] = field(default_factory=list)

    def handler(self) -> type[BaseHTTPRequestHandler]:
        """What answers."""
        course = self

        class Here(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                path = urlsplit(self.path).path.lstrip("/")
                data = course.files.get(path)
                if data is None:
                    course.missing.append(path)
                self.send_response(200 if data is not None else 404)
                self.send_header("Content-Type", TYPES.get(Path(path).suffix, "text/plain"))
                self.end_headers()
                self.wfile.write(data or b"")

            def log_message(self, *_: object) -> None:
                """Quiet."""

        return Here


@dataclass
class Lms:
    """The other host: gives one token, holds state documents, records statements."""

    launch: dict[str, Any]
    registration: str = field(default_factory=lambda: str(uuid.uuid4()))
    token: str = "c2VjcmV0OnRva2Vu"
    fetched: int = 0
    statements: list[dict[str, Any]] = field(default_factory=list)
    documents: dict[tuple[str, str], Any] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    refuse: int = 0
    session: str = ""

    def __post_init__(self) -> None:
        self.begin()

    def begin(self) -> None:
        """A new launch in the same registration."""
        self.session = str(uuid.uuid4())
        self.fetched = 0
        template = {
            "contextActivities": {"grouping": [{"objectType": "Activity", "id": "urn:publisher:1"}]},
            "extensions": {SESSION: self.session, "https://lms.example/more": "kept"},
        }
        self.documents["LMS.LaunchData", self.registration] = {"contextTemplate": template, **self.launch}

    def address(self, at: str, item: str, host: str) -> str:
        """The launch of section 8.1, at the package's host."""
        asked = {
            "activityId": ACTIVITY,
            "registration": self.registration,
            "actor": json.dumps(ACTOR),
            "fetch": f"{host}fetch?k=1",
            "endpoint": f"{host}xapi",
        }
        return f"{at}index.html?item={item}&{urlencode(asked)}"

    def handler(self) -> type[BaseHTTPRequestHandler]:
        """What answers."""
        lms = self

        class Here(BaseHTTPRequestHandler):
            def answer(self, status: int, told: Any = None) -> None:
                data = b"" if told is None else json.dumps(told).encode()
                self.send_response(status)
                self.send_header("Access-Control-Allow-Origin", "*")
                self.send_header(
                    "Access-Control-Allow-Headers", "authorization, content-type, x-experience-api-version"
                )
                self.send_header("Access-Control-Allow-Methods", "GET, PUT, POST, OPTIONS")
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(data)))
                self.end_headers()
                self.wfile.write(data)

            def do_OPTIONS(self) -> None:
                self.answer(204)

            def allowed(self) -> bool:
                good = (
                    self.headers["Authorization"] == f"Basic {lms.token}"
                    and self.headers["X-Experience-API-Version"] == "1.0.3"
                )
                if not good:
                    lms.faults.append(f"{self.command} {self.path} without its headers")
                    self.answer(401)
                return good

            def body(self) -> Any:
                return json.loads(self.rfile.read(int(self.headers["Content-Length"])))

            def asked(self) -> dict[str, str]:
                return {k: v[0] for k, v in parse_qs(urlsplit(self.path).query).items()}

            def key(self) -> tuple[str, str]:
                asked = self.asked()
                if (asked["activityId"], json.loads(asked["agent"])) != (ACTIVITY, ACTOR):
                    lms.faults.append(f"a document of somebody else: {self.path}")
                return asked["stateId"], asked["registration"]

            def do_POST(self) -> None:
                path = urlsplit(self.path).path
                if path == "/fetch":
                    lms.fetched += 1
                    self.answer(
                        200,
                        {"auth-token": lms.token}
                        if lms.fetched == 1
                        else {"error-code": "1", "error-text": "used"},
                    )
                elif path == "/xapi/statements" and self.allowed():
                    told = self.body()
                    if lms.refuse:
                        lms.refuse -= 1
                        self.answer(500)
                        return
                    lms.statements += told if isinstance(told, list) else [told]
                    self.answer(200, [s["id"] for s in told])

            def do_GET(self) -> None:
                if not self.allowed():
                    return
                path = urlsplit(self.path).path
                if path == "/xapi/agents/profile":
                    lms.documents["profile", self.asked()["profileId"]] = True
                    self.answer(404)
                    return
                found = lms.documents.get(self.key())
                self.answer(404 if found is None else 200, found)

            def do_PUT(self) -> None:
                if not self.allowed():
                    return
                key = self.key()
                if key[0].startswith("LMS."):
                    lms.faults.append("the launch data may not be changed (section 10)")
                lms.documents[key] = self.body()
                self.answer(204)

            def log_message(self, *_: object) -> None:
                """Quiet."""

        return Here

    def ended(self) -> bool:
        """Whether this session has been terminated."""
        verbs = {
            s["verb"]["id"] for s in self.statements if s["context"]["extensions"][SESSION] == self.session
        }
        return f"{VERBS}terminated" in verbs

    def verbs(self) -> list[str]:
        """Verbs of this session in their order, each statement judged by the rules."""
        mine = [s for s in self.statements if s["context"]["extensions"][SESSION] == self.session]
        for said in mine:
            judge(said, self)
        stamps = [s["timestamp"] for s in mine]
        assert stamps == sorted(stamps)
        assert len({s["id"] for s in self.statements}) == len(self.statements)
        assert self.faults == []
        return [s["verb"]["id"].removeprefix(VERBS) for s in mine]


def judge(said: dict[str, Any], lms: Lms) -> None:
    """One statement by sections 9.1 to 9.7."""
    verb = said["verb"]["id"].removeprefix(VERBS)
    assert verb in ("initialized", "completed", "passed", "failed", "terminated")
    assert str(uuid.UUID(said["id"])) == said["id"]
    assert said["actor"] == ACTOR
    assert said["object"]["id"] == ACTIVITY
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d+Z", said["timestamp"])
    context = said["context"]
    assert context["registration"] == lms.registration
    template = lms.documents["LMS.LaunchData", lms.registration]["contextTemplate"]
    assert context["contextActivities"]["grouping"] == template["contextActivities"]["grouping"]
    assert context["extensions"].items() >= template["extensions"].items()
    categories = [a["id"] for a in context["contextActivities"]["category"]]
    judged = verb in ("completed", "passed", "failed")
    assert categories == [f"{CATEGORY}cmi5", *([f"{CATEGORY}moveon"] if judged else [])]
    result = said.get("result", {})
    assert result.get("completion") is (True if verb == "completed" else None)
    assert result.get("success") is ({"passed": True, "failed": False}.get(verb))
    assert ("duration" in result) == (verb != "initialized")
    if "duration" in result:
        assert re.fullmatch(r"PT\d+\.\d\dS", result["duration"])
    assert ("score" in result) == (verb in ("passed", "failed"))
    if "score" in result:
        score, mastery = result["score"], lms.launch.get("masteryScore")
        assert score["min"] <= score["raw"] <= score["max"]
        assert score["scaled"] == pytest.approx(score["raw"] / score["max"], abs=1e-4)
        assert (score["scaled"] >= mastery) == (verb == "passed")
        assert context["extensions"][MASTERY] == mastery
    else:
        assert MASTERY not in context["extensions"]


@pytest.fixture(scope="session")
def units(cases: Path) -> dict[str, bytes]:
    """The cmi5 package, unpacked."""
    return course(cases, "cmi5")


@pytest.fixture(scope="session")
def objects(cases: Path) -> dict[str, bytes]:
    """The SCORM package, unpacked."""
    return course(cases, "scorm12")


@pytest.fixture
def window(browser: Browser) -> Iterator[Page]:
    """A page of a context of its own; what the browser says against it fails the test."""
    context = browser.new_context(**{**USUAL, "viewport": DESK})
    context.set_default_timeout(10_000)
    context.add_init_script(WATCH)
    page = context.new_page()
    complaints = Complaints()
    complaints.listen(page)
    page.complaints = complaints  # type: ignore[attr-defined]
    yield page
    context.close()


def quiet(page: Page, *but: str) -> None:
    """The browser said nothing against the page, except what holds one of these."""
    said: list[str] = page.complaints  # type: ignore[attr-defined]
    assert [s for s in said if not any(b in s for b in but)] == []


LOADED = """() => {
  const frame = document.querySelector("[data-frame]");
  return frame.contentDocument?.readyState === "complete" && frame.contentWindow.location.href === frame.src;
}"""


def item(page: Page) -> Frame:
    """The frame of the item that was opened last, loaded and listened to."""
    frame = next(f for f in page.frames if f.name == "item")
    assert frame.parent_frame is not None
    frame.parent_frame.wait_for_function(LOADED)
    frame.wait_for_selector("main")
    return frame


def told(frame: Frame, key: str, score: int, of: int, *, once: bool = False) -> Any:
    """What an exercise says at its end, and which try before it hears of."""
    return frame.evaluate(
        "detail => { document.dispatchEvent(new CustomEvent('leaklore-done', { detail })); return detail.first; }",
        {"key": key, "score": score, "of": of, "minutes": 2, "once": once},
    )


def answered(frame: Frame) -> tuple[int, int]:
    """Answers all questions by their first choice; returns the score that the page shows."""
    frame.wait_for_selector("[data-choices] li")
    for _ in range(20):
        if frame.is_visible("[data-check]"):
            frame.check("[data-choices] li >> nth=0 >> input")
            frame.click("[data-check]")
        else:
            frame.click("[data-choices] li >> nth=0 >> button")
        frame.click("[data-next]")
        if frame.is_visible("[data-end]"):
            break
    assert "tomorrow" not in frame.inner_text("[data-end]"), "a package keeps no question that comes back"
    found = re.match(r"(\d+) of (\d+) right", frame.inner_text("[data-score]"))
    assert found is not None
    return int(found[1]), int(found[2])


@pytest.fixture
def lms() -> Lms:
    """A system that launches in the normal mode with a mastery score of 0.7."""
    return Lms({"launchMode": "Normal", "moveOn": "CompletedAndPassed", "masteryScore": 0.7})


@pytest.fixture
def hosts(units: dict[str, bytes], lms: Lms) -> Iterator[tuple[Course, str, str]]:
    """The package's host and the system's."""
    held = Course(units)
    with listening(held.handler()) as at, listening(lms.handler()) as system:
        yield held, at, system


def launched(page: Page, lms: Lms, hosts: tuple[Course, str, str], key: str) -> None:
    """Starts a unit and waits until it has begun."""
    page.goto(lms.address(hosts[1], key, hosts[2]))
    page.wait_for_selector("[data-player][data-ready]")


def finished(page: Page) -> None:
    """Presses the last button."""
    page.click("[data-finish]")
    expect(page.locator("[data-told]")).to_contain_text("Told to the learning system")


def test_a_page_is_initialized_completed_and_terminated(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    lms.launch = {"launchMode": "Normal", "moveOn": "Completed"}
    lms.begin()
    launched(window, lms, hosts, "technique:visual")
    assert item(window).inner_text("h1") == "Looking for oil and damage"
    window.click("[data-read]")
    expect(window.locator("[data-state]")).to_have_text("Read")
    finished(window)
    assert lms.verbs() == ["initialized", "completed", "terminated"]
    assert lms.fetched == 1
    assert ("profile", "cmi5LearnerPreferences") in lms.documents
    assert hosts[0].missing == []
    quiet(window, "agents/profile", "activities/state", "404")


def test_a_real_round_of_questions_is_passed_or_failed_by_its_points(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    launched(window, lms, hosts, QUESTIONS)
    score, of = answered(item(window))
    finished(window)
    verdict = "passed" if score / of >= 0.7 else "failed"
    assert lms.verbs() == ["initialized", "completed", verdict, "terminated"]
    assert lms.statements[2]["result"]["score"] == {
        "scaled": round(score / of, 4),
        "raw": score,
        "min": 0,
        "max": of,
    }
    assert hosts[0].missing == []
    quiet(window, "agents/profile", "activities/state", "404")


def test_a_second_try_in_the_session_can_pass_and_nothing_is_said_twice(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    launched(window, lms, hosts, QUESTIONS)
    frame = item(window)
    for score in (2, 7, 8, 1):
        told(frame, QUESTIONS, score, 10)
    expect(window.locator("[data-state]")).to_have_text("Done 8 of 10")
    told(frame, "questions:other", 10, 10)
    finished(window)
    assert lms.verbs() == ["initialized", "completed", "passed", "terminated"]
    assert lms.statements[2]["result"]["score"]["raw"] == 7


def test_of_an_exercise_that_tells_its_answer_the_first_try_counts(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    launched(window, lms, hosts, QUESTIONS)
    frame = item(window)
    assert told(frame, QUESTIONS, 2, 10, once=True) is None
    assert told(frame, QUESTIONS, 10, 10, once=True) == {"score": 2, "of": 10}
    expect(window.locator("[data-state]")).to_have_text("Done 2 of 10")
    finished(window)
    assert lms.verbs() == ["initialized", "completed", "failed", "terminated"]


def test_failed_then_passed_in_a_later_session_of_the_registration(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    launched(window, lms, hosts, QUESTIONS)
    told(item(window), QUESTIONS, 3, 10)
    window.goto("about:blank")  # closed without a word: the statements go while the page is left
    for _ in range(50):
        if lms.ended():
            break
        window.wait_for_timeout(100)
    assert lms.verbs() == ["initialized", "completed", "failed", "terminated"]
    lms.begin()
    launched(window, lms, hosts, QUESTIONS)
    expect(window.locator("[data-state]")).to_have_text("Done 3 of 10")
    told(item(window), QUESTIONS, 9, 10)
    finished(window)
    assert lms.verbs() == ["initialized", "passed", "terminated"]
    lms.begin()
    launched(window, lms, hosts, QUESTIONS)
    told(item(window), QUESTIONS, 10, 10)
    finished(window)
    assert lms.verbs() == ["initialized", "terminated"]


@pytest.mark.parametrize("mode", ["Browse", "Review"])
def test_who_only_looks_is_not_recorded(
    window: Page, lms: Lms, hosts: tuple[Course, str, str], mode: str
) -> None:
    lms.launch["launchMode"] = mode
    lms.begin()
    launched(window, lms, hosts, QUESTIONS)
    expect(window.locator("[data-told]")).to_contain_text("without credit")
    told(item(window), QUESTIONS, 10, 10)
    finished(window)
    assert lms.verbs() == ["initialized", "terminated"]


def test_what_the_system_refuses_is_told_and_sent_again_in_its_order(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    launched(window, lms, hosts, QUESTIONS)
    lms.refuse = 2
    told(item(window), QUESTIONS, 9, 10)
    expect(window.locator("[data-told]")).to_contain_text("did not take this (500)")
    finished(window)
    assert lms.verbs() == ["initialized", "completed", "passed", "terminated"]


def test_an_end_that_is_not_taken_can_be_told_again(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    launched(window, lms, hosts, QUESTIONS)
    lms.refuse = 3
    told(item(window), QUESTIONS, 9, 10)
    expect(window.locator("[data-told]")).to_contain_text("did not take this")
    window.wait_for_timeout(200)
    assert lms.refuse == 1
    window.click("[data-finish]")
    expect(window.locator("[data-told]")).to_contain_text("did not take the end")
    assert lms.verbs() == ["initialized"]
    finished(window)
    assert lms.verbs() == ["initialized", "completed", "passed", "terminated"]
    lms.begin()
    launched(window, lms, hosts, QUESTIONS)
    told(item(window), QUESTIONS, 10, 10)
    finished(window)
    assert lms.verbs() == ["initialized", "terminated"]


def test_the_learner_goes_back_where_the_system_says(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    lms.launch["returnURL"] = f"{hosts[1]}img/mark.svg"
    lms.begin()
    launched(window, lms, hosts, "technique:visual")
    window.click("[data-finish]")
    window.wait_for_url("**/img/mark.svg")
    assert lms.verbs() == ["initialized", "terminated"]


def test_an_address_that_would_run_something_leads_nowhere(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    lms.launch["returnURL"] = "javascript:void(window.__hit = 1)"
    lms.begin()
    launched(window, lms, hosts, "technique:visual")
    window.click("[data-finish]")
    expect(window.locator("[data-told]")).to_contain_text("can be closed")
    assert lms.verbs() == ["initialized", "terminated"]
    assert window.evaluate("'__hit' in window") is False


def test_a_start_without_a_system_or_with_a_used_token_says_so(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    said = window.locator("[data-told]")
    window.goto(f"{hosts[1]}index.html?item=technique:visual")
    expect(said).to_contain_text("without endpoint")
    window.goto(lms.address(hosts[1], "technique:none", hosts[2]))
    expect(said).to_contain_text("without item")
    window.goto(lms.address(hosts[1], "technique:visual", "javascript:alert(1)//"))
    expect(said).to_contain_text("without endpoint")
    lms.fetched = 1
    window.goto(lms.address(hosts[1], "technique:visual", hosts[2]))
    expect(said).to_contain_text("was used already")
    assert lms.statements == []


def test_only_the_hosts_of_the_launch_can_be_reached(
    window: Page, lms: Lms, hosts: tuple[Course, str, str]
) -> None:
    launched(window, lms, hosts, "technique:visual")
    with listening(Course({"x": b"x"}).handler()) as other:
        reach = "(at) => fetch(at, { mode: 'no-cors' }).then(() => true, () => false)"
        assert window.evaluate(reach, f"{other}x") is False
        assert window.evaluate(reach, f"{hosts[2]}x") is True
        assert item(window).evaluate(reach, f"{hosts[2]}x") is False


API = """<!doctype html><meta charset="utf-8"><title>System</title><link rel="icon" href="img/mark.svg"><style>html,body,iframe{margin:0;width:100%;height:98vh;border:0}</style>
<script>
const VOCABULARY = { "cmi.core.lesson_status": ["passed", "completed", "failed", "incomplete", "browsed"], "cmi.core.exit": ["time-out", "suspend", "logout", ""] };
const FORMS = { "cmi.core.score.raw": /^\\d{1,3}(\\.\\d+)?$/, "cmi.core.score.min": /^\\d{1,3}$/, "cmi.core.score.max": /^\\d{1,3}$/,
  "cmi.core.session_time": /^\\d{2,4}:[0-5]\\d:[0-5]\\d(\\.\\d{1,2})?$/, "cmi.suspend_data": /^[^]{0,4096}$/ };
window.kept = Object.assign({ "cmi.core.lesson_status": "not attempted", "cmi.core.lesson_mode": "normal", "cmi.suspend_data": "", "cmi.student_data.mastery_score": "70" }, JSON.parse(sessionStorage.kept ?? "{}"), JSON.parse(new URL(location.href).searchParams.get("kept") ?? "{}"));
window.calls = [];
let running = false;
let code = "0";
const done = (ok, fault = "0") => { code = ok ? "0" : fault; return String(ok); };
// Some systems look at a score beside a mastery score whatever status the course has told.
const judge = () => { const [raw, most] = [kept["cmi.core.score.raw"], kept["cmi.student_data.mastery_score"]]; if (raw && most) kept["cmi.core.lesson_status"] = Number(raw) >= Number(most) ? "passed" : "failed"; };
window.API = {
  LMSInitialize(x) { calls.push(["init", x]); if (running || x !== "") return done(false, "101"); running = true; return done(true); },
  LMSFinish(x) { calls.push(["finish", x]); if (!running) return done(false, "301"); running = false; judge(); sessionStorage.kept = JSON.stringify(kept); return done(true); },
  LMSCommit(x) { calls.push(["commit", x]); return done(running && x === "", "301"); },
  LMSGetValue(name) { code = running ? "0" : "301"; return running ? (kept[name] ?? "") : ""; },
  LMSSetValue(name, value) {
    calls.push([name, value]);
    if (!running) return done(false, "301");
    if (typeof value !== "string") return done(false, "405");
    const good = VOCABULARY[name]?.includes(value) ?? FORMS[name]?.test(value);
    if (good === undefined) return done(false, "401");
    if (good) kept[name] = value;
    return done(good, "405");
  },
  LMSGetLastError: () => code, LMSGetErrorString: (n) => `fault ${n}`, LMSGetDiagnostic: () => "",
};
</script><iframe src="index.html" title="Course"></iframe>"""


@pytest.fixture
def system(objects: dict[str, bytes]) -> Iterator[tuple[Course, str]]:
    """A host that holds the package and a page with an API object round it."""
    held = Course({**objects, "system.html": API.encode()})
    with listening(held.handler()) as at:
        yield held, f"{at}system.html"


def inside(page: Page) -> Frame:
    """The player in the system's page, begun."""
    frame = next(
        f for f in page.frames if f.url.endswith("/index.html") and f.parent_frame == page.main_frame
    )
    frame.wait_for_selector("[data-player][data-ready]")
    return frame


def kept(page: Page) -> dict[str, str]:
    """What the system holds."""
    return dict(page.evaluate("kept"))


def read_all(player: Frame) -> None:
    """The three pages of the list."""
    for _ in range(3):
        player.click("[data-read]")
        player.click("[data-next]")


def test_a_whole_run_passes_with_its_points(window: Page, system: tuple[Course, str]) -> None:
    window.goto(system[1])
    player = inside(window)
    assert kept(window)["cmi.core.lesson_status"] == "incomplete"
    read_all(player)
    assert kept(window)["cmi.core.lesson_status"] == "incomplete"
    told(item(window), QUESTIONS, 8, 10)
    held = kept(window)
    assert (held["cmi.core.lesson_status"], held["cmi.core.score.raw"]) == ("passed", "80")
    assert (held["cmi.core.score.min"], held["cmi.core.score.max"]) == ("0", "100")
    player.click("[data-finish]")
    calls = window.evaluate("calls")
    assert calls[0] == ["init", ""]
    assert calls[-1] == ["finish", ""]
    assert calls[-2] == ["commit", ""]
    assert [name for name, _ in calls].count("finish") == 1
    held = kept(window)
    assert re.fullmatch(r"\d{4}:\d\d:\d\d\.\d\d", held["cmi.core.session_time"])
    assert held["cmi.core.exit"] == ""
    assert system[0].missing == []
    quiet(window)


def test_what_was_done_is_there_in_the_next_session(window: Page, system: tuple[Course, str]) -> None:
    window.goto(system[1])
    player = inside(window)
    player.click("[data-read]")
    player.locator("[data-items] button").nth(3).click()
    told(item(window), QUESTIONS, 4, 10)
    window.goto("about:blank")
    window.goto(system[1])
    held = kept(window)
    assert (held["cmi.core.exit"], held["cmi.core.lesson_status"]) == ("suspend", "incomplete")
    player = inside(window)
    states = player.locator("[data-items] [data-slot=state]")
    assert states.all_inner_texts() == ["Read", "Not yet", "Not yet", "Done 4 of 10"]
    for _ in range(2):
        player.click("[data-read]")
        if player.is_visible("[data-next]"):
            player.click("[data-next]")
    assert kept(window)["cmi.core.lesson_status"] == "failed"
    quiet(window)


@pytest.mark.parametrize("score", [1, 10])
def test_who_leaves_half_way_has_neither_passed_nor_failed(
    window: Page, system: tuple[Course, str], score: int
) -> None:
    window.goto(system[1])
    inside(window).locator("[data-items] button").nth(3).click()
    told(item(window), QUESTIONS, score, 10)
    window.goto("about:blank")
    window.goto(system[1])
    assert kept(window)["cmi.core.lesson_status"] == "incomplete"
    quiet(window)


def test_a_mark_of_other_items_and_rubbish_are_not_taken_for_done(
    window: Page, system: tuple[Course, str]
) -> None:
    for text in ("1|00000000|0:,1:", "1|", "{}", "1|x|0:9999999/1,<b>:", "2|0|0:"):
        window.goto(f"{system[1]}?{urlencode({'kept': json.dumps({'cmi.suspend_data': text})})}")
        states = inside(window).locator("[data-items] [data-slot=state]")
        assert set(states.all_inner_texts()) == {"Not yet"}, text


def test_without_an_api_the_course_says_so(window: Page, system: tuple[Course, str]) -> None:
    window.goto(system[1].replace("system.html", "index.html"))
    expect(window.locator("[data-told]")).to_contain_text("no learning system that answers")


def test_links_of_a_script_stay_in_the_course_or_become_text(
    window: Page, system: tuple[Course, str]
) -> None:
    window.goto(system[1])
    inside(window)
    frame = item(window)
    frame.evaluate("""() => document.querySelector("main").insertAdjacentHTML("beforeend",
      '<a id="in" href="../../../cases/KW-2025-002/">there</a> <a id="out" href="../../../guide/">gone</a> <a id="more" href="../../../reading/questions/?topic=rules">rules</a>')""")
    frame.click("#out")
    frame.click("#more")
    expect(frame.locator("main")).to_contain_text("rules (not part of this course)")
    expect(frame.locator("main")).to_contain_text("gone (not part of this course)")
    frame.click("#in")
    frame.wait_for_url("**/cases/KW-2025-002/index.html")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_player_fits_and_can_be_used_by_everyone(
    window: Page, system: tuple[Course, str], size: dict[str, int], scheme: str
) -> None:
    window.set_viewport_size(size)  # type: ignore[arg-type]
    window.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    window.goto(system[1])
    player = inside(window)
    player.click("[data-read]")
    assert player.evaluate(WIDE) == [0, False, []]
    window.goto("about:blank")
    window.goto(system[1].replace("system.html", "index.html"))
    window.wait_for_selector("[data-player][data-ready]")
    found = Axe().run(window).response["violations"]
    assert [(v["id"], [n["html"][:160] for n in v["nodes"]]) for v in found] == []
