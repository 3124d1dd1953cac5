// The page of the unknown cases: filters the list, asks checks, shows answers, and what the search was worth.
import { UnknownCase, unpacked } from "./unknown.mjs";

const UNKNOWN_VERSION = 2;
const MINUTE = 60000;
const UNFINISHED_SEARCH = "leaklore-unknown:";

class UnknownPage {
  constructor(page) {
    Object.assign(this, { page, root: page.dataset.root, trail: [], chosen: null, open: new Set(), asked: new Date() });
    this.says = new Map([...page.querySelectorAll("template[data-say]")].map((t) => [t.dataset.say, t.content.textContent]));
    this.id = new URLSearchParams(location.search).get("case");
    if (this.id) {
      for (const box of page.querySelectorAll("[data-list-box]")) box.hidden = true;
      this.start();
    } else this.list();
  }

  box(name) {
    return this.page.querySelector(`[data-${name}]`);
  }

  say(key, slots = {}) {
    return (this.says.get(key) ?? key).replace(/\{(\w+)\}/g, (whole, slot) => slots[slot] ?? whole);
  }

  // A part with its slots filled; a slot without a value goes away.
  part(name, values, kind = "part") {
    const { content } = this.page.querySelector(`template[data-${kind}="${name}"]`);
    const part = (content.querySelector("[data-row]") ?? content.firstElementChild).cloneNode(true);
    for (const slot of [part, ...part.querySelectorAll("[data-slot]")]) {
      if (!slot.dataset.slot) continue;
      const value = values[slot.dataset.slot];
      if (value === undefined || value === null || value === "") slot.remove();
      else if (Array.isArray(value)) slot.replaceChildren(...value);
      else if (value instanceof Node) slot.replaceChildren(value);
      else slot.textContent = value;
    }
    return part;
  }

  items() {
    return [...this.page.querySelectorAll("[data-item][data-level]")];
  }

  list() {
    const form = this.box("filters");
    if (!form) return;
    const asked = new URLSearchParams(location.search);
    const fields = [...form.querySelectorAll("[data-only]")];
    for (const field of fields) field.value = asked.get(field.dataset.only) ?? "";
    const sift = () => {
      for (const field of fields) if (field.selectedIndex < 0) field.value = "";
      const all = this.items();
      for (const item of all) item.hidden = !fields.every((f) => !f.value || item.dataset[f.dataset.only] === f.value);
      const n = all.filter((item) => !item.hidden).length;
      for (const grade of this.page.querySelectorAll(".unknown__grade")) grade.hidden = !grade.querySelector("[data-item]:not([hidden])");
      this.box("shown").textContent = this.say(n === all.length ? "shown-all" : n ? "shown" : "shown-none", { n, all: all.length });
    };
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("change", () => {
      sift();
      const wanted = new URLSearchParams(fields.filter((f) => f.value).map((f) => [f.dataset.only, f.value])).toString();
      history.replaceState(null, "", wanted ? `?${wanted}` : location.pathname);
    });
    sift();
    this.page.dataset.awake = "";
  }

  async start() {
    this.box("status").textContent = this.say("loading");
    try {
      await this.load();
    } catch (fault) {
      for (const box of this.page.querySelectorAll("[data-list-box]")) box.hidden = false;
      this.list();
      this.box("status").textContent = this.say("broken", { why: fault.message });
      return;
    }
    this.box("status").textContent = "";
    this.trail = this.kept();
    window.addEventListener("storage", (event) => this.follow(event));
    this.head();
    this.form();
    this.box("other").addEventListener("click", () => this.choose(null));
    this.box("sure").addEventListener("click", () => {
      this.box("name-box").open = true;
      this.box("name").elements.place.focus();
    });
    this.box("again").addEventListener("click", () => this.again());
    this.box("list-head").hidden = true; // till now the page had no other head
    this.box("play").hidden = false;
    this.show();
    this.box("said").textContent = this.say(this.trail.length ? "resumed" : "ready");
    this.page.dataset.awake = "";
  }

  async load() {
    if (!this.items().some((item) => item.dataset.item === `unknown:${this.id}`)) throw new Error(this.say("unknown"));
    const reply = await fetch(`${this.root}data/learn/unknown/${encodeURIComponent(this.id)}.json`).catch(() => {
      throw new Error(this.say("no-connection"));
    });
    if (!reply.ok) throw new Error(`${reply.status}`);
    const file = await reply.json();
    if (file.version !== UNKNOWN_VERSION) throw new Error(this.say("other-version"));
    this.told = file.open;
    this.game = new UnknownCase(await unpacked(file.closed));
    this.names = new Map(this.told.places.map(([key, name]) => [key, name]));
    this.techniques = new Map(this.told.techniques.map(([key, name, cautions]) => [key, { name, cautions }]));
  }

