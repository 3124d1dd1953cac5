// The page on which a case is recorded: one draft at a time, kept at every key, checked as `leaklore check` does.
import { forgetLeftBehind, leaveBehind, openDraftStore, pickUpLeftBehind } from "./store.mjs";
import { CalmQueue } from "./calm.mjs";
import { searchable } from "./pick.mjs";
import { EntryList, makeField, pointerText, valueAt } from "./form.mjs";
import { PhotoField, loadPhotoTools } from "./photos_ui.mjs";
import { inOtherUnit } from "./other_unit.mjs";
import { RegisterOfSystems } from "./register.mjs";
import { saidOfEntry } from "./said.mjs";
import { markedDraft, packedDraft, passOn } from "./parcel.mjs";
import { DraftShelf } from "./shelf.mjs";
import { takeHanded } from "./handed.mjs";

const SAVE_AFTER = 150; // ms without a key
const CHECK_AFTER = 200; // ms
const UNDO_FOR = 30_000; // ms
const HABITS = "leaklore.record.habits"; // branch and crew of the last record: the next one begins with them
const RECORD_VERSION = 1;
const BEGUN = new Set(["system", "reported", "branch", "crew"]); // what stands in a draft before anything is entered

// The time of day as this phone writes it; with its day where that is not today.
function clock(ms) {
  const then = new Date(ms);
  const time = then.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  return then.toDateString() === new Date().toDateString() ? time : `${then.toLocaleDateString()}, ${time}`;
}

