// Draws an answer. Words come from the page's templates, figures from the answer; nothing is built from HTML text.
import { fold, stem } from "./text.mjs";
import { reasonsFor } from "./reasons.mjs";

const FIRST_CAUSES = 3;
const FIRST_CASES = 6;
const LATER = 5;
const GROUP_NAMES = { symptom: "symptom", absent: "symptom", condition: "condition", setting: "setting", kind: "kind", refrigerant: "refrigerant" };
const LETTER_NAMES = { s: "symptom", n: "symptom", c: "condition", k: "kind", g: "setting", r: "refrigerant", p: "place", m: "mode", t: "technique", x: "technique" };
const POUND = 0.45359237;

export class SearchView {
  constructor(page, model) {
    Object.assign(this, { page, model, root: page.dataset.root, moreCauses: false, moreCases: false, firstCauses: FIRST_CAUSES, firstCases: FIRST_CASES });
    this.says = new Map([...page.querySelectorAll("template[data-say]")].map((t) => [t.dataset.say, t.content.textContent]));
    this.parts = new Map([...page.querySelectorAll("template[data-part]")].map((t) => [t.dataset.part, t.content]));
  }

  box(name) {
    return this.page.querySelector(`[data-${name}]`);
  }

  say(key, slots = {}) {
    return (this.says.get(key) ?? key).replace(/\{(\w+)\}/g, (whole, slot) => slots[slot] ?? whole);
  }

  name(kind, key) {
    return this.model.lexicon.names[kind]?.[key] ?? key;
  }

  names(kind, keys) {
    return keys.map((key) => this.name(kind, key)).join(this.say("or"));
  }

  part(name) {
    return this.parts.get(name).firstElementChild.cloneNode(true);
  }

  // Fills the slots of a part; a slot without a value goes away.
  filled(name, values) {
    const part = this.part(name);
    for (const slot of part.querySelectorAll("[data-slot]")) {
      const value = values[slot.dataset.slot];
      if (value === undefined || value === null || value === "") slot.remove();
      else if (value instanceof Node) slot.replaceChildren(value);
      else if (value !== true) slot.textContent = value;
    }
    return part;
  }

  // Units and cases that the question names by their number: the way to each, above everything else.
  named(units, cases = []) {
    const rows = [
      ...units.map(({ number, name, there, gear }) => [
        this.say(there ? "named-unit" : "named-none", { number: [number, name].filter(Boolean).join(": ") }),
        there ? `${this.root}systems/${number}/` : null,
        there && gear ? [gear.kind && this.name("kind", gear.kind), gear.refrigerant].filter(Boolean).join(", ") : "",
      ]),
      ...cases.map(({ id, title }) => [this.say("named-case", { number: `${id}: ${title}` }), `${this.root}cases/${id}/`]),
    ];
    const box = this.box("named");
    box.hidden = !rows.length;
    box.replaceChildren(
      ...rows.map(([said, href, gear]) => {
        const row = this.filled(href ? "named" : "named-none", { said, gear });
        if (href) row.querySelector("a").href = href;
        return row;
      }),
    );
  }

  mass(kg) {
    const lb = kg / POUND;
    const digits = (value) => (value >= 10 ? value.toFixed(0) : value.toPrecision(2).replace(/\.0$/, ""));
    return kg < 0.1 ? `${digits(kg * 1000)} g (${digits(lb * 16)} oz)` : `${digits(kg)} kg (${digits(lb)} lb)`;
  }

  span(years) {
    const [n, one, many] = years >= 1.5 || years === 1 ? [years, "year", "years"] : years >= 0.12 ? [years * 12, "month", "months"] : [years * 365.25, "day", "days"];
    const shown = Math.abs(n - Math.round(n)) < 0.05 || n >= 10 ? String(Math.round(n)) : n.toFixed(1);
    return `${shown} ${this.say(shown === "1" ? one : many)}`;
  }

  percent(p) {
    if (p > 0 && p < 0.01) return this.say("hardly");
    return `${Math.round(p * 100)} %`;
  }

  // Of the places that a word may mean those that such equipment can have: a split's coil is no display case's.
  fitting(places, gear) {
    const { on } = this.model.places;
    const fit = places.filter((place) => !gear.length || !on[place] || gear.some((kind) => on[place].includes(kind)));
    return this.names("place", fit.length ? fit : places);
  }