  // The checks made so far, also by another tab or on another day.
  kept() {
    try {
      const trail = JSON.parse(shelf().getItem(this.shelfKey()));
      return (Array.isArray(trail) ? trail : []).filter((step) => Array.isArray(step) && this.game.checks.has(step.join(" ")));
    } catch {
      return []; // storage refused: a reload begins anew
    }
  }

  keep() {
    try {
      if (this.trail.length) shelf().setItem(this.shelfKey(), JSON.stringify(this.trail));
      else shelf().removeItem(this.shelfKey());
    } catch {
      // storage refused: a reload begins anew
    }
  }

  shelfKey() {
    return `${UNFINISHED_SEARCH}${this.id}`;
  }

  // Another tab went on with the same search: this one follows. What it ended stays open here, and is practice then.
  follow({ key, newValue }) {
    if (key !== this.shelfKey() || !newValue || this.box("search").hidden) return;
    this.trail = this.kept();
    this.show();
  }

  head() {
    const { title, facts, symptoms, absent } = this.told;
    this.box("title").textContent = title;
    document.title = document.title.replace(/^[^:]*/, title.replaceAll(":", ","));
    this.box("facts").replaceChildren(...facts.map(([label, value, more]) => this.part("fact", { label, value, more })));
    for (const [name, list] of [["seen", symptoms], ["absent", absent]]) {
      this.box(name).replaceChildren(...list.map((s) => this.part(name, { name: s })));
      this.box(`${name}-box`).hidden = !list.length;
    }
  }

  // Places by area: [area or "", places], the area itself first.
  areas() {
    const by = new Map();
    for (const [key, name, area] of this.told.places) by.set(area, [...(by.get(area) ?? []), { key, name }]);
    const sorted = [...by].sort(([a], [b]) => (a === "") - (b === "") || this.names.get(a).localeCompare(this.names.get(b)));
    return sorted.map(([area, places]) => [area, places.sort((p, q) => (q.key === area) - (p.key === area) || p.name.localeCompare(q.name))]);
  }

  form() {
    const select = this.box("name").elements.place;
    for (const [area, places] of this.areas()) {
      const group = document.createElement("optgroup");
      group.label = area ? this.names.get(area) : this.say("elsewhere");
      group.append(...places.map(({ key, name }) => new Option(key === area ? `${name}: ${this.say("only-area").toLowerCase()}` : name, key)));
      select.append(group);
    }
    this.box("name").addEventListener("submit", (event) => {
      event.preventDefault();
      this.end(event.target.elements.cause.value, event.target.elements.place.value);
    });
  }

  // Chooses a technique; null: none.
  choose(technique) {
    this.chosen = technique;
    this.show();
    if (technique) this.box("technique").focus();
    else this.box("techniques").querySelector("button").focus();
  }