function thisDay() {
  const now = new Date();
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, "0")}-${String(now.getDate()).padStart(2, "0")}`;
}

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(4));
  return `draft-${thisDay().replaceAll("-", "")}-${[...bytes].map((byte) => byte.toString(36).padStart(2, "0")).join("").slice(0, 6)}`;
}

// Where a problem is told: what is missing, at its own field and not at the block it is missing from.
function placeOf({ pointer, message, rule }) {
  if (!pointer.length && rule === "reference/equipment") return ["system"]; // where the unit is named
  const missing = rule === "schema/required" && /"(\w+)"/.exec(message);
  return missing ? [...pointer, missing[1]] : pointer;
}

class RecordPage {
  constructor(page) {
    Object.assign(this, { page, root: page.dataset.root, lists: new Map(), asked: false, shownOptions: new Map(), tab: newKey() });
    this.register = new RegisterOfSystems({ load: (path) => this.load(path), nameOf: (...word) => this.nameOf(...word), say: (...words) => this.say(...words) });
    this.calm = new CalmQueue(document);
    this.find = (name) => page.querySelector(`[data-${name}]`);
    this.ready = this.start();
  }

  clock(ms) {
    return clock(ms);
  }

  say(key, slots = {}) {
    const text = this.page.querySelector(`template[data-say="${key}"]`).content.textContent;
    return text.replace(/\{(\w+)\}/g, (whole, name) => (Object.hasOwn(slots, name) ? String(slots[name]) : whole));
  }

  part(name, mark = "") {
    const made = this.page.querySelector(`template[data-part="${name}"]`).content.firstElementChild.cloneNode(true);
    for (const element of made.querySelectorAll("*")) {
      for (const attribute of ["id", "for", "aria-describedby"]) {
        const said = element.getAttribute(attribute);
        if (said?.includes("@")) element.setAttribute(attribute, said.replaceAll("@", mark));
      }
    }
    return made;
  }

  async load(path) {
    const reply = await fetch(`${this.root}data/${path}`).catch(() => {
      throw new Error(this.say("no-connection"));
    });
    if (!reply.ok) throw new Error(`${path}: ${reply.status}`);
    return reply.json();
  }

  async start() {
    const [data, schema, drafts, zip, quantity, typed] = await Promise.all([this.load("record.json"), this.load("schema/case.schema.json"), import("./record/draft.mjs"), import("./record/zip.mjs"), import("./record/quantity.mjs"), import("./trade/typed.mjs"), loadPhotoTools()]);
    if (data.version !== RECORD_VERSION) throw new Error(this.say("other-edition"));
    Object.assign(this, { data, schema, drafts, zip, typed, read: quantity.make(data).read });
    this.store = await openDraftStore();
    await pickUpLeftBehind(this.store);
    this.fields = [...this.page.querySelectorAll("[data-form] [data-pointer]")].map((element) => makeField(element, this));
    for (const element of this.page.querySelectorAll("[data-list]")) this.lists.set(element.dataset.list, new EntryList(element, this));
    this.shelf = new DraftShelf(this.find("drafts"), this);
    this.photos = new PhotoField(this.page.querySelector(".photo-field"), this);
    this.listen();
    await this.open();
    this.find("awake-only").hidden = false;
    for (const field of this.fields) if (field.input) field.grow(); // now that it can be measured
    this.page.dataset.awake = "";
    this.fetchRegister();
  }

  // The draft that is asked for, the one that was gone on with last, or a new one.
  async open() {
    const asked = new URL(location.href).searchParams;
    const handed = asked.get("begin") === "search" ? takeHanded() : null;
    const drafts = await this.store.list();
    const named = drafts.find((draft) => draft.key === asked.get("draft"));
    const system = asked.get("system");
    const same = system && drafts.find((draft) => !draft.sent && draft.record.system === system && Object.keys(draft.record).every((key) => BEGUN.has(key)));
    if (same) this.show(same);
    else if (system) await this.begin({ system });
    else if (handed) await this.begin(handed, this.say("begun-search", { n: handed.search?.length ?? 0 }));
    else if (named) this.show(named);
    else if (drafts.length && !drafts[0].sent) this.show(drafts[0], this.say("resumed", { time: clock(drafts[0].saved) }));
    else await this.begin();
    if (!this.store.kept) this.fault(this.say("refused"));
  }

  // A new draft; it is kept once something stands in it that somebody entered.
  async begin(record = {}, note = "") {
    let habits = {};
    try {
      habits = JSON.parse(localStorage.getItem(HABITS)) ?? {};
    } catch {
      // none are kept
    }
    const known = (name, value) => typeof value === "string" && Object.hasOwn(this.data.words[name] ?? {}, value);
    const begun = { reported: thisDay() };
    if (known("branches", habits.branch)) begun.branch = habits.branch;
    if (known("crews", habits.crew)) begun.crew = habits.crew;
    this.show({ key: newKey(), record: { ...begun, ...record }, files: [], saved: 0, sent: 0, turn: 0 }, note);
    history.replaceState(null, "", location.pathname);
    if (!Object.keys(record).length) return;
    await this.save();
    this.address();
  }

  show(draft, note = "") {
    this.draft = draft;
    this.record = draft.record;
    draft.files = (this.record.photos ?? []).map(({ file }) => file); // what was taken out stays out
    this.asked = false;
    for (const field of this.everything()) field.left = false;
    for (const field of this.fields) field.show();
    for (const list of this.lists.values()) list.show();
    this.photos.show();
    for (const more of this.page.querySelectorAll(".record-more")) more.open = false;
    this.note(note);
    this.find("checked").hidden = true;
    this.find("out-said").textContent = "";
    this.find("undo").hidden = true;
    this.saved();
    this.sent();
    this.unit();
    this.check();
    this.shelf.show();
    if (![...this.page.querySelectorAll("[data-step]")].some((step) => step.open)) this.page.querySelector("[data-step]").open = true;
  }

  *everything() {
    yield* this.fields;
    for (const list of this.lists.values()) {
      yield* list.fields;
      yield list;
    }
    yield* this.photos.fields;
    yield this.photos;
  }

  listen() {
    this.page.querySelector("[data-form]").addEventListener("submit", (event) => event.preventDefault());
    this.page.addEventListener("click", (event) => {
      const next = event.target.closest("[data-next]");
      if (next) this.next(next.closest("[data-step]"));
    });
    this.find("new").addEventListener("click", async () => {
      await this.flush();
      this.shut();
      await this.begin();
      this.page.querySelector("[data-step] summary").focus();
    });
    this.find("first").addEventListener("click", (event) => {
      event.preventDefault();
      if (this.problems.length) this.goTo(this.first);
    });
    this.find("check").addEventListener("click", () => this.complete());
    this.find("out").addEventListener("click", () => this.out(true));
    this.find("file").addEventListener("click", () => this.out(false));
    this.find("copy").addEventListener("click", () => this.copy());
    this.find("text-box").addEventListener("toggle", () => this.text());
    this.find("undo-act").addEventListener("click", () => {
      this.find("undo").hidden = true;
      this.undo?.();
      this.undo = null;
    });
    this.find("note-act").addEventListener("click", async () => this.show(await this.store.get(this.draft.key)));
    addEventListener("pagehide", () => {
      for (const field of this.everything()) field.picker?.take(); // half a word in a list is taken as it is
      this.calm.now();
      if (this.unsaved) {
        leaveBehind({ ...this.draft, saved: Date.now(), turn: this.draft.turn + 1 });
      }
      this.flush();
    });
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "hidden") this.flush();
    });
    if (typeof BroadcastChannel === "function") {
      this.channel = new BroadcastChannel("leaklore.record");
      this.channel.addEventListener("message", ({ data }) => {
        this.shelf.show();
        if (data.key === this.draft.key && data.tab !== this.tab) this.note(this.say("elsewhere", { time: clock(data.saved) }), true);
      });
    }
  }

  // A value was changed: it is kept, and checked.
  changed(field) {
    this.unsaved = true;
    if (this.draft.sent && !this.draft.changed) {
      this.draft.changed = true;
      this.sent();
    }
    clearTimeout(this.saving);
    this.saving = setTimeout(() => this.keep(), SAVE_AFTER);
    clearTimeout(this.checking);
    this.checking = setTimeout(() => this.check(), CHECK_AFTER);
    this.address();
    const [first] = field.pointer;
    if (first === "system") this.unit();
    if (field.entry) field.entry.said();
    if (first === "branch" || first === "crew") this.habit();
  }

  habit() {
    try {
      localStorage.setItem(HABITS, JSON.stringify({ branch: this.record.branch, crew: this.record.crew }));
    } catch {
      // refused: it is asked for each time
    }
  }

  // Everything that waits is done, everything unsaved saved.
  flush() {
    this.calm.now();
    return this.keep();
  }

  keep() {
    clearTimeout(this.saving);
    return this.unsaved ? this.save() : Promise.resolve();
  }

  async save() {
    this.unsaved = false;
    const before = this.draft.saved;
    this.draft.saved = Date.now();
    this.draft.turn += 1;
    try {
      await this.store.put(this.draft);
      if (!this.unsaved) forgetLeftBehind();
      this.fault(this.store.kept ? "" : this.say("refused"));
      this.channel?.postMessage({ key: this.draft.key, saved: this.draft.saved, tab: this.tab });
    } catch (fault) {
      this.unsaved = true;
      this.draft.saved = before;
      this.fault(this.say("not-saved", { why: fault?.message || String(fault) }));
    }
    this.saved();
    this.sent();
    this.shelf.show();
  }

  saved() {
    const { saved } = this.draft;
    const words = !this.store.kept ? this.say("not-kept") : this.unsaved && !this.find("fault").hidden ? this.say("unsaved") : saved ? this.say("saved", { time: clock(saved) }) : this.say("new");
    this.find("new").hidden = !saved;
    const line = this.find("saved");
    if (line.textContent !== words) line.textContent = words;
    if (saved && this.store.kept && this.heard !== this.draft.key) {
      this.heard = this.draft.key; // once a draft: who listens is not told at every word
      this.find("heard").textContent = words;
    }
  }

  address() {
    const address = `${location.pathname}?draft=${this.draft.key}`;
    if (!location.href.endsWith(address)) history.replaceState(null, "", address);
  }

  fault(text) {
    const line = this.find("fault");
    if (line.textContent !== text) line.textContent = text;
    line.hidden = !text;
  }

  note(text, act = false) {
    const line = this.find("note");
    line.hidden = !text;
    this.find("note-text").textContent = text;
    this.find("note-act").hidden = !act;
  }

  undoable(text, undo) {
    this.undo = undo;
    this.find("undo-text").textContent = text;
    this.find("undo").hidden = false;
    this.find("heard").textContent = text;
    clearTimeout(this.undoing);
    this.undoing = setTimeout(() => {
      this.find("undo").hidden = true;
    }, UNDO_FOR);
    this.find("undo-act").focus({ preventScroll: true });
  }

  // Words of a vocabulary as options; places that this draft names already come first.
  options(kind, field) {
    if (kind === "systems") return this.register.options;
    if (!this.shownOptions.has(kind)) {
      const words = Object.entries(this.data.words[kind]).map(([key, [name, ...also]]) => ({ key, name, also }));
      this.shownOptions.set(kind, searchable(words));
    }
    const all = this.shownOptions.get(kind);
    if (kind === "crews" && this.record.branch && this.data.crews) return all.filter(({ key }) => (this.data.crews[key] ?? this.record.branch) === this.record.branch);
    if (kind !== "components") return all;
    const used = new Set([...(this.record.readings ?? []).map(({ at }) => at), ...(this.record.search ?? []).flatMap(({ at }) => at ?? [])]);
    return [...all.filter(({ key }) => used.has(key)), ...all.filter(({ key }) => !used.has(key))];
  }

  nameOf(kind, key) {
    if (kind === "systems") return this.register.name(key);
    const known = this.data.words[kind];
    return known && Object.hasOwn(known, key) ? known[key][0] : key;
  }

  otherUnit(text, dimension) {
    return inOtherUnit(text, dimension, this.read, this.data.units);
  }

  // In the form's own terms: the field's name stands in front, so its place in the file need not.
  problemWords({ message, instead, severity, rule, path }) {
    if (rule === "schema/required") return this.say("needed");
    const told = path && message.startsWith(`${path}: `) ? message.slice(path.length + 2) : message;
    if (severity === "warning") return this.say("warning", { message: told, instead });
    return instead ? this.say("problem", { message: told, instead }) : told;
  }

  newEntry(name) {
    const last = this.record[name]?.at(-1);
    if (name === "readings" && last?.by) return { by: last.by };
    return name === "follow_up" ? { date: thisDay() } : {};
  }

  entrySaid(list, data) {
    const { content } = this.page.querySelector(`template[data-entry-of="${list}"]`);
    const choice = (part, value) => {
      if (value === undefined) return "";
      const input = [...content.querySelectorAll(`[data-pointer="${part}"] input`)].find((one) => one.value === value);
      return input ? input.parentElement.querySelector("span").firstChild.textContent.trim().toLowerCase() : String(value);
    };
    return saidOfEntry(list, data, (...word) => this.nameOf(...word), choice);
  }

  async keepPhoto({ blob, width, height, ending = "jpg" }) {
    const taken = new Set([...this.draft.files, ...(this.record.photos ?? []).map(({ file }) => file)].map((file) => file.replace(/\.\w+$/, "")));
    let n = 1;
    while (taken.has(`photo-${n}`)) n += 1;
    const file = `photo-${n}.${ending}`;
    (this.record.photos ??= []).push({ file });
    this.draft.files.push(file);
    this.draft.saved = Date.now();
    try {
      await this.store.putPhoto({ draft: this.draft.key, file, blob, width, height }, this.draft);
    } catch (fault) {
      this.record.photos.pop();
      this.draft.files.pop();
      if (!this.record.photos.length) delete this.record.photos;
      throw Object.assign(new Error("not kept"), { told: this.say("not-saved", { why: fault?.message || String(fault) }) });
    }
    this.changed(this.photos);
  }

  photo(file) {
    return this.store.photo(this.draft.key, file);
  }

  async fetchRegister() {
    await this.register.fetch();
    this.unit();
    for (const field of this.fields) if (field.element.dataset.words === "systems") field.show();
    this.check();
    this.page.dataset.register = this.register.broken ? "broken" : "here";
  }

  // What the register says of the unit; where it knows nothing, the fields to describe it stand open.
  unit() {
    const number = this.record.system;
    this.page.querySelector("[data-register-said]").textContent = this.register.told(number, this.data.charges);
    const one = this.register.system(number);
    if (one && this.record.branch === undefined) {
      this.record.branch = one.branch;
      this.unsaved = true;
      this.keep();
      for (const field of this.fields) if (field.path[0] === "branch") field.show();
    }
    if (!one && number !== undefined && (this.register.file || this.register.broken)) this.page.querySelector("#step-job .record-more").open = true;
  }

  check() {
    clearTimeout(this.checking);
    this.problems = this.wrong().map((p) => ({ ...p, at: placeOf(p) }));
    this.first = this.inOrder(this.problems.filter((p) => p.severity !== "warning"))[0];
    this.todo();
    this.told();
    if (this.find("text-box").open) this.text();
    if (!this.find("checked").hidden) this.summed();
  }

  // What `leaklore check` says of the record, with a number to stand for the one that it gets when it is taken in.
  // While something is missing, what the rules say of the rest is told, too.
  wrong() {
    const prefix = this.data.prefixes[this.record.branch] ?? Object.values(this.data.prefixes)[0];
    const year = /^[0-9]{4}/.exec(this.record.reported ?? "")?.[0] ?? thisDay().slice(0, 4);
    const record = { id: `${prefix}-${year}-999`, ...this.record };
    const world = { record: this.data, schema: this.schema, systems: this.register.file, cases: null, today: thisDay(), photos: this.draft.files };
    const whole = this.drafts.checkDraft(record, world);
    const told = new Set(whole.map(({ path, message }) => `${path} ${message}`));
    const more = whole.length ? this.drafts.checkSoFar(record, world).filter(({ path, message }) => !told.has(`${path} ${message}`)) : [];
    return [...whole, ...more];
  }

  // The field that a problem is told at: the one whose pointer goes furthest along with it.
  owner(pointer) {
    let [best, length] = [null, 0];
    for (const field of this.everything()) {
      const own = field.pointer;
      if (field.owns?.(pointer)) return field;
      if (own.length > length && own.length <= pointer.length && own.every((part, i) => part === pointer[i])) [best, length] = [field, own.length];
    }
    if (best) return best;
    // a missing part of a block is told at the first field of the block
    return [...this.everything()].find((field) => pointer.length && pointer.every((part, i) => part === field.pointer[i])) ?? null;
  }

  // Problems in the order of the fields on the page.
  inOrder(problems) {
    const order = new Map([...this.everything()].map((field, i) => [field, i]));
    return problems
      .map((p, i) => ({ p, at: order.get(this.owner(p.at)) ?? 1e6 + i }))
      .sort((a, b) => a.at - b.at)
      .map(({ p }) => p);
  }

  todo() {
    const wrong = this.problems.filter((p) => p.severity !== "warning");
    this.find("todo").textContent = this.say(wrong.length === 0 ? "missing-none" : wrong.length === 1 ? "missing-one" : "missing", { n: wrong.length });
    const link = this.find("first");
    link.hidden = !wrong.length;
    link.textContent = this.first ? this.say("first", { name: this.titleOf(this.first) }) : "";
    const count = new Map();
    for (const p of wrong) {
      const step = this.owner(p.at)?.element.closest("[data-step]");
      if (step) count.set(step, (count.get(step) ?? 0) + 1);
    }
    for (const step of this.page.querySelectorAll("[data-step]")) {
      const fields = [...this.everything()].filter((field) => step.contains(field.element));
      const filled = fields.some((field) => (field.owns ? field.owns(["symptoms"]) && (this.record.symptoms ?? this.record.not_seen) : valueAt(this.record, field.pointer)) !== undefined);
      const n = count.get(step) ?? 0;
      const state = n ? "todo" : filled ? "done" : "empty";
      step.dataset.state = state;
      step.querySelector("[data-state]").textContent = this.say(`step-${state}`, { n });
    }
  }

  titleOf(problem) {
    const field = this.owner(problem.at);
    const label = field?.element.querySelector(".field__label, legend")?.firstChild.textContent.trim();
    return label || (field instanceof EntryList ? field.noun : "") || pointerText(problem.pointer) || this.say("untitled");
  }

  // What the fields say of themselves, as soon as nobody is about to press anything.
  told() {
    if (this.calm.held) this.calm.later("told", () => this.tell());
    else this.tell();
  }

  // Problems at their fields: once a field was left, or all of them once they were asked for.
  tell() {
    if (!this.problems) return;
    const by = new Map();
    for (const p of this.problems) {
      const field = this.owner(p.at);
      if (!field) continue;
      if (!by.has(field)) by.set(field, []);
      by.get(field).push(p);
    }
    for (const field of this.everything()) {
      const typing = field.input && field.input === document.activeElement && field.problem.hidden;
      if (!typing || this.asked) field.tell(this.asked || field.left ? (by.get(field) ?? []) : []);
    }
  }

  next(step) {
    const all = [...this.page.querySelectorAll("[data-step]")];
    const following = all[all.indexOf(step) + 1];
    for (const field of this.everything()) if (step.contains(field.element) && valueAt(this.record, field.pointer) !== undefined) field.left = true;
    this.told();
    step.open = false;
    if (!following) {
      this.page.querySelector("#out").scrollIntoView({ block: "start" });
      this.find("check").focus({ preventScroll: true });
      return;
    }
    following.open = true;
    following.scrollIntoView({ block: "start" });
    following.querySelector("summary").focus({ preventScroll: true });
  }

  goTo(problem) {
    const field = this.owner(problem.at);
    if (!field) {
      this.page.querySelector("#record-out").scrollIntoView();
      return;
    }
    field.left = true;
    this.told();
    for (let box = field.element.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
    field.element.scrollIntoView({ block: "center" });
    field.target?.focus({ preventScroll: true });
  }

  complete() {
    this.calm.now();
    this.asked = true;
    this.check();
    this.summed();
    this.find("checked").scrollIntoView({ block: "nearest" });
  }

  summed() {
    const wrong = this.problems.filter((p) => p.severity !== "warning");
    const n = wrong.length;
    this.find("checked").hidden = false;
    this.find("checked-text").textContent = this.say(n === 0 ? "checked-none" : n === 1 ? "checked-one" : "checked", { n });
    this.find("checked").classList.toggle("record-checked--good", n === 0);
    const rows = this.inOrder(this.problems).map((p) => {
      const row = this.part("problem");
      const link = row.querySelector("a");
      link.textContent = this.titleOf(p);
      link.addEventListener("click", (event) => {
        event.preventDefault();
        this.goTo(p);
      });
      row.querySelector("[data-slot=what]").textContent = this.problemWords(p);
      return row;
    });
    this.find("problems").replaceChildren(...rows);
  }

  text() {
    if (this.record) this.find("text").textContent = this.yaml(); // a box can be open before the draft is read
  }

  yaml() {
    return markedDraft(this.drafts.asYaml(this.record, { record: this.data, schema: this.schema }), this.draft.key);
  }

  async copy() {
    const said = this.find("out-said");
    try {
      await navigator.clipboard.writeText(this.yaml());
      said.textContent = this.say("copied");
    } catch {
      said.textContent = this.say("not-copied");
    }
  }

  async out(share) {
    const said = this.find("out-said");
    try {
      await this.flush();
      this.complete();
      const parts = { photo: (file) => this.photo(file), zip: this.zip.zip, day: thisDay() };
      const file = await packedDraft(this.record, this.record.id ?? this.draft.key, this.yaml(), parts);
      const way = await passOn(file, share, this.say("title-of-share"));
      if (way === "kept") return;
      said.textContent = this.say(way, { name: file.name, kb: Math.ceil(file.size / 1000) });
      Object.assign(this.draft, { sent: Date.now(), changed: false });
      await this.save();
    } catch (fault) {
      console.error(fault);
      said.textContent = this.say("out-failed", { why: fault.message });
    }
  }

  sent() {
    const { sent, changed } = this.draft;
    const line = this.find("sent");
    line.hidden = !sent;
    if (sent) line.textContent = this.say(changed ? "sent-changed" : "sent", { time: clock(sent) });
  }

  // Another draft takes the place of this one.
  async turnTo(key) {
    await this.flush();
    this.shut();
    this.show(await this.store.get(key));
    this.address();
    this.page.querySelector("[data-step] summary").focus();
  }

  shut() {
    for (const step of this.page.querySelectorAll("[data-step]")) step.open = false;
  }
}

const recordElement = document.querySelector("[data-record]");
if (recordElement) {
  const opened = new RecordPage(recordElement);
  opened.ready.catch((fault) => {
    console.error(fault);
    opened.fault(opened.say("broken", { why: /[.!?]$/.test(fault.message) ? fault.message : `${fault.message}.` }));
  });
}