  heardAs({ kind, keys, value, at }, gear) {
    if (kind === "lost" || kind === "charge") return this.say(kind, { mass: this.mass(value) });
    if (kind === "over" || kind === "age") return this.say(kind, { years: this.span(value) });
    const of = { absent: "symptom", "not-place": "place", near: "place", "not-mode": "mode", clean: "technique" }[kind] ?? kind;
    const name = of === "place" ? this.fitting(keys, gear) : this.names(of, keys);
    const said = this.says.has(kind) ? this.say(kind, { name }) : name;
    return at?.length ? this.say("at", { what: said, places: this.fitting(at, gear) }) : said;
  }

  heard(findings, takeOut) {
    const list = this.box("heard");
    const gear = findings.filter(({ kind }) => kind === "kind").flatMap(({ keys }) => keys);
    list.replaceChildren(
      ...findings.map((finding) => {
        const chip = this.filled("heard", { said: this.heardAs(finding, gear) });
        const button = chip.querySelector("button");
        button.dataset.kind = finding.kind;
        if (["absent", "not-place", "not-mode", "clean"].includes(finding.kind)) button.classList.add("chip--absent");
        button.addEventListener("click", () => takeOut(finding));
        return chip;
      }),
    );
    this.box("heard-box").hidden = !findings.length;
    for (const button of this.page.querySelectorAll("[data-tap]")) {
      const seen = findings.some((f) => f.kind === "symptom" && f.keys[0] === button.dataset.tap);
      const absent = findings.some((f) => f.kind === "absent" && f.keys[0] === button.dataset.tap);
      button.setAttribute("aria-pressed", seen ? "true" : absent ? "mixed" : "false");
    }
  }

  reason({ group, key }) {
    if (group === "absent") return this.say("absent", { name: this.name("symptom", key) });
    const kind = GROUP_NAMES[group];
    return kind ? this.name(kind, key) : null;
  }

  causes(answer) {
    const shares = this.model.causes.modes.map((mode) => answer.causes.find((c) => c.mode === mode).probability);
    const shown = answer.causes.slice(0, this.moreCauses ? 10 : FIRST_CAUSES);
    this.box("doubt").hidden = answer.known;
    this.box("more-causes").hidden = this.moreCauses;
    this.box("causes").replaceChildren(
      ...shown.map((cause) => {
        const reasons = reasonsFor(this.model, answer.evidence, cause.mode, shares);
        const words = (list) => list.map((r) => this.reason(r)).filter(Boolean);
        const pro = [...this.told(cause, answer.evidence), ...words(reasons.filter((r) => r.shift > 0))].slice(0, 4).join(", ");
        const con = words(reasons.filter((r) => r.shift < 0)).slice(0, 4).join(", ");
        const cases = this.model.causes.counted[this.model.causes.modes.indexOf(cause.mode)];
        const sits = cause.places.slice(0, 2).map(({ at }) => this.name("place", at)).join(", ");
        const row = this.filled("cause", {
          name: cause.name,
          word: cause.word,
          percent: this.percent(cause.probability),
          places: sits && this.say("sits", { list: sits }),
          for: pro && this.say("speaks-for", { list: pro }),
          against: con && this.say("speaks-against", { list: con }),
          behind: this.say(cases ? (cases === 1 ? "behind-one" : "behind") : "behind-none", { n: cases }),
        });
        const address = `${this.root}guide/failure-modes/${cause.mode}/`;
        row.querySelector("[data-slot=name]").href = address;
        row.querySelector("[data-slot=behind]").href = `${address}#cases`;
        row.querySelector("rect").setAttribute("width", `${(cause.probability * 100).toFixed(1)}%`);
        return row;
      }),
    );
  }

  // `mark(check, result)` and `act(name)` are the page's.
  next(answer, state, { mark, undo, act, bubble }) {
    const box = this.box("next");
    const out = [this.summary(answer)];
    const found = state.checks.filter((c) => c.result === "found").slice(state.second).at(-1);
    if (state.second) out.push(this.line("section__note", this.say("second")));
    if (found) out.push(this.find(found, answer, { act, bubble }));
    const [first, ...rest] = answer.checks;
    if (first) out.push(this.first(first, answer, mark));
    else out.push(this.line("section__note", this.say("no-check")));
    if (rest.length) {
      const list = document.createElement("ol");
      list.className = "later";
      list.setAttribute("aria-label", this.say("then"));
      list.append(...rest.slice(0, LATER).map((check) => this.later(check, mark)));
      out.push(list);
      out.push(this.line("section__note", this.say("all", { n: Math.round(answer.minutes), missed: this.percent(answer.missed), checks: answer.checks.length })));
    }
    if (state.checks.length) out.push(this.trail(state.checks, undo, act));
    box.replaceChildren(...out);
  }