  ask(place) {
    this.trail.push([this.chosen, place]);
    this.keep();
    const all = this.game.answers(this.trail);
    const said = all.at(-1);
    this.show();
    this.box("places").querySelector(`[data-key="${place}"]`).focus({ preventScroll: true });
    const agree = new Set(all.filter((a) => a.result === "found").map((a) => a.technique)).size > 1;
    const last = { found: this.say(agree ? "proven" : "confirm"), sign: this.say("narrow"), clean: "" }[said.result];
    // the result leads, with its sign; the rest of the sentence follows it
    const total = all.reduce((sum, a) => sum + a.minutes, 0);
    const words = this.say("answer", { result: "", technique: this.techniques.get(said.technique).name, place: this.names.get(place), minutes: said.minutes, total });
    const more = [said.readings.join("; "), said.done ? "" : `(${this.say("computed")})`, last].filter(Boolean).map((s) => (/[.)]$/.test(s) ? s : `${s}.`));
    this.box("said").replaceChildren(this.result(said.result, this.word(said)), document.createTextNode(` ${words.replace(/^[\s.]+/, "")} ${more.join(" ")}`));
    this.box("said").dataset.result = said.result;
  }

  isArea(place) {
    return this.told.places.some(([key, , area]) => key === place && area === place);
  }

  word({ result, place }) {
    return this.say(result === "sign" && this.isArea(place) ? "sign-area" : result);
  }

  result(kind, word) {
    return this.part(kind, { word }, "result");
  }

  // What the checks so far said of these places.
  marks(answers, places) {
    const here = answers.filter((a) => places.includes(a.place));
    if (here.some((a) => a.result === "found")) return this.say("marks-found");
    if (here.some((a) => a.result === "sign")) return this.say("marks-sign");
    return here.length ? this.say("marks-clean", { n: here.length }) : "";
  }

  show() {
    const answers = this.game.answers(this.trail);
    const minutes = answers.reduce((sum, a) => sum + a.minutes, 0);
    this.box("clock").textContent = this.say(answers.length === 1 ? "clock-one" : "clock", { n: minutes, checks: answers.length });
    const checks = [...this.game.checks.values()];
    this.box("techniques").hidden = this.chosen !== null;
    this.box("where").hidden = this.chosen === null;
    this.box("techniques").replaceChildren(
      ...[...this.techniques].map(([key, { name }]) => {
        const costs = checks.filter((c) => c.technique === key).map((c) => c.answers[0]);
        const [first, later] = [middle(costs.map((a) => a.first)), middle(costs.map((a) => a.later))];
        const button = this.part("technique", { name, costs: this.say(first === later ? "costs-same" : "costs", { first, later }) });
        button.addEventListener("click", () => this.choose(key));
        return button;
      }),
    );
    if (this.chosen) this.where(checks.filter((c) => c.technique === this.chosen), answers);
    this.box("trail-box").hidden = !answers.length;
    this.box("trail").replaceChildren(...answers.map((said) => this.step(said)));
  }

  where(checks, answers) {
    const { name, cautions } = this.techniques.get(this.chosen);
    this.box("technique").textContent = name;
    const templates = cautions.map((key) => this.page.querySelector(`template[data-caution="${key}"]`));
    this.box("caution-names").textContent = templates.map((t) => t.dataset.name).join("; ");
    this.box("caution-list").replaceChildren(...templates.map((t) => this.part("caution", { name: t.dataset.name, text: t.content.textContent })));
    const can = new Set(checks.map((c) => c.place));
    const groups = this.areas().map(([area, places]) => [area, places.filter((p) => can.has(p.key))]);
    const wide = matchMedia("(min-width: 64rem)").matches;
    for (const box of this.box("places").children) {
      this.open[box.open ? "add" : "delete"](box.dataset.area); // a "toggle" event would come too late for a slow phone
    }
    this.box("places").replaceChildren(
      ...groups
        .filter(([, places]) => places.length)
        .map(([area, places]) => {
          const buttons = places.map((place) => {
            const label = place.key === area ? this.say("whole", { area: place.name }) : place.name;
            const button = this.part("place", { name: label, marks: this.marks(answers, [place.key]) });
            button.dataset.key = place.key;
            button.addEventListener("click", () => this.ask(place.key));
            return button;
          });
          const keys = places.map((p) => p.key);
          const box = this.part("area", { name: area ? this.names.get(area) : this.say("elsewhere"), marks: this.marks(answers, keys), places: buttons });
          box.dataset.area = area;
          box.open = wide || this.open.has(area);
          return box;
        }),
    );
  }

  // A line of the trail; `late`: with what came out later.
  step(said, late = false) {
    const what = `${this.techniques.get(said.technique).name}: ${this.names.get(said.place)}`;
    const note = said.note && (late || !said.hindsight) ? said.note : "";
    const turned = late && said.hindsight ? this.say(said.result === "clean" ? "missed" : "false") : "";
    return this.part("step", {
      result: this.result(said.result, this.word(said)),
      what,
      took: this.say("took", { minutes: said.minutes }),
      reading: said.readings.join("; "),
      note: [turned, note].filter(Boolean).join(". "),
      computed: said.done ? "" : this.say("computed"),
    });
  }

  end(cause, place) {
    const { game } = this;
    const score = game.score(this.trail, cause, place);
    const { of } = game.rules;
    const causeName = (key) => this.box("name").querySelector(`option[value="${key}"]`).textContent;
    const truth = { cause: game.told.cause, place: inSentence(game.told.place) };
    this.box("search").hidden = true;
    this.box("name-box").hidden = true;
    this.box("trail-box").hidden = true;
    this.box("points").textContent = this.say("scored", { points: score.points, of });
    const right = place === game.component && cause === game.mode;
    this.box("verdict").textContent = this.say(right ? "right" : "wrong", { what: this.say("was", truth) });
    const link = this.box("case-link");
    link.textContent = `${this.id}: ${game.told.title}`;
    link.href = this.root + game.told.url;
    this.box("lesson").textContent = game.told.lesson;
    this.box("rows").replaceChildren(...this.rows(score, cause, place, causeName));
    const lapses = score.lapses.map((lapse) => this.lapse(lapse, cause, place, causeName));
    this.box("lapses").replaceChildren(...(lapses.length ? lapses : [this.say("no-lapse")]).map((text) => Object.assign(document.createElement("li"), { textContent: text })));
    this.walks(score);
    this.trail = [];
    this.keep();
    this.box("next").href = this.nextCase();
    this.box("debrief").hidden = false;
    this.box("points").focus();
    const minutes = Math.max(1, Math.round((new Date() - this.asked) / MINUTE));
    const detail = { key: `unknown:${this.id}`, score: score.points, of, minutes, once: true };
    document.dispatchEvent(new CustomEvent("leaklore-done", { detail }));
    this.box("practice").textContent = detail.first ? this.say("practice", detail.first) : "";
  }

  rows(score, cause, place, causeName) {
    const { game } = this;
    const { rules, record, way } = game;
    const named = this.names.get(place);
    const right = { point: "why-place-proven", once: "why-place-once" }[score.proof] ?? "why-place-unproven";
    const held = place === game.component ? right : score.place ? "why-place-area" : "why-place";
    const wayMinutes = way.minutes === null ? this.say("not-found") : this.say("min", { n: way.minutes });
    // without the place both are worth nothing, however few they were
    const open = score.foundAfter === null ? "why-none" : place === game.component ? "" : "why-elsewhere";
    const told = [
      ["place", rules.place, this.say(held, { named: inSentence(named), true: held === right ? game.told.place : inSentence(game.told.place) })],
      ["cause", rules.cause, this.say(score.cause ? "why-cause-right" : "why-cause", { named: inSentence(causeName(cause)), true: score.cause ? game.told.cause : inSentence(game.told.cause) })],
      ["pace", rules.pace, this.say(open || "why-pace", { you: score.foundAfter, crew: record.minutes, way: wayMinutes })],
      ["aim", rules.aim, this.say(open || "why-aim", { you: score.vain, crew: record.vain, way: way.vain })],
    ];
    return told.map(([key, of, why]) => this.part("row", { for: this.say(`for-${key}`), points: this.say("points", { n: score[key], of }), why }));
  }

  lapse({ kind, check }, cause, place, causeName) {
    const { likely, against } = this.game.suspects.get(cause);
    const percent = likely < 10 ? this.say("under-one") : this.say("percent", { n: Math.round(likely / 10) });
    const [technique, spot] = check === null ? ["", place] : this.trail[check];
    const slots = {
      n: check === null ? "" : check + 1,
      technique: this.techniques.get(technique)?.name,
      place: inSentence(this.names.get(spot)),
      cause: causeName(cause),
      percent,
      list: against.join(", "),
    };
    return this.say(kind === "against" && !against.length ? "lapse-against-plain" : `lapse-${kind}`, slots);
  }

  walks(score) {
    const { record, way } = this.game;
    const stop = ([technique, at, result, minutes], word) =>
      this.part("step", {
        result: this.result(result, word),
        what: `${this.techniques.get(technique).name}: ${at.map((p) => this.names.get(p)).join(", ")}`,
        took: this.say("took", { minutes }),
      });
    const sum = (minutes, vain) => (minutes === null ? this.say("walk-open", { vain }) : this.say("walk", { n: minutes, vain }));
    const lists = [
      ["you", sum(score.foundAfter, score.vain), this.game.answers(this.trail).map((said) => this.step(said, true))],
      ["crew", sum(record.minutes, record.vain), record.stops.map((s) => stop(s, this.say(`record-${s[2]}`)))],
      ["way", sum(way.minutes, way.vain), way.stops.map((s) => stop(s, this.word({ result: s[2], place: s[1][0] })))],
    ];
    const boxes = lists.map(([who, words, steps]) => this.part("walk", { who: this.say(who), sum: words, steps }));
    if (matchMedia("(min-width: 64rem)").matches) for (const box of boxes) box.open = true;
    this.box("walks").replaceChildren(...boxes);
  }

  // The one after it in the list, round and round.
  nextCase() {
    const keys = this.items().map((item) => item.dataset.item.slice("unknown:".length));
    return `?case=${encodeURIComponent(keys[(keys.indexOf(this.id) + 1) % keys.length])}`;
  }

  again() {
    Object.assign(this, { chosen: null, asked: new Date() });
    this.box("name").reset();
    for (const name of ["search", "name-box"]) this.box(name).hidden = false;
    this.box("name-box").open = false;
    this.box("debrief").hidden = true;
    this.show();
    this.box("said").textContent = this.say("ready");
    delete this.box("said").dataset.result;
    this.box("title").focus();
  }
}

// The phone's own storage; of a package, which many learners may open on one computer, no longer than the window.
function shelf() {
  return window.parent === window ? localStorage : sessionStorage;
}

// The middle one of these numbers: what the crew did here moves it least.
function middle(numbers) {
  return [...numbers].sort((a, b) => a - b)[numbers.length >> 1];
}

// A name inside a sentence; what begins with two capitals or a code stays.
function inSentence(name) {
  return /^[A-Z]{2}|^.-/.test(name) ? name : name[0].toLowerCase() + name.slice(1);
}

for (const page of document.querySelectorAll("[data-unknown]")) new UnknownPage(page);
