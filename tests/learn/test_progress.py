"""Progress on the phone: spaced return by a moved clock, rounds of an assignment, and a storage that refuses."""

from __future__ import annotations

from typing import Any

import pytest

from .scripts import node

BEGIN = """
const { Progress } = await load("progress");
const held = new Map(given.held ?? []);
const storage = {
  getItem: (key) => { if (given.refuses) throw new Error("refused"); return held.get(key) ?? null; },
  setItem: (key, value) => { if (given.refuses || storage.full) throw new Error("full"); held.set(key, value); },
  removeItem: (key) => { held.delete(key); },
};
let now = Date.parse(given.start ?? "2026-12-01T17:00:00Z");
const told = [];
const fresh = () => new Progress(given.none ? null : storage, () => now, (fault) => told.push(fault));
const p = fresh();
const days = (n) => { now += n * 86_400_000; };
"""
QUESTION = '"questions:flares", "which-first"'


def run(script: str, **given: Any) -> Any:
    """What a script returns that has a Progress `p`, a clock and a storage."""
    return node(BEGIN + script, given)


def test_what_was_wrong_comes_back_after_1_3_7_and_21_days() -> None:
    found = run(
        f"""
        p.wrong({QUESTION});
        const out = [];
        for (let day = 0; day <= 40; day += 1) {{
          if (fresh().dueNow().length) {{ out.push(day); p.right({QUESTION}); }}
          days(1);
        }}
        return [out, p.comingBack()];
        """
    )
    assert found == [[1, 4, 11, 32], []]  # 1, then 3, 7 and 21 days later; then it is learnt


def test_a_mistake_starts_again() -> None:
    found = run(
        f"""
        p.wrong({QUESTION}); days(1); p.right({QUESTION}); days(3); p.right({QUESTION}); days(7);
        const due = p.dueNow().length;
        p.wrong({QUESTION});
        return [due, p.comingBack().map((q) => [q.step, q.due]), p.today()];
        """
    )
    assert found == [1, [[0, "2026-12-13"]], "2026-12-12"]


def test_a_right_answer_before_its_day_changes_nothing_and_late_is_no_loss() -> None:
    found = run(
        f"""
        p.wrong({QUESTION}); p.right({QUESTION}); p.right({QUESTION});
        const early = p.comingBack().map((q) => q.due);
        days(30);
        const late = p.dueNow().length; p.right({QUESTION});
        p.right("questions:flares", "never-wrong");
        return [early, late, p.comingBack().map((q) => [q.step, q.due])];
        """
    )
    assert found == [["2026-12-02"], 1, [[1, "2027-01-03"]]]


@pytest.mark.parametrize(
    ("zone", "evening", "hours"),
    [("America/New_York", "2026-10-31T23:30:00-04:00", 2), ("Europe/Berlin", "2026-03-28T23:30:00+01:00", 1)],
)
def test_days_are_calendar_days_where_the_phone_is(zone: str, evening: str, hours: int) -> None:
    """Also over the change of summer time, whose nights have 23 and 25 hours."""
    found = node(
        BEGIN + f"p.wrong({QUESTION}); const before = p.dueNow().length; now += {hours} * 3_600_000;"
        "return [before, p.dueNow().length, p.today(), p.comingBack()[0].due];",
        {"start": evening},
        zone,
    )
    assert found[:2] == [0, 1]
    assert found[2] == found[3]


def test_assignments_are_kept_and_the_soonest_comes_first() -> None:
    found = run(
        """
        p.assign({ list: "later", initials: "AB", due: "2027-01-10" });
        p.assign({ list: "never", initials: "AB" });
        p.assign({ list: "soon", initials: "AB", due: "2026-12-05" });
        return fresh().assignments().map((a) => [a.list, a.initials, a.due, a.accepted, a.since]);
        """
    )
    assert found == [
        ["soon", "AB", "2026-12-05", "2026-12-01", None],
        ["later", "AB", "2027-01-10", "2026-12-01", None],
        ["never", "AB", None, "2026-12-01", None],
    ]


