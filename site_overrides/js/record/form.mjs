// The fields of the form: each reads and writes one place of the record; lists make and take out their entries.
import { Picker, searchable } from "./pick.mjs";

let entriesMade = 0;

// The value at a pointer ["search", 2, "at"]; undefined where there is none.
export function valueAt(record, pointer) {
  let found = record;
  for (const part of pointer) {
    if (found === null || typeof found !== "object" || !Object.hasOwn(found, part)) return undefined;
    found = found[part];
  }
  return found;
}

// Puts a value there, and makes the maps on the way; undefined takes it out, and maps that are left empty.
export function setAt(record, pointer, value) {
  const [first, ...rest] = pointer;
  if (!rest.length) {
    if (value === undefined) delete record[first];
    else record[first] = value;
    return;
  }
  if (record[first] === undefined || record[first] === null) {
    if (value === undefined) return;
    record[first] = typeof rest[0] === "number" ? [] : {};
  }
  setAt(record[first], rest, value);
  const held = record[first];
  if (value === undefined && !Array.isArray(held) && !Object.keys(held).length && typeof first === "string") delete record[first];
}

// ["search", 2, "at"] as search[2].at
export function pointerText(pointer) {
  return pointer.map((part, i) => (typeof part === "number" ? `[${part}]` : i ? `.${part}` : part)).join("");
}

// One field. `form` gives record, words, options and what is to happen after a change.
class RecordField {
  constructor(element, form, entry) {
    Object.assign(this, { element, form, entry, kind: element.dataset.kind, path: element.dataset.pointer.split(".") });
    this.problem = element.querySelector("[data-problem]");
    this.left = false;
    element.addEventListener("focusout", (event) => {
      if (element.contains(event.relatedTarget)) return;
      form.calm.later(this, () => {
        this.left = true;
        form.told();
      });
    });
    this.wake();
  }

  get pointer() {
    return this.entry ? [...this.entry.pointer, ...this.path] : this.path;
  }

  get value() {
    return valueAt(this.form.record, this.pointer);
  }

  set value(value) {
    setAt(this.form.record, this.pointer, value);
    this.form.changed(this);
  }

  wake() {
    this.input = this.element.querySelector("[data-input]");
    this.input.addEventListener("input", () => {
      this.value = this.read(this.input.value);
      this.grow();
    });
  }

  read(text) {
    return text.trim() === "" ? undefined : text;
  }

  show() {
    const { value } = this;
    this.input.value = value === undefined ? "" : String(value);
    this.grow();
  }

  // A box of prose is as high as what stands in it.
  grow() {
    if (this.input.tagName !== "TEXTAREA") return;
    this.input.removeAttribute("style");
    if (this.input.scrollHeight) this.input.style.blockSize = `${this.input.scrollHeight + 4}px`;
  }

  // What is to be marked and gone to where the field is wrong.
  get target() {
    return this.input ?? this.element.querySelector("input:not([hidden]), button");
  }

  // Tells the field's problems, or takes them away.
  tell(problems) {
    const text = problems.map((p) => this.form.problemWords(p));
    if (this.shown === text.join("\n")) return;
    this.shown = text.join("\n");
    this.problem.replaceChildren(
      ...text.map((words) => {
        const line = document.createElement("span");
        line.textContent = words;
        return line;
      }),
    );
    this.problem.hidden = !text.length;
    const marked = this.element.querySelectorAll("[data-input], [role=combobox], input[type=radio]");
    const wrong = problems.some((p) => p.severity !== "warning");
    for (const one of marked) {
      if (wrong) one.setAttribute("aria-invalid", "true");
      else one.removeAttribute("aria-invalid");
    }
  }
}

class NumberField extends RecordField {
  read(text) {
    const whole = text.trim();
    if (whole === "") return undefined;
    return /^-?[0-9]{1,9}$/.test(whole) ? Number(whole) : text;
  }
}

