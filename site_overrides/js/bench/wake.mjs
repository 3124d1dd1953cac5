// Wakes a page of the work bench: fields, live answer, address, prefill. The example of the build stays until this works.
import { OutOfRange, TradeError, trade } from "../trade/index.mjs";
import { ANSWERS } from "./answers.mjs";
import { Field } from "./fields.mjs";
import { load, Unreachable } from "./load.mjs";
import { factsFor, prefill } from "./prefill.mjs";
import { reworded, say, speak } from "../say.mjs";
import { show } from "./show.mjs";

const VERSIONS = { bench: 1, trade: 1 };
const PAUSE = 250; // ms; the address follows typing at this distance

export async function wakeBench(page) {
  if (page.dataset.words) speak(JSON.parse(page.dataset.words));
  const still = page.querySelector("[data-bench-still]");
  try {
    const { root } = page.dataset;
    const [tables, content] = await Promise.all(Object.entries(VERSIONS).map(([name, version]) => load(root, name, version)));
    await new Bench(page, tables, trade(content)).start();
  } catch (fault) {
    if (!(fault instanceof Unreachable)) console.error(fault);
    const why = fault instanceof Unreachable ? reworded(fault.message) : say("Something on this page is broken.");
    still.textContent = say("{why} What stands here is the worked example of the build; the fields can’t be changed.", { why });
    still.classList.add("bench__still--failed");
  }
}

class Bench {
  constructor(page, tables, t) {
    Object.assign(this, { page, tables, t, compute: ANSWERS[page.dataset.bench] });
    const known = new Set(t.refrigerants.all.filter((r) => t.tables.has(r)).map((r) => r.key));
    for (const option of page.querySelectorAll("select[name=refrigerant] option")) option.disabled = !known.has(option.value);
    this.fields = new Map([...page.querySelectorAll("[data-field]")].map((element) => [element.dataset.field, new Field(element, tables)]));
    this.bodies = [...page.querySelectorAll("[data-bench-body]")];
    this.state = page.querySelector("[data-bench-state]");
    this.asked = new URL(location.href).searchParams;
    this.touched = [...this.fields.keys()].some((key) => this.asked.has(key));
  }

  async start() {
    for (const field of this.fields.values()) {
      if (field.kind === "day") field.text = field.start.text = today();
      field.restore();
      if (this.asked.has(field.key)) field.query = this.asked.get(field.key);
    }
    await this.fromRecord();
    this.listen();
    this.page.querySelector("[data-bench-still]").hidden = true;
    this.page.querySelector("[data-bench-inputs]").disabled = false;
    this.page.querySelector("[data-bench-acts]").hidden = false;
    this.update();
    this.page.dataset.awake = "";
  }

  async fromRecord() {
    const line = this.page.querySelector("[data-bench-from]");
    let found;
    try {
      found = await factsFor(this.asked, this.page.dataset.root, this.t);
    } catch (fault) {
      if (!(fault instanceof Unreachable)) throw fault;
      line.hidden = false;
      line.textContent = say("The record could not be read, so the example’s figures stand here. {why}", { why: reworded(fault.message) });
      return;
    }
    if (!found) return;
    line.hidden = false;
    if (!found.facts) {
      line.textContent = say("There is no {wanted} in this library; the example’s figures stand here.", { wanted: found.wanted });
      return;
    }
    const { taken, lacking } = prefill(found.facts, this.fields, this.asked, this.t);
    const link = document.createElement("a");
    link.href = this.page.dataset.root + found.facts.url;
    link.textContent = `${found.facts.id}: ${found.facts.name}`;
    const mark = "\0"; // where the link goes in
    const told = taken.length
      ? say("From {record}. Taken from the record: {fields}.", { record: mark, fields: taken.join(", ") })
      : say("From {record}. Taken from the record: nothing.", { record: mark });
    const [before, after] = told.split(mark);
    line.replaceChildren(before, link, after);
    if (found.facts.circuit && taken.some((name) => name === this.fields.get("rest")?.waiting)) line.append(` ${line.dataset.guessed}`);
    if (lacking.length) line.append(` ${say("Not on record, please fill in: {fields}.", { fields: lacking.join(", ") })}`);
  }

  listen() {
    const form = this.page.querySelector("[data-bench-form]");
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("input", (event) => this.changed(event.target));
    form.addEventListener("change", (event) => this.changed(event.target));
    form.addEventListener("click", (event) => {
      const sign = event.target.closest("[data-sign]");
      if (!sign) return;
      const field = this.fields.get(sign.closest("[data-field]").dataset.field);
      const text = field.text.trim();
      field.text = /^[-−]/.test(text) ? text.slice(1) : `-${text}`;
      field.input.focus();
      this.changed(field.input);
    });
    this.page.querySelector("[data-bench-share]").addEventListener("click", () => this.share());
    this.page.querySelector("[data-bench-print]").addEventListener("click", () => window.print());
    this.page.querySelector("[data-bench-reset]").addEventListener("click", () => this.reset());
  }

