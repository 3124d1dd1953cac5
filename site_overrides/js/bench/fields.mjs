// One field of a bench: reads it, switches its unit and keeps the amount, tells what is wrong beside it.
import { reworded, say } from "../say.mjs";
import { fromSi, parse, toSi, unitOf, write } from "./units.mjs";

const STORE = "leaklore-unit-";

function kept(dimension) {
  try {
    return localStorage.getItem(STORE + dimension);
  } catch {
    return null;
  }
}

function keep(dimension, unit) {
  try {
    localStorage.setItem(STORE + dimension, unit);
  } catch {
    // storage refused: the choice lasts for this page
  }
}

export class Field {
  constructor(element, tables) {
    const { field, kind, dimension, waiting, told, record, only } = element.dataset;
    Object.assign(this, { element, tables, key: field, kind, dimension, waiting, record });
    this.told = told ? told.split("|") : [];
    this.only = only ? only.split("=") : null;
    this.optional = "optional" in element.dataset;
    this.inputs = [...element.querySelectorAll(`[name="${field}"]`)];
    this.input = this.inputs[0];
    this.units = element.querySelector("[data-unit]");
    this.unit = this.units?.value;
    this.problem = element.querySelector(".field__problem");
    this.si = null; // the exact amount while what stands in the field is only its short form
    this.start = { text: this.text, unit: this.unit };
  }

  get text() {
    if (this.kind === "tick") return this.input.checked ? "yes" : "no";
    if (this.inputs.length > 1) return this.inputs.find((one) => one.checked)?.value ?? "";
    return this.input.value;
  }

  set text(value) {
    this.si = null;
    if (this.kind === "tick") this.input.checked = value === "yes";
    else if (this.inputs.length > 1) for (const one of this.inputs) one.checked = one.value === value;
    else this.input.value = value;
  }

  // { value } in SI or as the kind has it, {} while empty, { problem } where it can't be read.
  read() {
    if (this.kind === "tick") return { value: this.input.checked };
    if (this.kind !== "quantity") return this.text ? { value: this.text } : {};
    if (this.si !== null) return { value: this.si };
    const found = parse(this.text);
    if (!found) return {};
    return found.problem ? { problem: reworded(found.problem) } : { value: toSi(found.value, unitOf(this.dimension, this.unit, this.tables)) };
  }

  // The amount stays: what was typed is turned into the new unit.
  switchTo(key) {
    if (key === this.unit || !unitOf(this.dimension, key, this.tables)) return;
    const { value } = this.read();
    this.unit = this.units.value = key;
    if (value === undefined) return;
    this.fill(value);
  }

  // Puts an amount in SI into the field, in the unit that it has; so many digits of it are shown.
  fill(si, digits = 6) {
    this.text = fromSi(si, unitOf(this.dimension, this.unit, this.tables), digits);
    this.si = si;
  }

  // At the start: the unit of last time, with the example's figure for it.
  restore() {
    if (!this.units) return;
    const unit = kept(this.dimension);
    const option = [...this.units.options].find((one) => one.value === unit);
    if (!option || unit === this.unit) return;
    if (option.dataset.default === undefined) return this.switchTo(unit);
    this.unit = this.units.value = unit;
    this.text = option.dataset.default;
  }

  remember() {
    keep(this.dimension, this.unit);
  }

  reset() {
    if (this.units) this.unit = this.units.value = this.start.unit;
    this.text = this.start.text;
    this.restore();
  }

  // As the address holds it: `1.5 lb`; nothing for an empty field.
  get query() {
    if (this.kind !== "quantity") return this.text;
    if (this.si !== null) return `${fromSi(this.si, unitOf(this.dimension, this.unit, this.tables), 12)} ${this.unit}`;
    return this.text.trim() ? `${this.text.trim()} ${this.unit}` : "";
  }

  set query(text) {
    if (this.kind !== "quantity") {
      const allowed = this.input.tagName === "SELECT" ? [...this.input.options].map((one) => one.value) : null;
      if (!allowed || allowed.includes(text)) this.text = text;
      return;
    }
    const [figure, unit] = text.trim().split(/\s+/);
    if (unit && unitOf(this.dimension, unit, this.tables)) {
      this.unit = this.units.value = unit;
      this.text = figure;
    } else if (figure && !unit && Number.isFinite(Number(figure))) {
      this.fill(Number(figure));
    } else {
      this.text = text; // told at the field
    }
  }

  // What stands here, as a sentence takes it.
  get said() {
    if (this.kind === "day") return this.text ? write(this.text, "day", "both", this.tables) : "";
    if (this.kind === "quantity") {
      return this.text.trim() ? `${this.text.trim().replace("-", "−")} ${unitOf(this.dimension, this.unit, this.tables).name}` : "";
    }
    if (this.inputs.length > 1) return this.inputs.find((one) => one.checked)?.parentElement.textContent.trim() ?? "";
    return this.input.tagName === "SELECT" ? (this.input.selectedOptions[0]?.textContent ?? "") : this.text;
  }

  tell(problem) {
    if (!this.problem) return;
    this.problem.hidden = !problem;
    this.problem.textContent = problem ?? "";
    if (problem) this.input.setAttribute("aria-invalid", "true");
    else this.input.removeAttribute("aria-invalid");
    const folded = problem && this.element.closest("details:not([open])");
    if (folded) folded.open = true;
  }

  // Limits of a formula, in the unit that stands here.
  limits({ field, low, high }) {
    const chosen = this.dimension && unitOf(this.dimension, this.unit, this.tables);
    const unit = chosen?.factor < 0 ? this.tables.dimensions[this.dimension].units[0] : chosen; // of what counts down, high is low
    if (!unit) return say("This does not fit here.");
    const figure = (si) => `${fromSi(si, unit, 4).replace("-", "−")} ${unit.name}`;
    if (field === "test pressure") return say("A test needs more pressure than the air outside.");
    if (low === 0 && !Number.isFinite(high)) return say("This has to be more than zero.");
    if (!Number.isFinite(high)) return say("This has to be above {low}.", { low: figure(low) });
    if (field === "half-way time") return say("This has to lie before the end ({high}).", { high: figure(high) });
    return say("This has to lie between {low} and {high}.", { low: figure(low), high: figure(high) });
  }
}
