// Holds the choice, and tells controls, charts, tables, list and address of it.
import { casesOf, isChosen, nothingChosen, sift, tallied } from "./filter.mjs";
import { inOrder, readChosen, writeChosen } from "./address.mjs";
import { Charts } from "./charts.mjs";
import { counted, fillTable, listCases, massOf, say, showPicked } from "./view.mjs";

const VERSION = 1;
const OPEN = ["when", "mode", "branch"];

class Explorer {
  constructor(page, data) {
    Object.assign(this, { page, data, charts: null });
    this.form = page.querySelector("[data-explore-form]");
    this.chosen = readChosen(location.search, data);
    this.wake();
    this.show();
    const wide = matchMedia("(min-width: 64rem)").matches; // on a phone the charts come first
    for (const part of this.form.querySelectorAll("[data-part]")) {
      part.open = wide && (OPEN.includes(part.dataset.part) || isChosen(this.chosen, part.dataset.part));
    }
  }

  facets() {
    return Object.keys(this.data.facets);
  }

  boxes(facet) {
    return [...this.form.elements].filter((e) => e.type === "checkbox" && e.name === facet);
  }

  wake() {
    this.form.addEventListener("submit", (event) => event.preventDefault());
    this.form.addEventListener("change", () => this.take(this.readForm()));
    this.form.addEventListener("reset", (event) => {
      event.preventDefault();
      this.take(nothingChosen(this.data));
    });
    for (const button of this.form.querySelectorAll("[data-year]")) {
      button.addEventListener("click", () => {
        const on = button.getAttribute("aria-pressed") === "true";
        const [from, to] = on ? ["", ""] : button.dataset.year.split(" ");
        this.form.elements.from.value = from;
        this.form.elements.to.value = to;
        this.take(this.readForm());
      });
    }
    addEventListener("popstate", () => {
      this.chosen = readChosen(location.search, this.data);
      this.show();
    });
  }

  readForm() {
    const asked = new URLSearchParams(new FormData(this.form));
    return readChosen(asked.toString(), this.data);
  }

  // A new choice. `done` is false while a window is being drawn: the address waits for its end.
  take(chosen, done = true) {
    this.chosen = inOrder(chosen);
    this.show();
    const query = writeChosen(this.chosen, this.data);
    if (done && query !== location.search) history.pushState(null, "", `${location.pathname}${query}`);
  }

  drawn(key, range, done) {
    const [low, high] = range ?? [null, null];
    const quarters = this.data.quarters.length;
    if (key === "quarters") {
      const within = range && { from: Math.max(0, low), to: Math.min(quarters, high) - 1 };
      this.take({ ...this.chosen, ...(within ?? { from: null, to: null }) }, done);
    } else this.take({ ...this.chosen, young: low, old: high }, done);
  }

  pressed(key) {
    const mode = new Set(this.chosen.mode);
    const number = this.data.facets.mode.keys.indexOf(key);
    if (!mode.delete(number)) mode.add(number);
    this.take({ ...this.chosen, mode });
  }

  show() {
    const { data, chosen, page } = this;
    this.found = sift(data, chosen);
    this.showControls();
    const cases = casesOf(data, this.found.fits);
    const leaks = this.found.fits.length;
    const all = new Set(data.leaks.case).size;
    page.querySelector("[data-told]").textContent = say(page, "told", {
      found: cases.size,
      all: counted(page, all, "case"),
      leaks: counted(page, leaks, "proven"),
    });
    page.querySelector("[data-few-said]").hidden = leaks === 0 || leaks >= Number(page.dataset.few);
    showPicked(page, this.picked());
    fillTable(page, "quarters", data.quarters, tallied(data, this.found.fits, "quarter", data.quarters.length));
    const { names } = data.facets.mode;
    fillTable(page, "modes", names, tallied(data, this.found.fits, "mode", names.length));
    listCases(page, data, cases);
    this.showCharts();
  }

  showControls() {
    const { data, chosen, form } = this;
    for (const facet of this.facets()) {
      const counts = tallied(data, this.found.beside[facet], facet, data.facets[facet].keys.length);
      for (const box of this.boxes(facet)) {
        const number = data.facets[facet].keys.indexOf(box.value);
        box.checked = chosen[facet].has(number);
        box.closest("label").querySelector("[data-leaks]").textContent = counts[number][0];
      }
      this.say(facet, say(this.page, chosen[facet].size ? "chosen" : "any", { n: chosen[facet].size }));
    }
    const asked = new URLSearchParams(writeChosen(chosen, data));
    for (const name of ["from", "to", "age-from", "age-to"]) form.elements[name].value = asked.get(name) ?? "";
    const whole = `${asked.get("from")} ${asked.get("to")}`;
    for (const button of form.querySelectorAll("[data-year]")) button.setAttribute("aria-pressed", String(button.dataset.year === whole));
    this.say("when", this.timeSaid() || say(this.page, "any"));
    this.say("age", this.ageSaid() || say(this.page, "any"));
  }

  say(part, text) {
    this.form.querySelector(`[data-said="${part}"]`).textContent = text;
  }

  timeSaid() {
    const { from, to } = this.chosen;
    const { quarters } = this.data;
    if (from !== null && to !== null) return from === to ? quarters[from] : say(this.page, "between", { from: quarters[from], to: quarters[to] });
    if (from !== null) return say(this.page, "from", { from: quarters[from] });
    return to === null ? "" : say(this.page, "until", { to: quarters[to] });
  }

