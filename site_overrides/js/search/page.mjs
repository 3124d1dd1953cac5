// The search page: listens, keeps the address, asks the engine, shows the answer. `window.leaklore.find` is for others.
import { OtherBuild } from "./index.mjs";
import { Engine } from "./find.mjs";
import { SearchView } from "./view.mjs";
import { readAddress, writeAddress } from "./address.mjs";
import { handOver, recordOf } from "./hand.mjs";
import { casesNamed, onlyUnit, unitsAlone, unitsIn, unitsOf } from "./named.mjs";
import { trailAsYaml } from "./trail.mjs";
import { explainedBy, bubblePasses } from "./second.mjs";
import { forgetUnanswered, keepUnanswered, unansweredAsText, unansweredList } from "./unanswered.mjs";

const TYPING = 120; // ms without a key before the cases are asked for
const SETTLED = 2500; // ms until a search that found nothing is kept

class SearchPage {
  constructor(page) {
    Object.assign(this, { page, root: page.dataset.root, turn: 0, pieces: new Map() });
    this.form = page.querySelector("[data-ask]");
    this.input = this.form.querySelector("input[name=q]");
    this.status = page.querySelector("[data-status]");
    this.asked = readAddress(location.search, []);
    if (!this.input.value) this.input.value = this.asked.q;
    this.ready = this.start();
  }

  async piece(path, kind, { fresh = false } = {}) {
    const reply = await fetch(`${this.root}data/search/${path}`, fresh ? { cache: "reload" } : {}).catch(() => {
      throw new Error(this.saying("no-connection"));
    });
    if (!reply.ok) throw new Error(`${path}: ${reply.status}`);
    return kind === "json" ? reply.json() : reply.arrayBuffer();
  }

  async start() {
    this.status.textContent = this.saying("loading");
    const model = await this.piece("model.json", "json");
    this.model = model;
    this.engine = new Engine(model, (path, kind, how) => this.piece(path, kind, how));
    if (this.input.value.trim()) this.engine.prefetch(this.input.value);
    this.view = new SearchView(this.page, model);
    this.state = { ...this.fromAddress(), q: this.input.value };
    this.back = keptPlace();
    Object.assign(this.view, { moreCauses: Boolean(this.back?.moreCauses), moreCases: Boolean(this.back?.moreCases) });
    if (!this.empty()) this.show(); // first, the rest of the page can wait
    else this.quiet();
    this.view.filters(model.index.facets, this.state.only, (facet, value) => {
      this.state.only = { ...this.state.only, [facet]: value };
      if (!value) delete this.state.only[facet];
      this.view.filtered(this.state.only);
      this.changed();
    });
    if (Object.keys(this.state.only).length) this.page.querySelector("[data-narrow]").open = true;
    this.listen();
    this.unanswered();
    this.page.querySelector("[data-tap-box]").hidden = false;
    if (this.empty()) this.page.querySelector("[data-tap-box]").open = true;
    this.page.dataset.awake = "";
  }

  // What the address says, without what this library doesn't know.
  fromAddress() {
    const { index, order, lexicon } = this.model;
    const said = readAddress(location.search, Object.keys(index.facets));
    said.checks = said.checks.filter((c) => Object.hasOwn(order.techniques, c.technique) && c.at.every((p) => Object.hasOwn(lexicon.names.place, p)));
    said.only = Object.fromEntries(Object.entries(said.only).filter(([facet, value]) => index.facets[facet].includes(value)));
    return said;
  }

  saying(key) {
    return this.page.querySelector(`template[data-say="${key}"]`).content.textContent;
  }

  // Why something could not be had; a piece that can't be read comes from another build, or came in pieces.
  why(fault) {
    return sentence(fault instanceof OtherBuild || fault instanceof SyntaxError ? this.saying("other-build") : fault.message);
  }

  empty() {
    return !this.input.value.trim() && !this.state.checks.length;
  }