  // The causes in one line, for those who read the check first.
  summary(answer) {
    const p = this.line("search__sum", "");
    if (!answer.known) {
      p.textContent = this.say("unsure");
      return p;
    }
    const list = answer.causes.slice(0, 3).filter((c) => c.probability >= 0.05);
    const link = document.createElement("a");
    link.href = "#causes";
    link.textContent = list.map((c) => `${c.name} ${this.percent(c.probability)}`).join(", ");
    p.append(`${this.say("likely")} `, link);
    return p;
  }

  // Does a cause sit where it shows, or was it named? Both are reasons, and no table holds them.
  told({ mode, places }, { places: named, named: modes }) {
    const { inside } = this.model.places;
    const at = places[0]?.at;
    const shows = named.find((keys) => keys.some((key) => key === at || inside[key]?.includes(at)));
    return [shows && this.name("place", at), modes.includes(mode) && this.say("named")].filter(Boolean);
  }

  line(style, text) {
    const p = document.createElement("p");
    p.className = style;
    p.textContent = text;
    return p;
  }

  first(check, answer, mark) {
    const { technique, at, probability, minutes, why } = check;
    const reasons = document.createDocumentFragment();
    for (const key of why) {
      const li = document.createElement("li");
      li.textContent = this.say(`why-${key}`);
      reasons.append(li);
    }
    const keys = this.model.order.techniques[technique].cautions;
    const list = document.createDocumentFragment();
    for (const key of keys) {
      const { name, text } = this.model.cautions[key];
      const row = document.createElement("div");
      const [dt, dd] = [document.createElement("dt"), document.createElement("dd")];
      [dt.textContent, dd.textContent] = [name, text];
      row.append(dt, dd);
      list.append(row);
    }
    const part = this.filled("first", {
      "place-in-line": this.say("in-line", { n: answer.checks.length }),
      technique: this.name("technique", technique),
      at: this.name("place", at),
      percent: this.say("chance", { percent: this.percent(probability) }),
      minutes: this.say("minutes", { n: Math.max(1, Math.round(minutes)) }),
      why: why.length ? reasons : null,
      cautions: keys.length ? true : null,
      "caution-names": keys.map((key) => this.model.cautions[key].name).join("; "),
      "caution-list": list,
    });
    part.querySelector("[data-slot=technique]").href = `${this.root}guide/techniques/${technique}/`;
    this.marks(part, check, mark);
    return part;
  }

  later(check, mark) {
    const part = this.filled("later", {
      "technique-name": this.name("technique", check.technique),
      at: this.name("place", check.at),
      short: this.say("short", { percent: this.percent(check.probability), n: Math.max(1, Math.round(check.minutes)) }),
    });
    this.marks(part, check, mark);
    return part;
  }

  marks(part, check, mark) {
    part.dataset.check = `${check.technique}@${check.at}`;
    for (const button of part.querySelectorAll("[data-mark]")) {
      button.setAttribute("aria-label", `${button.textContent}: ${this.name("technique", check.technique)}, ${this.name("place", check.at)}`);
      button.addEventListener("click", () => mark(check, button.dataset.mark));
    }
  }

  what({ technique, at }) {
    return this.say("at", { what: this.name("technique", technique), places: this.names("place", at) });
  }

  trail(checks, undo, act) {
    const steps = document.createDocumentFragment();
    checks.forEach((check, i) => {
      const row = this.filled("step", { result: this.say(`did-${check.result}`), what: this.what(check) });
      row.querySelector("[data-slot=result]").classList.add(`result--${{ clean: "clean", found: "pinpointed", skip: "lead" }[check.result]}`);
      const button = row.querySelector("[data-undo]");
      button.setAttribute("aria-label", `${button.textContent}: ${this.what(check)}`);
      button.addEventListener("click", () => undo(i));
      steps.append(row);
    });
    const part = this.filled("trail", { steps });
    for (const button of part.querySelectorAll("[data-act]")) button.addEventListener("click", () => act(button.dataset.act, button));
    return part;
  }

  find(check, answer, { act, bubble }) {
    const points = this.points(check);
    const rate = answer.evidence.rate;
    const part = this.filled("found", {
      headline: this.say(points ? "found-head" : "sign-head", { what: this.what(check) }),
      confirm: points ? true : null,
      size: points ? true : null,
      lost: rate === null ? this.say("no-rate") : this.say("lost-rate", { rate: this.rate(rate) }),
      explained: " ",
      fix: answer.causes[0] && points ? true : null,
    });
    const fix = part.querySelector("[data-slot=fix]");
    if (fix) fix.href = `${this.root}guide/failure-modes/${answer.causes[0].mode}/#fix`;
    const input = part.querySelector("[data-bubble]");
    if (rate === null) input?.closest(".field").remove();
    else input?.addEventListener("input", async () => {
      const line = part.querySelector("[data-slot=explained]");
      const asked = input.value;
      const said = await bubble(asked, rate, answer.evidence.refrigerant);
      if (input.value === asked) line.textContent = said.bad ? this.say("bubble-bad") : said.text;
    });
    const second = part.querySelector("[data-act=second]");
    if (points) second.addEventListener("click", () => act("second"));
    else second.remove();
    return part;
  }

