// What a learner has done, kept on this phone: assignments, items done, and questions that come back.

const KEPT = "leaklore-learn";
const ASIDE = "leaklore-learn-unread"; // what could not be read is put here and not thrown away
const SEARCHES = "leaklore-unknown:"; // an unknown case that is not finished, by unknown_page.mjs
const PROGRESS_VERSION = 1;
const WAITS = [1, 3, 7, 21]; // days until a question comes back; common practice of spaced return, no source
const TRIES = 20; // of an item, the newest
const DAY_MS = 86_400_000;
const DAY = /^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$/;
const LIST = /^[a-z0-9][a-z0-9-]{0,79}$/;
const ITEM = /^[a-z]{1,20}:[A-Za-z0-9][A-Za-z0-9._-]{0,79}$/;
const INITIALS = /^[A-Z0-9]{1,4}$/;
const MOST = 9999; // score, its whole, minutes

// The local calendar day of a moment in ms: who errs in the evening gets the question again next morning.
export function dayOf(ms) {
  const at = new Date(ms);
  const two = (n) => String(n).padStart(2, "0");
  return `${String(at.getFullYear()).padStart(4, "0")}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}

export function daysAfter(day, days) {
  return new Date(Date.parse(`${day}T00:00:00Z`) + days * DAY_MS).toISOString().slice(0, 10);
}

export function isDay(text) {
  return typeof text === "string" && DAY.test(text) && daysAfter(text, 0) === text;
}

// Initials as they are kept: capitals and digits; null where they can't be.
export function initialsOf(text) {
  const tidy = String(text ?? "").replace(/[\s.]/g, "").toUpperCase();
  return INITIALS.test(tidy) ? tidy : null;
}

export function isList(text) {
  return typeof text === "string" && LIST.test(text);
}

export function isItem(text) {
  return typeof text === "string" && ITEM.test(text);
}

const whole = (n) => Number.isSafeInteger(n) && n >= 0 && n <= MOST;
const scored = (score, of) => whole(score) && whole(of) && of > 0 && score <= of;

// Try of an item: { on, score, of, minutes }; score and of are null for what is only read, minutes where unknown.
function isTry(t) {
  return t !== null && typeof t === "object" && isDay(t.on) && (scored(t.score, t.of) || (t.score === null && t.of === null)) && (t.minutes === null || whole(t.minutes));
}

const empty = () => ({ assigned: new Map(), done: new Map(), again: new Map() });

function entries(raw, good) {
  return new Map(Object.entries(raw && typeof raw === "object" ? raw : {}).filter(([key, value]) => good(key, value)));
}

function unpacked(raw) {
  const assigned = entries(raw.assigned, (key, a) => isList(key) && a && INITIALS.test(a.initials) && isDay(a.accepted) && (a.due === null || isDay(a.due)) && (a.since === null || isDay(a.since)));
  const done = entries(raw.done, (key, tries) => isItem(key) && Array.isArray(tries) && tries.length > 0 && tries.every(isTry));
  const again = entries(raw.again, (_, q) => q && isItem(q.key) && typeof q.question === "string" && isDay(q.due) && q.step in WAITS);
  return { assigned, done, again };
}

const packed = (state) => JSON.stringify({ version: PROGRESS_VERSION, ...Object.fromEntries(Object.entries(state).map(([name, map]) => [name, Object.fromEntries(map)])) });

// `storage` is like localStorage, or null where the browser refuses it; `now` gives ms; `told(fault)` hears of trouble:
// "refused" (nothing can be kept), "full", "unreadable" (put aside), "newer" (written by a newer library; left alone).
// What can't be written stays in memory until the page is left, and the next change tries again.
export class Progress {
  constructor(storage, now = Date.now, told = () => {}) {
    Object.assign(this, { storage, now, told, fault: null, memory: null });
  }

  today() {
    return dayOf(this.now());
  }

  trouble(fault) {
    this.fault = fault;
    this.told(fault);
  }

  // Read anew each time: another tab may have written.
  state() {
    if (this.memory) return this.memory;
    let text = null;
    try {
      text = this.storage.getItem(KEPT);
    } catch {
      this.memory = empty();
      this.trouble("refused");
      return this.memory;
    }
    if (text === null) return empty();
    try {
      const raw = JSON.parse(text);
      if (raw?.version === PROGRESS_VERSION) return unpacked(raw);
      if (raw?.version > PROGRESS_VERSION) {
        this.memory = empty();
        this.trouble("newer");
        return this.memory;
      }
    } catch {
      // told below
    }
    try {
      this.storage.setItem(ASIDE, text);
      this.storage.removeItem(KEPT);
      this.trouble("unreadable");
    } catch {
      this.memory = empty();
      this.trouble("full");
      return this.memory;
    }
    return empty();
  }

  keep(state) {
    if (this.fault === "newer") {
      this.told("newer");
      return false;
    }
    try {
      this.storage.setItem(KEPT, packed(state));
      this.memory = null;
      if (this.fault === "full" || this.fault === "refused") this.fault = null;
      return true;
    } catch {
      this.memory = state;
      this.trouble(this.storage ? "full" : "refused");
      return false;
    }
  }

  // The same list given again with another due date starts a new round: only what is done from today on counts.
  // True when it is kept; throws RangeError for what is no assignment.
  assign({ list, initials, due = null }) {
    if (!isList(list) || !INITIALS.test(initials ?? "") || (due !== null && !isDay(due))) throw new RangeError("no assignment");
    const state = this.state();
    const before = state.assigned.get(list);
    const accepted = this.today();
    const again = before && before.due !== due;
    state.assigned.set(list, before && !again ? { ...before, initials } : { initials, due, accepted, since: again ? accepted : null });
    return this.keep(state);
  }

  // { list, initials, due, accepted, since }, what is due soonest first.
  assignments() {
    const all = [...this.state().assigned].map(([list, a]) => ({ list, ...a }));
    return all.sort((a, b) => (a.due ?? "9999").localeCompare(b.due ?? "9999") || a.list.localeCompare(b.list));
  }

  unassign(list) {
    const state = this.state();
    return state.assigned.delete(list) && this.keep(state);
  }

  // `once`: its answer is told at the end, so that only the first try has points. Throws RangeError for what is no result.
  done({ key, score = null, of = null, minutes = null, once = false }) {
    const made = { on: this.today(), score, of, minutes };
    if (!isItem(key) || !isTry(made)) throw new RangeError("no result");
    const state = this.state();
    const before = state.done.get(key) ?? [];
    if (!once || !before.length) state.done.set(key, [...before, made].slice(-TRIES));
    else state.done.set(key, [before[0], ...[...before.slice(1), { ...made, score: null, of: null }].slice(1 - TRIES)]);
    return this.keep(state);
  }

  // The try of an item whose answer was told after it: { on, score, of, minutes }, or null.
  first(key) {
    return this.state().done.get(key)?.[0] ?? null;
  }

  undo(key) {
    const state = this.state();
    const left = (state.done.get(key) ?? []).slice(0, -1);
    if (left.length) state.done.set(key, left);
    else state.done.delete(key);
    return this.keep(state);
  }

  // The try that counts for the list, the best that has points: { on, score, of, minutes, tries }, or null. `list` null: at any time.
  isDone(list, key) {
    const state = this.state();
    const since = (list !== null && state.assigned.get(list)?.since) || "";
    const tries = (state.done.get(key) ?? []).filter((t) => t.on >= since);
    if (!tries.length) return null;
    const share = (t) => (t.of ? t.score / t.of : 0);
    const best = tries.reduce((a, b) => (share(b) > share(a) ? b : a));
    const known = tries.filter((t) => t.minutes !== null);
    const minutes = known.length ? Math.min(MOST, known.reduce((sum, t) => sum + t.minutes, 0)) : null;
    return { ...best, minutes, tries: tries.length };
  }

  wrong(key, question) {
    if (!isItem(key)) throw new RangeError("no question");
    const state = this.state();
    state.again.set(`${key}#${question}`, { key, question: String(question), step: 0, due: daysAfter(this.today(), WAITS[0]) });
    return this.keep(state);
  }

  // The library asks it no more: nobody could answer it, and it would be due for ever.
  drop(key, question) {
    const state = this.state();
    return state.again.delete(`${key}#${question}`) && this.keep(state);
  }

  // A right answer before its day changes nothing: the wait is what teaches. After the last wait it is learnt.
  right(key, question) {
    const state = this.state();
    const found = state.again.get(`${key}#${question}`);
    if (!found || found.due > this.today()) return true;
    const step = found.step + 1;
    if (step === WAITS.length) state.again.delete(`${key}#${question}`);
    else state.again.set(`${key}#${question}`, { ...found, step, due: daysAfter(this.today(), WAITS[step]) });
    return this.keep(state);
  }

  // Questions that are to be asked today: { key, question, step, due }, the longest overdue first.
  dueNow() {
    const today = this.today();
    return this.comingBack().filter((q) => q.due <= today);
  }

  comingBack() {
    return [...this.state().again.values()].sort((a, b) => a.due.localeCompare(b.due) || a.key.localeCompare(b.key) || a.question.localeCompare(b.question));
  }

  // What was done of a list of data/learn/lists.json: { list, initials, due, finished, again, items }; `initials` is "" where
  // nobody gave it, `finished` the day of the last item or null, `again` the number of its questions that come back.
  result({ key: list, items }) {
    const given = this.state().assigned.get(list);
    const rows = items.map(({ key, title }) => {
      const did = this.isDone(list, key);
      return { key, title, done: did?.on ?? null, score: did?.score ?? null, of: did?.of ?? null, tries: did?.tries ?? 0, minutes: did?.minutes ?? null };
    });
    const days = rows.map((row) => row.done);
    const finished = days.length && days.every(Boolean) ? days.reduce((a, b) => (b > a ? b : a)) : null;
    const mine = new Set(items.map(({ key }) => key));
    const again = this.comingBack().filter((q) => mine.has(q.key)).length;
    return { list, initials: given?.initials ?? "", due: given?.due ?? null, finished, again, items: rows };
  }

  // Everything of this learner goes off this phone. False where the browser refuses.
  forget() {
    try {
      for (const key of Object.keys(this.storage)) if (key.startsWith(SEARCHES)) this.storage.removeItem(key);
      this.storage.removeItem(KEPT);
      this.storage.removeItem(ASIDE);
      Object.assign(this, { memory: null, fault: null });
      return true;
    } catch {
      this.trouble("refused");
      return false;
    }
  }
}

// The browser's storage, or null where it is refused: to ask for it may throw already.
export function phoneStorage() {
  try {
    return globalThis.localStorage ?? null;
  } catch {
    return null;
  }
}