// The size of a tube.
class TubeField extends RecordField {
  read(text) {
    return super.read(this.form.typed.plainSize(text));
  }
}

// A number with its unit: units by button, and what it comes to in the other system beside it.
class QuantityField extends RecordField {
  wake() {
    super.wake();
    this.other = this.element.querySelector("[data-other]");
    this.input.addEventListener("input", () => this.said());
    this.element.addEventListener("click", (event) => {
      const unit = event.target.closest("[data-unit]");
      const sign = event.target.closest("[data-sign]");
      if (unit) this.put(withUnit(this.input.value, unit.dataset.unit));
      if (sign) this.put(MINUS.test(this.input.value) ? this.input.value.replace(MINUS, "") : `-${this.input.value.trim()}`);
    });
  }

  read(text) {
    return super.read(this.form.typed.plainAmount(text));
  }

  put(text) {
    this.input.value = text;
    this.input.focus({ preventScroll: true });
    this.input.setSelectionRange(text.length, text.length);
    this.value = this.read(text);
    this.said();
  }

  show() {
    super.show();
    this.said();
  }

  said() {
    const { value } = this;
    const text = value === undefined ? "" : this.form.otherUnit(value, this.element.dataset.dimension);
    this.other.textContent = text ? this.form.say("other-unit", { text }) : "";
  }
}

const MINUS = /^\s*[-−–]\s*/;
const UNIT = /[A-Za-z°/]+(?: (?:vac|abs)[a-z]*)?$/;

// 9 + lb = 9 lb; 9 lb 8 + oz = 9 lb 8 oz; 9 lb + kg = 9 kg
export function withUnit(text, unit) {
  const said = text.trim().replace(/([A-Za-z°])([0-9])/g, "$1 $2");
  if (!said) return "";
  if (/[0-9.]$/.test(said)) return `${said} ${unit}`;
  return said.replace(UNIT, unit);
}

// One of a few, as large buttons; `not said` takes the answer out.
class ChoiceField extends RecordField {
  wake() {
    this.element.addEventListener("change", (event) => {
      event.stopPropagation();
      const { value } = event.target;
      this.value = value === "" ? undefined : this.kind === "yes-no" ? value === "yes" : value;
    });
  }

  show() {
    const { value } = this;
    const said = value === undefined ? "" : typeof value === "boolean" ? (value ? "yes" : "no") : String(value);
    for (const one of this.element.querySelectorAll("input[type=radio]")) one.checked = one.value === said;
  }

  get target() {
    return this.element.querySelector("input[type=radio]:checked") ?? this.element.querySelector("input[type=radio]");
  }
}

// One or several of many, by typing.
class PickField extends RecordField {
  wake() {
    this.several = this.kind === "picks";
    this.chosen = this.element.querySelector("[data-chosen]");
    this.box = this.element.querySelector("[data-box]");
    this.picker = new Picker(this.element, {
      options: () => {
        const had = new Set(this.keys);
        return this.form.options(this.element.dataset.words, this).filter(({ key }) => !had.has(key));
      },
      pick: (key, stay = true) => this.add(key, stay),
      leave: (text) => this.add(text, false),
      none: this.form.say("pick-none"),
      calm: this.form.calm,
    });
    this.chosen.addEventListener("click", (event) => {
      const chip = event.target.closest("[data-key]");
      if (chip) this.drop(chip.dataset.key);
    });
  }

  get keys() {
    const { value } = this;
    return value === undefined ? [] : Array.isArray(value) ? value : [value];
  }

  add(key, stay = true) {
    this.value = this.several ? [...this.keys.filter((k) => k !== key), key] : key;
    this.show();
    if (!stay) return;
    if (this.several) this.picker.input.focus({ preventScroll: true });
    else this.chosen.querySelector("button")?.focus({ preventScroll: true });
    this.picker.close();
  }

  drop(key) {
    const left = this.keys.filter((k) => k !== key);
    this.value = this.several && left.length ? left : undefined;
    this.show();
    this.picker.input.focus({ preventScroll: true });
  }