  listen() {
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.changed();
      this.input.blur(); // puts the keyboard away, so that the answer is seen
    });
    this.form.addEventListener("reset", () => setTimeout(() => {
      this.state.checks = [];
      this.state.second = 0;
      this.changed();
      this.input.focus();
    }));
    let waiting;
    this.input.addEventListener("input", () => {
      this.page.querySelector("[data-tap-box]").open = false; // who types doesn't tap
      clearTimeout(waiting);
      waiting = setTimeout(() => this.changed(), TYPING);
    });
    for (const button of this.page.querySelectorAll("[data-tap]")) button.addEventListener("click", () => this.tap(button));
    this.page.querySelector("[data-more-causes]").addEventListener("click", async () => {
      this.view.moreCauses = true;
      await this.show();
      this.view.focusLink("causes", this.view.firstCauses);
    });
    this.page.querySelector("[data-more-cases]").addEventListener("click", async () => {
      this.view.moreCases = true;
      await this.show();
      this.view.focusLink("cases", this.view.firstCases);
    });
    window.addEventListener("popstate", () => {
      Object.assign(this.state, this.fromAddress());
      this.input.value = this.state.q;
      this.view.filtered(this.state.only);
      this.show();
    });
    window.addEventListener("pagehide", () => keepPlace({ moreCauses: this.view.moreCauses, moreCases: this.view.moreCases }));
  }

  // Seen, then looked for and not there, then out again: all of it is text in the box.
  tap(button) {
    const { tap, name } = button.dataset;
    const had = this.quick.understood.find((f) => (f.kind === "symptom" || f.kind === "absent") && f.keys[0] === tap);
    const called = name.toLowerCase().replaceAll(",", ""); // a comma would end what is denied
    const kept = had ? this.withoutTapped(called) ?? this.without(had) : this.input.value.trim();
    const said = !had ? called : had.kind === "symptom" ? `no ${called}` : "";
    this.input.value = [kept, said].filter(Boolean).join(", ");
    this.changed();
  }

  // The text without a finding's words, so that the others keep their meaning: in `no oil or bubbles` both need the
  // `no`, and of `oil at flare` the place stays.
  without(finding) {
    const text = this.input.value;
    const heard = (all) => all.map(({ kind, keys, at = [] }) => `${kind} ${keys.join()} ${at.join()}`).join("; ");
    const of = heard([finding]);
    const others = heard(this.quick.understood.filter((f) => f.start !== finding.start || heard([f]) !== of));
    const ways = [cut(text, finding, true), cut(text, finding, false)];
    if (this.quick.understood.some((f) => f.start < finding.end && finding.start < f.end && heard([f]) !== of)) {
      const said = [...text].slice(finding.start, finding.end).join("");
      for (const gap of said.matchAll(/\s+/g)) {
        const at = finding.start + [...said.slice(0, gap.index)].length;
        ways.push(cut(text, { ...finding, end: at }, true), cut(text, { ...finding, start: at }, false));
      }
    }
    return ways.find((left) => heard(this.heardIn(left)) === others) ?? ways[0];
  }

  // What an earlier tap wrote goes as a whole; null where it was typed in other words.
  withoutTapped(called) {
    const text = this.input.value;
    const at = text.toLowerCase().lastIndexOf(called);
    if (at < 0) return null;
    const start = [...text.slice(0, at)].length;
    return cut(text, { start, end: start + [...called].length }, true);
  }

  heardIn(text) {
    return this.engine.advise(text, { today: now() }).understood;
  }

  // Nothing is asked.
  quiet() {
    this.page.dataset.settled = "";
    this.status.textContent = this.view.say("ready");
  }

  get quick() {
    return this.engine.advise(this.input.value, this.asking());
  }

  // `second` finds are set right and did not explain the loss; while a later one stands, they are places found clean.
  asking() {
    const { checks, second } = this.state;
    const gear = this.unit?.gear ?? null;
    if (!second || this.finds() === second) return { checks, second: second > 0, today: now(), gear };
    let settled = second;
    return { checks: checks.map((c) => (c.result === "found" && settled-- > 0 ? { ...c, result: "clean" } : c)), today: now(), gear };
  }

  finds(last = Infinity) {
    return this.state.checks.slice(0, last).filter((c) => c.result === "found").length;
  }

  changed() {
    this.state.q = this.input.value;
    history.replaceState(null, "", location.pathname + writeAddress(this.state));
    this.show();
  }

  async show() {
    const turn = ++this.turn;
    clearTimeout(this.keeping);
    const answer = this.page.querySelector("[data-answer]");
    this.unit = this.registered ? onlyUnit(unitsOf(this.input.value, this.registered)) : null;
    const quick = this.quick;
    this.view.heard(quick.understood, (finding) => {
      this.input.value = this.without(finding);
      this.changed();
      this.input.focus({ preventScroll: true });
    });
    answer.hidden = this.empty();
    this.view.named([]);
    if (this.empty()) {
      this.quiet();
      return;
    }
    // The pieces of the index are on their way while causes and checks are drawn.
    const question = this.input.value; // what the box holds when the answer comes may be the next one
    const asked = this.engine.find(question, { ...this.asking(), only: this.only(), most: this.view.moreCases ? undefined : this.view.firstCases + 1 });
    asked.catch(() => {}); // told below
    const units = this.units(question);
    let alone = unitsAlone(question, quick) && !this.state.checks.length;
    answer.hidden = alone; // a check for no unit in particular would be wrong for this one
    this.draw(quick);
    units.then((found) => {
      if (turn !== this.turn) return;
      this.view.named(found);
      if (!this.unit && onlyUnit(found)) this.show(); // the register came: all of it anew, for this unit
    });
    performance.mark("leaklore-ranked");
    let full;
    try {
      full = await asked;
    } catch (fault) {
      if (turn !== this.turn) return;
      this.page.dataset.settled = "";
      this.view.noCases(); // those of the question before would be wrong
      this.status.textContent = this.view.say("cases-broken", { why: this.why(fault) });
      return;
    }
    const named = await units;
    if (turn !== this.turn) return; // an older question
    this.view.named(named, casesNamed(question, full.cases));
    alone &&= named.length > 0;
    answer.hidden = alone;
    this.view.cases(full, Boolean(this.only()));
    const n = full.cases.length;
    const nothing = !n && !full.understood.length;
    this.status.textContent = alone ? "" : nothing ? this.view.say("nothing") : this.view.say(n === 1 ? "one-case" : n > this.view.firstCases ? "cases-more" : "cases", { n: Math.min(n, this.view.moreCases ? n : this.view.firstCases) });
    this.page.dataset.answered = question;
    this.page.dataset.settled = "";
    performance.mark("leaklore-answered");
    if (this.back) scrollTo(0, this.back.y);
    this.back = null;
    if (!named.length) this.keepIfNothing(question, full);
  }

  // What the register says of the units that a question names; it is fetched for the first such.
  async units(question) {
    if (!unitsIn(question).length) return [];
    this.register ??= this.piece("../systems.json", "json").catch(() => {
      this.register = null; // asked for again next time
      return null;
    });
    this.registered = await this.register;
    return unitsOf(question, this.registered);
  }

  only() {
    return Object.keys(this.state.only).length ? this.state.only : null;
  }

  draw(answer) {
    this.view.causes(answer);
    this.view.next(answer, this.state, {
      mark: (check, result) => this.mark(check, result),
      undo: (i) => {
        if (this.state.checks[i].result === "found" && this.finds(i) < this.state.second) this.state.second -= 1;
        this.state.checks.splice(i, 1);
        this.changed();
        this.toNext();
      },
      act: (name, button) => this.act(name, button),
      bubble: (said, rate, refrigerant) => this.bubble(said, rate, refrigerant),
    });
  }

  mark({ technique, at }, result) {
    this.state.checks.push({ technique, at: [at], result });
    this.changed();
    this.toNext();
  }

  // What was pressed is gone: on with the next check.
  toNext() {
    const next = this.page.querySelector("#next");
    next.tabIndex = -1;
    next.focus({ preventScroll: true });
    next.scrollIntoView({ block: "start" });
  }

  async act(name, button) {
    if (name === "second") {
      this.state.second = this.finds();
      this.changed();
      this.toNext();
    } else if (name === "copy") {
      await this.hand(trailAsYaml(this.steps()), button);
    } else if (name === "record") {
      handOver(recordOf(this.quick, this.input.value, this.steps(), this.unit));
      location.assign(`${this.root}record/?begin=search`);
    } else if (name === "share") {
      if (navigator.share) await navigator.share({ title: this.view.say("sent-title"), text: this.input.value, url: location.href }).catch(() => {});
      else await this.hand(location.href, button);
    }
  }

  async hand(text, button) {
    const said = document.createElement("span");
    said.setAttribute("role", "status");
    try {
      if (!text) throw new Error("nothing to copy");
      await navigator.clipboard.writeText(text);
      said.textContent = this.view.say("copied");
    } catch {
      said.textContent = text ? this.view.say("not-copied", { text }) : this.view.say("no-steps");
    }
    button.parentElement.querySelector("[role=status]")?.remove();
    button.parentElement.append(said);
  }

  steps() {
    const { minutes } = this.model.order;
    const used = new Set();
    return this.state.checks.map((check) => {
      const level = this.model.order.areas.includes(check.at[0]) ? "area" : "part";
      const [first, later] = minutes[check.technique][level];
      const took = (used.has(check.technique) ? later : first) / 1000;
      if (check.result !== "skip") used.add(check.technique);
      return { ...check, minutes: took, points: this.view.points(check) };
    });
  }

  async bubble(said, rate, refrigerant) {
    const seconds = Number(said.replace(",", "."));
    if (!said.trim()) return { text: "" };
    if (!(seconds > 0) || !Number.isFinite(seconds)) return { bad: true };
    const parts = [import(new URL(`${this.root}js/trade/index.mjs`, location.href)), this.piece("../trade.json", "json")];
    const loaded = await Promise.all(parts).catch(() => null);
    if (!loaded) return { text: this.view.say("bubble-broken") };
    const [{ trade }, content] = loaded;
    const t = trade(content);
    const gas = t.refrigerants.all.find((r) => r.key === refrigerant) ?? t.refrigerants.all.find((r) => r.key === "R-410A") ?? t.refrigerants.all[0];
    const passes = bubblePasses(seconds, gas, t);
    const { times, more } = explainedBy(rate, passes, this.model.order.second_leak);
    const shown = { rate: this.view.rate(passes), times: times >= 10 ? Math.round(times) : times.toFixed(1) };
    return { text: this.view.say(more ? "more" : "explains", shown) };
  }

  keepIfNothing(q, full) {
    if (full.cases.length || this.only()) return;
    this.keeping = setTimeout(() => {
      keepUnanswered(q, dayOf(now()));
      this.unanswered();
    }, SETTLED);
  }

  unanswered() {
    const box = this.page.querySelector("[data-unanswered]");
    const list = unansweredList();
    box.hidden = !list.length;
    const rows = list.map(({ q, day }) => {
      const li = document.createElement("li");
      li.textContent = `${day}: ${q}`;
      return li;
    });
    box.querySelector("[data-unanswered-list]").replaceChildren(...rows);
    const [send, forget] = [box.querySelector("[data-unanswered-send]"), box.querySelector("[data-unanswered-forget]")];
    send.onclick = async () => {
      const text = unansweredAsText(unansweredList());
      if (navigator.share) await navigator.share({ text }).catch(() => {});
      else await this.hand(text, send);
    };
    forget.onclick = () => {
      forgetUnanswered();
      this.unanswered();
    };
  }
}

