// The search page: listens, keeps the address, asks the engine, shows the answer. `window.leaklore.find` is for others.
import { Engine } from "./find.mjs";
import { SearchView } from "./view.mjs";
import { readAddress, writeAddress } from "./address.mjs";
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
    const reply = await fetch(`${this.root}data/search/${path}`, fresh ? { cache: "reload" } : {});
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
    this.state = { ...readAddress(location.search, Object.keys(model.index.facets)), q: this.input.value };
    this.state.checks = this.state.checks.filter((c) => model.order.techniques[c.technique] && c.at.every((p) => model.lexicon.names.place[p]));
    this.view.filters(model.index.facets, this.state.only, (facet, value) => {
      this.state.only = { ...this.state.only, [facet]: value };
      if (!value) delete this.state.only[facet];
      this.changed();
    });
    if (Object.keys(this.state.only).length) this.page.querySelector("[data-narrow]").open = true;
    this.listen();
    this.unanswered();
    this.page.querySelector("[data-tap-box]").hidden = false;
    if (this.empty()) this.page.querySelector("[data-tap-box]").open = true;
    if (!this.empty()) this.show();
    else this.status.textContent = this.view.say("ready");
    this.page.dataset.awake = "";
  }

  saying(key) {
    return this.page.querySelector(`template[data-say="${key}"]`).content.textContent;
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
      this.state.second = false;
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
    this.page.querySelector("[data-more-causes]").addEventListener("click", () => {
      this.view.moreCauses = true;
      this.show();
    });
    this.page.querySelector("[data-more-cases]").addEventListener("click", () => {
      this.view.moreCases = true;
      this.show();
    });
    window.addEventListener("popstate", () => {
      Object.assign(this.state, readAddress(location.search, Object.keys(this.model.index.facets)));
      this.input.value = this.state.q;
      this.show();
    });
  }

  // Seen, then looked for and not there, then out again: all of it is text in the box.
  tap(button) {
    const { tap, name } = button.dataset;
    const had = this.quick.understood.find((f) => (f.kind === "symptom" || f.kind === "absent") && f.keys[0] === tap);
    const kept = had ? cut(this.input.value, had) : this.input.value.trim();
    const said = !had ? name.toLowerCase() : had.kind === "symptom" ? `no ${name.toLowerCase()}` : "";
    this.input.value = [kept, said].filter(Boolean).join(", ");
    this.changed();
  }

  get quick() {
    return this.engine.advise(this.input.value, { checks: this.checks(), today: now() });
  }

  // After a find that does not explain the loss, what was found counts as clean.
  checks() {
    return this.state.second ? this.state.checks.map((c) => (c.result === "found" ? { ...c, result: "clean" } : c)) : this.state.checks;
  }

  changed() {
    this.state.q = this.input.value;
    history.replaceState(null, "", location.pathname + writeAddress(this.state));
    this.show();
  }

  async show() {
    const turn = ++this.turn;
    const answer = this.page.querySelector("[data-answer]");
    const quick = this.quick;
    this.view.heard(quick.understood, (finding) => {
      this.input.value = cut(this.input.value, finding);
      this.changed();
      this.input.focus({ preventScroll: true });
    });
    answer.hidden = this.empty();
    if (this.empty()) {
      this.status.textContent = this.view.say("ready");
      return;
    }
    this.draw(quick);
    performance.mark("leaklore-ranked");
    let full;
    try {
      full = await this.engine.find(this.input.value, { checks: this.checks(), only: this.only(), today: now(), most: this.view.moreCases ? undefined : this.view.firstCases + 1 });
    } catch (fault) {
      if (turn === this.turn) this.status.textContent = this.view.say("cases-broken", { why: fault.message });
      return;
    }
    if (turn !== this.turn) return; // an older question
    this.view.cases(full);
    const n = full.cases.length;
    const nothing = !n && !full.understood.length;
    this.status.textContent = nothing ? this.view.say("nothing") : this.view.say(n === 1 ? "one-case" : n > this.view.firstCases ? "cases-more" : "cases", { n: Math.min(n, this.view.moreCases ? n : this.view.firstCases) });
    this.page.dataset.answered = this.input.value;
    performance.mark("leaklore-answered");
    this.keepIfNothing(full);
  }

  only() {
    return Object.keys(this.state.only).length ? this.state.only : null;
  }

  draw(answer) {
    this.view.causes(answer);
    this.view.next(answer, this.state, {
      mark: (check, result) => this.mark(check, result),
      undo: (i) => {
        this.state.checks.splice(i, 1);
        if (!this.state.checks.some((c) => c.result === "found")) this.state.second = false;
        this.changed();
      },
      act: (name, button) => this.act(name, button),
      bubble: (said, rate, refrigerant) => this.bubble(said, rate, refrigerant),
    });
  }

  mark({ technique, at }, result) {
    this.state.checks.push({ technique, at: [at], result });
    this.changed();
    const next = this.page.querySelector("#next");
    next.tabIndex = -1;
    next.focus({ preventScroll: true });
    next.scrollIntoView({ block: "start" });
  }

  async act(name, button) {
    if (name === "second") {
      this.state.second = true;
      this.changed();
    } else if (name === "copy") {
      await this.hand(trailAsYaml(this.steps()), button);
    } else if (name === "share") {
      if (navigator.share) await navigator.share({ title: this.view.say("sent-title"), text: this.input.value, url: location.href }).catch(() => {});
      else await this.hand(location.href, button);
    }
  }

  async hand(text, button) {
    const said = document.createElement("span");
    said.setAttribute("role", "status");
    try {
      await navigator.clipboard.writeText(text);
      said.textContent = this.view.say("copied");
    } catch {
      said.textContent = this.view.say("not-copied", { text });
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
    const [{ trade }, content] = await Promise.all([
      import(new URL(`${this.root}js/trade/index.mjs`, location.href)),
      this.piece("../trade.json", "json"),
    ]);
    const t = trade(content);
    const gas = t.refrigerants.all.find((r) => r.key === refrigerant) ?? t.refrigerants.all.find((r) => r.key === "R-410A") ?? t.refrigerants.all[0];
    const passes = bubblePasses(seconds, gas, t);
    const { times, more } = explainedBy(rate, passes, this.model.order.second_leak);
    const shown = { rate: this.view.rate(passes), times: times >= 10 ? Math.round(times) : times.toFixed(1) };
    return { text: this.view.say(more ? "more" : "explains", shown) };
  }

  keepIfNothing(full) {
    clearTimeout(this.keeping);
    if (full.cases.length || this.only()) return;
    const q = this.input.value;
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

// Text without a finding's words, and without the commas that are left lying.
function cut(text, { start, end }) {
  const letters = [...text];
  const before = letters.slice(0, start).join("").replace(/\b(no|not|without|never)\s*$/i, "");
  const after = letters.slice(end).join("");
  return `${before} ${after}`.replace(/\s*,(?:\s*,)+/g, ",").replace(/\s{2,}/g, " ").replace(/^[\s,;.]+|[\s,;]+$/g, "");
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
    opened.status.textContent = opened.saying("broken").replace("{why}", fault.message);
  });
  window.leaklore = {
    find: async (text, options = {}) => {
      await opened.ready;
      const { checks = [], only = null, today = now() } = options;
      return opened.engine.find(text, { checks, only, today });
    },
  };
}