  show() {
    const { keys } = this;
    this.chosen.replaceChildren(
      ...keys.map((key) => {
        const chip = this.form.part("chosen");
        const button = chip.querySelector("button");
        button.dataset.key = key;
        chip.querySelector("[data-slot=name]").textContent = this.form.nameOf(this.element.dataset.words, key);
        return chip;
      }),
    );
    this.chosen.hidden = !keys.length;
    this.box.hidden = !this.several && keys.length > 0;
  }

  get target() {
    return this.box.hidden ? this.chosen.querySelector("button") : this.picker.input;
  }
}

// Symptoms: each is seen, looked for and not there, or unsaid; two lists of the record in one field.
class SymptomField extends RecordField {
  wake() {
    this.rows = [...this.element.querySelectorAll("[data-symptom]")];
    this.filter = this.element.querySelector("[data-narrow]");
    this.words = searchable(this.rows.map((row) => ({ key: row.dataset.symptom, name: row.querySelector("[data-slot=name]").textContent })));
    this.element.addEventListener("click", (event) => {
      const button = event.target.closest("[data-said]");
      if (!button) return;
      const { symptom } = button.closest("[data-symptom]").dataset;
      this.say(symptom, button.getAttribute("aria-pressed") === "true" ? "" : button.dataset.said);
    });
    this.filter.addEventListener("input", (event) => {
      event.stopPropagation();
      this.narrow();
    });
  }

  // All of them, or those that what is typed may mean; what is said already always stands there.
  narrow() {
    const asked = plainWords(this.filter.value);
    const options = this.form.options("symptoms", this);
    const fits = new Set(options.filter(({ phrases }) => phrases.some((phrase) => asked.every((word) => ` ${phrase}`.includes(` ${word}`)))).map(({ key }) => key));
    for (const row of this.rows) row.hidden = asked.length > 0 && !fits.has(row.dataset.symptom);
    this.element.querySelector("[data-none]").hidden = this.rows.some((row) => !row.hidden);
  }

  say(key, said) {
    const lists = { symptoms: [], not_seen: [] };
    for (const name of Object.keys(lists)) lists[name] = (this.form.record[name] ?? []).filter((k) => k !== key);
    if (said) lists[said].push(key);
    for (const [name, keys] of Object.entries(lists)) setAt(this.form.record, [name], keys.length ? keys : undefined);
    this.left = true;
    this.form.changed(this);
    this.show();
  }

  show() {
    const { record } = this.form;
    for (const row of this.rows) {
      for (const button of row.querySelectorAll("[data-said]")) {
        button.setAttribute("aria-pressed", String((record[button.dataset.said] ?? []).includes(row.dataset.symptom)));
      }
    }
  }

  owns(pointer) {
    return pointer[0] === "symptoms" || pointer[0] === "not_seen";
  }

  get target() {
    return this.filter;
  }
}

function plainWords(text) {
  return text.toLowerCase().normalize("NFKD").replace(/\p{M}/gu, "").split(/[^\p{L}\p{N}]+/u).filter(Boolean);
}

const FIELD_KINDS = { integer: NumberField, tube: TubeField, quantity: QuantityField, choice: ChoiceField, "yes-no": ChoiceField, pick: PickField, picks: PickField, symptoms: SymptomField };

export function makeField(element, form, entry = null) {
  const Kind = FIELD_KINDS[element.dataset.kind] ?? RecordField;
  return new Kind(element, form, entry);
}