  ageSaid() {
    const { young, old } = this.chosen;
    if (young !== null && old !== null) return say(this.page, "age-between", { from: young, to: old });
    if (young !== null) return say(this.page, "age-from", { from: young });
    return old === null ? "" : say(this.page, "age-until", { to: old });
  }

  picked() {
    const { data, chosen } = this;
    const found = this.facets().flatMap((facet) => [...chosen[facet]].map((number) => [data.facets[facet].names[number], () => {
      const left = new Set(chosen[facet]);
      left.delete(number);
      this.take({ ...chosen, [facet]: left });
    }]));
    if (this.timeSaid()) found.push([this.timeSaid(), () => this.take({ ...chosen, from: null, to: null })]);
    if (this.ageSaid()) found.push([this.ageSaid(), () => this.take({ ...chosen, young: null, old: null })]);
    return found;
  }

  showCharts() {
    const { data, chosen, found } = this;
    const fits = new Set(found.fits);
    const drawable = found.beside.age.filter((i) => data.leaks.age[i] !== null && data.leaks.lost[i] > 0);
    const left = found.fits.length - drawable.filter((i) => fits.has(i)).length;
    this.page.querySelector("[data-undrawn]").textContent = left
      ? counted(this.page, left, "undrawn") : "";
    if (!this.charts) return;
    const inTime = (q) => q >= (chosen.from ?? 0) && q <= (chosen.to ?? Infinity);
    const byQuarter = tallied(data, found.beside.when, "quarter", data.quarters.length);
    this.charts.show("quarters", byQuarter.map(([n], q) => ({
      start: q,
      end: q + 1,
      n,
      year: data.quarters[q].endsWith("Q1") ? data.quarters[q].slice(0, 4) : "",
      chosen: inTime(q),
      says: `${data.quarters[q]}: ${counted(this.page, n, "leak")}`,
    })), {}, isChosen(chosen, "when") ? [chosen.from ?? 0, (chosen.to ?? data.quarters.length - 1) + 1] : null);
    const { keys, names } = data.facets.mode;
    const byMode = tallied(data, found.beside.mode, "mode", keys.length);
    this.charts.show("modes", byMode.map(([n], row) => ({
      row,
      key: keys[row],
      n,
      name: `${chosen.mode.has(row) ? "✓ " : ""}${names[row]}`,
      chosen: !chosen.mode.size || chosen.mode.has(row),
      says: `${names[row]}: ${counted(this.page, n, "leak")}`,
    })), { most: Math.max(1, ...byMode.map(([n]) => n)) });
    const lost = data.leaks.lost.filter((kg) => kg > 0).map((kg) => kg / data.mass.kg);
    this.charts.show("ages", drawable.map((i) => ({
      age: data.leaks.age[i],
      lost: data.leaks.lost[i] / data.mass.kg,
      again: data.leaks.held[i] === 1,
      chosen: fits.has(i),
      says: `${data.leaks.case[i]}: ${massOf(data, data.leaks.lost[i])}, ${say(this.page, "years", { n: data.leaks.age[i].toFixed(1) })}`,
    })), {
      oldest: data.oldest,
      least: lost.reduce((a, b) => Math.min(a, b), 1) * 0.8,
      most: lost.reduce((a, b) => Math.max(a, b), 1) * 1.25,
      ageTitle: say(this.page, "age-title"),
      lostTitle: say(this.page, "lost-title", { unit: data.mass.unit }),
    }, isChosen(chosen, "age") ? [chosen.young ?? 0, chosen.old ?? data.oldest] : null);
  }

  async drawCharts(coming) {
    const boxes = Object.fromEntries([...this.page.querySelectorAll("[data-chart]")].map((box) => [box.dataset.chart, box]));
    try {
      const vega = await coming;
      this.charts = new Charts(vega, boxes, (...told) => this.drawn(...told), (key) => this.pressed(key));
      this.showCharts();
      this.charts.dress();
    } catch {
      this.charts = null;
      for (const box of Object.values(boxes)) box.hidden = true;
      for (const hint of this.page.querySelectorAll("[data-hint]")) hint.hidden = true;
      this.page.querySelector("[data-charts-fault]").hidden = false;
      return;
    }
    const again = () => this.charts.dress();
    for (const wish of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)", "(forced-colors: active)"]) {
      matchMedia(wish).addEventListener("change", again);
    }
    new MutationObserver(again).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
    this.page.dataset.drawn = "";
  }
}

async function wakeExplorer(page) {
  const coming = import("./vega-bundle.js");
  coming.catch(() => {}); // told below
  let data;
  try {
    const answer = await fetch(`${page.dataset.root}data/explore.json`);
    if (!answer.ok) throw new Error(String(answer.status));
    data = await answer.json();
    if (data.version !== VERSION) throw new Error(`version ${data.version}`);
  } catch {
    const fault = page.querySelector("[data-explore-fault]");
    fault.textContent = say(page, "fault");
    fault.hidden = false;
    page.querySelector("[data-explore-still]").hidden = true;
    return;
  }
  page.querySelector("[data-explore-still]").hidden = true;
  page.querySelector("[data-explore-room]").hidden = false;
  const explorer = new Explorer(page, data);
  page.dataset.awake = "";
  await explorer.drawCharts(coming);
}

for (const page of document.querySelectorAll("[data-explore]")) wakeExplorer(page);