def test_a_second_assignment_of_a_list_is_a_new_round_and_the_same_link_twice_is_not() -> None:
    found = run(
        """
        const give = (due) => p.assign({ list: "first-week", initials: "AB", due });
        p.done({ key: "mode:flare-joint" });
        give("2026-12-10");
        const before = p.isDone("first-week", "mode:flare-joint");
        days(2); give("2026-12-10");
        const same = p.isDone("first-week", "mode:flare-joint");
        days(300); give("2027-11-01");
        const round = p.isDone("first-week", "mode:flare-joint");
        return [before.on, same.on, round, p.isDone(null, "mode:flare-joint").on, p.isDone("other", "mode:flare-joint").on];
        """
    )
    assert found == ["2026-12-01", "2026-12-01", None, "2026-12-01", "2026-12-01"]


def test_the_best_try_counts_and_all_are_counted() -> None:
    found = run(
        """
        for (const score of [4, 8, 6]) { p.done({ key: "questions:flares", score, of: 9, minutes: 5 }); days(1); }
        return p.isDone(null, "questions:flares");
        """
    )
    assert found == {"on": "2026-12-02", "score": 8, "of": 9, "minutes": 15, "tries": 3}


def test_where_the_answer_is_told_the_first_try_counts_and_all_are_counted() -> None:
    found = run(
        """
        const key = "unknown:KW-2025-014";
        const tries = (n, score) => { for (let i = 0; i < n; i += 1) { p.done({ key, score, of: 10, minutes: 5, once: true }); days(1); } };
        const none = p.first(key);
        tries(1, 4); tries(2, 10);
        const of3 = p.isDone(null, key);
        tries(30, 10);
        return [none, of3, p.isDone(null, key).score, p.isDone(null, key).tries, p.first(key).score];
        """
    )
    of3 = {"on": "2026-12-01", "score": 4, "of": 10, "minutes": 15, "tries": 3}
    assert found == [None, of3, 4, 20, 4]


def test_a_new_round_of_a_search_whose_answer_is_known_is_done_without_points() -> None:
    found = run(
        """
        const key = "unknown:KW-2025-014";
        p.assign({ list: "first-week", initials: "AB", due: null });
        p.done({ key, score: 4, of: 10, once: true });
        days(30);
        p.assign({ list: "first-week", initials: "AB", due: "2027-01-31" });
        const open = p.isDone("first-week", key);
        p.done({ key, score: 10, of: 10, once: true });
        return [open, p.isDone("first-week", key)];
        """
    )
    assert found == [
        None,
        {"on": "2026-12-31", "score": None, "of": None, "minutes": None, "tries": 1},
    ]


def test_the_result_of_a_list_is_finished_when_all_is_done() -> None:
    script = """
    const list = { key: "first-week", items: [{ key: "case:KW-1", title: "One" }, { key: "questions:flares", title: "Two" }] };
    p.assign({ list: "first-week", initials: "AB", due: "2026-12-10" });
    p.done({ key: "questions:flares", score: 3, of: 5, minutes: 2 });
    p.wrong("questions:flares", "q1"); p.wrong("questions:other", "q1");
    const first = p.result(list);
    days(1); p.done({ key: "case:KW-1" });
    return [first, p.result(list)];
    """
    first, then = run(script)
    assert (first["finished"], first["again"], first["initials"], first["due"]) == (
        None,
        1,
        "AB",
        "2026-12-10",
    )
    assert [i["done"] for i in first["items"]] == [None, "2026-12-01"]
    assert then["finished"] == "2026-12-02"
    assert then["items"][0] == {
        "key": "case:KW-1",
        "title": "One",
        "done": "2026-12-02",
        "score": None,
        "of": None,
        "tries": 1,
        "minutes": None,
    }