// One entry of a list: a check, a reading, a follow-up.
class ListEntry {
  constructor(list, index) {
    Object.assign(this, { list, index });
    const mark = `e${(entriesMade += 1)}`;
    this.element = list.template.content.firstElementChild.cloneNode(true);
    for (const element of [this.element, ...this.element.querySelectorAll("*")]) {
      for (const name of ["id", "for", "name", "aria-describedby", "aria-controls", "aria-labelledby"]) {
        const said = element.getAttribute(name);
        if (said?.includes("@")) element.setAttribute(name, said.replaceAll("@", mark));
      }
    }
    this.box = this.element.querySelector("details");
    this.title = this.element.querySelector("[data-title]");
    this.fields = [...this.element.querySelectorAll("[data-pointer]")].map((one) => makeField(one, list.form, this));
    this.element.querySelector("[data-drop]").addEventListener("click", () => list.drop(this));
    this.element.querySelector("[data-earlier]")?.addEventListener("click", () => list.earlier(this));
    this.element.querySelector("[data-close]").addEventListener("click", () => {
      this.box.open = false;
      this.element.querySelector("summary").focus({ preventScroll: true });
    });
    this.box.addEventListener("toggle", () => {
      for (const field of this.fields) if (field.input) field.grow();
    });
  }

  get pointer() {
    return [this.list.name, this.index];
  }

  get data() {
    return this.list.form.record[this.list.name]?.[this.index] ?? {};
  }

  show() {
    for (const field of this.fields) field.show();
    this.said();
  }

  // `2. Bubble test: flare at the indoor unit, 6 min, confirmed`
  said() {
    const told = this.list.form.entrySaid(this.list.name, this.data);
    this.title.textContent = this.list.form.say(told ? "entry-said" : "entry", { noun: this.list.noun, n: this.index + 1, said: told });
    const earlier = this.element.querySelector("[data-earlier]");
    if (earlier) earlier.hidden = this.index === 0;
  }
}

export class EntryList {
  constructor(element, form) {
    Object.assign(this, { element, form, name: element.dataset.list, noun: element.dataset.noun, entries: [] });
    this.holder = element.querySelector("[data-entries]");
    this.template = element.querySelector("template[data-entry-of]");
    this.problem = element.querySelector(":scope > [data-problem]");
    this.left = false;
    element.querySelector("[data-add]").addEventListener("click", () => this.add());
  }

  get pointer() {
    return [this.name];
  }

  get fields() {
    return this.entries.flatMap((entry) => entry.fields);
  }

  get target() {
    return this.element.querySelector("[data-add]");
  }

  show() {
    const data = this.form.record[this.name] ?? [];
    this.entries = data.map((_, i) => new ListEntry(this, i));
    this.holder.replaceChildren(...this.entries.map(({ element }) => element));
    for (const entry of this.entries) entry.show();
  }

  add() {
    const data = (this.form.record[this.name] ??= []);
    data.push(this.form.newEntry(this.name));
    for (const other of this.entries) other.box.open = false;
    const entry = new ListEntry(this, data.length - 1);
    this.entries.push(entry);
    this.holder.append(entry.element);
    entry.box.open = true;
    entry.show();
    this.form.changed(this);
    entry.fields[0].target?.focus();
  }

  drop(entry) {
    const [taken] = this.form.record[this.name].splice(entry.index, 1);
    if (!this.form.record[this.name].length) delete this.form.record[this.name];
    const { index } = entry;
    this.show();
    this.form.changed(this);
    this.form.undoable(this.form.say("entry-gone", { noun: this.noun, n: index + 1 }), () => {
      (this.form.record[this.name] ??= []).splice(index, 0, taken);
      this.show();
      this.form.changed(this);
    });
  }

  earlier(entry) {
    const data = this.form.record[this.name];
    const { index } = entry;
    [data[index - 1], data[index]] = [data[index], data[index - 1]];
    this.show();
    this.form.changed(this);
    const { element: moved, box } = this.entries[index - 1];
    box.open = true;
    (moved.querySelector("[data-earlier]:not([hidden])") ?? moved.querySelector("summary")).focus({ preventScroll: true });
  }

  tell(problems) {
    const text = problems.map((p) => this.form.problemWords(p)).join(" ");
    this.problem.textContent = text;
    this.problem.hidden = !text;
  }
}