  rate(kg) {
    return `${this.mass(kg)} / ${this.say("year")}`;
  }

  points({ technique, at }) {
    const { techniques, areas } = this.model.order;
    return techniques[technique]?.finds === "points" && at.length === 1 && !areas.includes(at[0]);
  }

  shared(why) {
    return why
      .filter((term) => term[0] !== "w" && term[1] === ":")
      .map((term) => {
        const name = this.name(LETTER_NAMES[term[0]], term.slice(2));
        return term[0] === "n" ? this.say("absent", { name }) : term[0] === "x" ? this.say("clean", { name }) : name;
      })
      .join(", ");
  }

  focusLink(list, n) {
    this.box(list).children[n]?.querySelector("a").focus();
  }

  noCases() {
    this.box("cases").replaceChildren();
    for (const name of ["more-cases", "no-case", "pages-box"]) this.box(name).hidden = true;
  }

  cases(answer, narrowed) {
    const shown = answer.cases.slice(0, this.moreCases ? answer.cases.length : FIRST_CASES);
    this.box("more-cases").hidden = this.moreCases || answer.cases.length <= FIRST_CASES;
    this.box("no-case").hidden = answer.cases.length > 0;
    this.box("no-case-asked").hidden = narrowed;
    this.box("no-case-narrowed").hidden = !narrowed;
    const stems = new Set(answer.stems);
    this.box("cases").replaceChildren(
      ...shown.map((found) => {
        const [id, title, said, mode, component, kind, refrigerant, , proof, day] = found.line;
        const shared = this.shared(found.why);
        const row = this.filled("case", {
          id,
          date: day,
          title: marked(title, stems),
          cause: `${this.name("mode", mode)}: ${this.name("place", component).toLowerCase()}`,
          said: marked(said, stems),
          why: shared && this.say("shares", { list: shared }),
          proof: this.say(`proof-${proof}`),
        });
        row.querySelector("[data-slot=title]").href = `${this.root}cases/${id}/`;
        row.querySelector("[data-slot=date]").dateTime = day;
        row.querySelector(".proof").classList.add(`proof--${proof}`);
        row.querySelector("use").setAttribute("href", `${this.root}img/marks.svg#proof-${proof}`);
        row.querySelector("article").title = [this.name("kind", kind), refrigerant].filter(Boolean).join(", ");
        return row;
      }),
    );
    this.guide(answer.pages, stems);
  }

  guide(pages, stems) {
    this.box("pages-box").hidden = !pages.length;
    this.box("pages").replaceChildren(
      ...pages.map(({ kind, title, url, line }) => {
        const row = this.filled("page", { kind: this.say(`kind-${kind}`), title, said: marked(line?.[2] ?? "", stems) });
        row.querySelector("a").href = this.root + url;
        return row;
      }),
    );
  }

  filters(facets, only, change) {
    const labels = { setting: "setting", refrigerant: "refrigerant", mode: "mode" };
    for (const select of this.page.querySelectorAll("[data-only]")) {
      const facet = select.dataset.only;
      for (const value of facets[facet] ?? []) {
        if (!value) continue;
        const text = labels[facet] ? this.name(labels[facet], value) : this.says.has(`${facet}-${value}`) ? this.say(`${facet}-${value}`) : value;
        select.append(new Option(text, value));
      }
      select.addEventListener("change", () => change(facet, select.value));
    }
    this.filtered(only);
  }

  filtered(only) {
    const said = [];
    for (const select of this.page.querySelectorAll("[data-only]")) {
      select.value = only[select.dataset.only] ?? "";
      if (select.value) said.push(select.selectedOptions[0].textContent);
    }
    this.box("narrow-said").textContent = said.join(", ");
  }
}

// Text with the words of the query marked.
export function marked(text, stems) {
  const out = document.createDocumentFragment();
  let last = 0;
  for (const hit of text.matchAll(/[\p{L}\p{N}'’]+/gu)) {
    if (!stems.has(stem(fold(hit[0])))) continue;
    out.append(text.slice(last, hit.index));
    const mark = document.createElement("mark");
    mark.textContent = hit[0];
    out.append(mark);
    last = hit.index + hit[0].length;
  }
  out.append(text.slice(last));
  return out;
}