@pytest.mark.parametrize(
    "call",
    [
        'p.done({ key: "case:KW-1", score: 10, of: 9 })',
        'p.done({ key: "case:KW-1", score: 1.5, of: 9 })',
        'p.done({ key: "case:KW-1", score: 1 })',
        'p.done({ key: "<b>", score: null })',
        'p.done({ key: "case:KW-1", minutes: 1e9 })',
        'p.assign({ list: "../up", initials: "AB" })',
        'p.assign({ list: "first-week", initials: "<i>" })',
        'p.assign({ list: "first-week", initials: "AB", due: "2026-02-30" })',
        'p.wrong("flares", "q1")',
    ],
)
def test_what_is_no_result_is_refused_and_nothing_is_kept(call: str) -> None:
    assert run(f"try {{ {call}; return 'taken'; }} catch (e) {{ return [e.name, held.size]; }}") == [
        "RangeError",
        0,
    ]


@pytest.mark.parametrize("given", [{"refuses": True}, {"none": True}])
def test_a_storage_that_refuses_is_told_and_the_page_goes_on(given: dict[str, bool]) -> None:
    found = run(
        'const ok = p.done({ key: "case:KW-1" }); return [ok, p.isDone(null, "case:KW-1").on, told];', **given
    )
    assert found[:2] == [False, "2026-12-01"]
    assert set(found[2]) == {"refused"} or found[2] == ["refused", "full"]


def test_a_full_storage_is_told_and_nothing_is_lost_when_there_is_room_again() -> None:
    found = run(
        """
        p.done({ key: "case:KW-1" });
        storage.full = true;
        const ok = p.done({ key: "case:KW-2" });
        const shown = p.isDone(null, "case:KW-2") !== null;
        storage.full = false;
        const again = p.done({ key: "case:KW-3" });
        return [ok, shown, again, told, p.fault, ["1", "2", "3"].map((n) => fresh().isDone(null, `case:KW-${n}`) !== null)];
        """
    )
    assert found == [False, True, True, ["full"], None, [True, True, True]]


def test_what_cannot_be_read_is_put_aside_and_told() -> None:
    found = run(
        'p.done({ key: "case:KW-1" }); return [told, held.get("leaklore-learn-unread"), p.isDone(null, "case:KW-1").on];',
        held=[["leaklore-learn", '{"version": 1, "done"']],
    )
    assert found == [["unreadable"], '{"version": 1, "done"', "2026-12-01"]


def test_what_a_newer_library_wrote_is_left_alone() -> None:
    text = '{"version":2,"done":{}}'
    found = run(
        'const ok = p.done({ key: "case:KW-1" }); return [ok, new Set(told).size, told[0], held.get("leaklore-learn")];',
        held=[["leaklore-learn", text]],
    )
    assert found == [False, 1, "newer", text]


def test_entries_that_are_none_are_not_taken_for_done() -> None:
    text = (
        '{"version":1,"assigned":{"a":{"initials":"<b>","due":null,"accepted":"2026-01-01","since":null},"b":null},'
        '"done":{"case:KW-1":[{"on":"yesterday","score":null,"of":null,"minutes":null}],"case:KW-2":[],"__proto__":[1]},'
        '"again":{"x":{"key":"questions:f","question":"q","step":9,"due":"2026-01-01"},"y":7}}'
    )
    found = run(
        'return [p.assignments(), p.isDone(null, "case:KW-1"), p.isDone(null, "case:KW-2"), p.dueNow()];',
        held=[["leaklore-learn", text]],
    )
    assert found == [[], None, None, []]


def test_two_tabs_do_not_undo_each_other_and_forget_leaves_nothing() -> None:
    found = run(
        """
        const other = fresh();
        p.done({ key: "case:KW-1" }); other.done({ key: "case:KW-2" }); p.done({ key: "case:KW-3" });
        const all = [1, 2, 3].map((n) => fresh().isDone(null, `case:KW-${n}`) !== null);
        storage["leaklore-unknown:KW-1"] = "a key of a real storage";
        held.set("leaklore-unknown:KW-1", "[]");
        p.forget();
        return [all, held.size, p.assignments()];
        """
    )
    assert found == [[True, True, True], 0, []]