  changed(target) {
    const field = this.fields.get(target.closest("[data-field]")?.dataset.field);
    if (!field) return;
    if (target === field.units) this.switchUnits(field.dimension, target.value);
    else field.si = null;
    this.touched = true;
    this.update();
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => {
      this.remember();
      this.page.querySelector("[data-bench-heard]").textContent = this.first; // for who listens: not at every key
    }, PAUSE);
  }

  // One choice a dimension: all fields of it switch, and the next page begins with it.
  switchUnits(dimension, unit) {
    const alike = [...this.fields.values()].filter((field) => field.dimension === dimension);
    for (const field of alike) field.switchTo(unit);
    alike[0].remember();
  }

  remember() {
    const address = new URL(location.href);
    const record = ["system", "case"].filter((key) => this.asked.get(key)).map((key) => [key, this.asked.get(key)]);
    const inputs = [...this.fields.values()].filter((field) => !field.element.hidden).map((field) => [field.key, field.query]);
    address.search = this.touched ? String(new URLSearchParams([...record, ...inputs])) : String(new URLSearchParams(record));
    history.replaceState(null, "", address);
  }

  reset() {
    for (const field of this.fields.values()) field.reset();
    this.asked = new URLSearchParams();
    this.touched = false;
    this.page.querySelector("[data-bench-from]").hidden = true;
    this.update();
    this.remember();
  }

  async share() {
    this.touched = true;
    clearTimeout(this.waiting);
    this.remember();
    const said = this.page.querySelector("[data-bench-said]");
    try {
      await navigator.clipboard.writeText(location.href);
      said.textContent = say("Copied: whoever opens it sees these figures.");
    } catch {
      said.textContent = say("Copy it from the address bar: it holds these figures.");
    }
  }

  update() {
    for (const field of this.fields.values()) {
      if (field.only) field.element.hidden = this.fields.get(field.only[0]).text !== field.only[1];
      field.tell(null);
    }
    const asked = [...this.fields.values()].filter((field) => !field.element.hidden);
    const inputs = Object.fromEntries([...this.fields.keys()].map((key) => [key, null]));
    const missing = [];
    let wrong = 0;
    for (const field of asked) {
      const { value, problem } = field.read();
      if (problem) {
        field.tell(problem);
        wrong += 1;
      } else if (value === undefined) {
        if (!field.optional && field.kind !== "tube") missing.push(field.waiting);
      } else {
        inputs[field.key] = value;
      }
    }
    if (wrong) return this.hold(say("Something in the fields can’t be read; it is told there."));
    if (missing.length) return this.hold(say("Waiting for: {fields}.", { fields: missing.join(", ") }));
    try {
      const answer = this.compute(inputs, this.t);
      show(this.page, answer, this.fields, this.tables);
    } catch (fault) {
      if (!(fault instanceof TradeError)) throw fault;
      this.refuse(fault, asked, inputs);
      return undefined;
    }
    this.state.hidden = true;
    for (const body of this.bodies) body.hidden = false;
    this.first = this.told();
    this.peek(this.first, false);
    return undefined;
  }

  // A formula refuses a value: told at the field that holds it.
  refuse(fault, asked, inputs) {
    const possible = asked.filter((field) => field.told.includes(fault.field) || field.key === fault.field);
    const near = (field) => Math.abs(inputs[field.key] - fault.value) <= 1e-9 * Math.abs(fault.value);
    const field = possible.find(near) ?? possible[0];
    if (!field) return this.hold(say("No answer for these figures: {why}.", { why: reworded(fault.message) }));
    field.tell(fault instanceof OutOfRange ? field.limits(fault) : `${reworded(fault.message)}.`);
    return this.hold(say("No answer for this field ({field}); what it takes is told there.", { field: field.waiting }));
  }

  // The first figure of the answer that says more than what was typed.
  told() {
    const bare = (text) => text.replace(/\s/g, "");
    const typed = new Set([...this.fields.values()].map((field) => bare(field.said)));
    const figures = [...this.bodies[0].querySelectorAll(".answer__value, [data-figure]")].filter((one) => !one.closest("[hidden]"));
    return (figures.find((one) => !typed.has(bare(one.textContent))) ?? figures[0])?.textContent ?? "";
  }

  // On a phone the answer lies below the fields: its first figure stands at the foot while they are in view.
  peek(text, words) {
    const place = this.page.querySelector("[data-bench-peeked]");
    place.textContent = text;
    place.classList.toggle("bench__peek--words", words);
    this.page.querySelector("[data-bench-peek]").hidden = !text;
  }

  hold(words) {
    this.state.textContent = words;
    this.state.hidden = false;
    for (const body of this.bodies) body.hidden = true;
    this.first = "";
    this.peek(words, true);
  }
}

function today() {
  const now = new Date();
  const two = (n) => String(n).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