// Text without a finding's words, and without the commas that are left lying; `denial`: the `no` before it goes, too.
function cut(text, { start, end }, denial) {
  const letters = [...text];
  const said = letters.slice(0, start).join("");
  const before = denial ? said.replace(/\b(no|not|without|never)\s*$/i, "") : said;
  const after = letters.slice(end).join("");
  return `${before} ${after}`.replace(/\s*,(?:\s*,)+/g, ",").replace(/\s{2,}/g, " ").replace(/^[\s,;.]+|[\s,;]+$/g, "");
}

// Where the answer was scrolled to and how much of it was open, for who comes back from a case.
const KEPT_PLACE = "leaklore.place";

function keepPlace(open) {
  try {
    sessionStorage.setItem(KEPT_PLACE, JSON.stringify({ ...open, at: location.href.replace(/#.*/, ""), y: scrollY }));
  } catch {
    // refused: the answer opens at its top
  }
}

function keptPlace() {
  try {
    if (!["back_forward", "reload"].includes(performance.getEntriesByType("navigation")[0]?.type)) return null;
    const kept = JSON.parse(sessionStorage.getItem(KEPT_PLACE));
    return kept?.at === location.href.replace(/#.*/, "") && Number.isFinite(kept.y) ? kept : null;
  } catch {
    return null;
  }
}

// A fault's own words, closed with a full stop.
function sentence(text) {
  return /[.!?]$/.test(text) ? text : `${text}.`;
}

function now() {
  const day = new Date();
  return { year: day.getFullYear(), month: day.getMonth() + 1, day: day.getDate() };
}

function dayOf({ year, month, day }) {
  return `${year}-${String(month).padStart(2, "0")}-${String(day).padStart(2, "0")}`;
}

const searchElement = document.querySelector("[data-search]");
if (searchElement) {
  const opened = new SearchPage(searchElement);
  opened.ready.catch((fault) => {
    opened.page.dataset.settled = "";
    opened.status.textContent = opened.saying("broken").replace("{why}", () => opened.why(fault));
  });
  window.leaklore = {
    find: async (text, options = {}) => {
      await opened.ready;
      return opened.engine.find(text, { ...options, today: options.today ?? now() });
    },
    // The same without cases and pages, which needs no piece of the index.
    advise: async (text, options = {}) => {
      await opened.ready;
      return opened.engine.advise(text, { ...options, today: options.today ?? now() });
    },
  };
}
