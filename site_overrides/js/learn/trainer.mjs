// The trainer's page: gives a list by a link, and reads the result sheets that come back.
import { daysAfter, initialsOf, isDay } from "./progress.mjs";
import { SheetFault } from "./sheet.mjs";
import { saveFile } from "../give.mjs";
import { csvOf, dayShort, dayWritten, inWords, many, objectsIn } from "./out.mjs";
import { Gathered } from "./gathered.mjs";

const SHOWN_REFUSED = 50;

export class TrainerPage {
  constructor(page, { library, words, today }) {
    Object.assign(this, { page, library, words, today, gathered: new Gathered(library, today) });
    this.find = (name) => page.querySelector(`[data-${name}]`);
    this.find("awake").hidden = false;
    this.fillLists();
    for (const name of ["which", "for", "due"]) {
      this.find(name).addEventListener("input", () => this.link());
    }
    this.find("which").addEventListener("change", () => {
      this.proposeDay();
      this.link();
    });
    this.find("copy").addEventListener("click", () => this.copy());
    this.find("share").hidden = !navigator.share;
    this.find("share").addEventListener("click", () => this.share());
    this.find("code-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.checkCode();
    });
    this.find("files").addEventListener("change", (event) => this.files([...event.target.files], event.target));
    this.find("take").addEventListener("click", () => this.paste());
    this.find("csv").addEventListener("click", () => saveFile(new File([csvOf(this.gathered.csvRows())], "who-has-read-what.csv", { type: "text/csv" })));
    this.find("clear").addEventListener("click", () => {
      this.gathered = new Gathered(library, today);
      this.show();
      this.say("gather-told", "cleared");
    });
    this.proposeDay();
    this.link();
  }

  say(where, key, slots) {
    this.find(where).textContent = this.words.say(key, slots);
  }

  fillLists() {
    const options = [...this.library.lists.values()].map(({ key, title }) => new Option(title, key));
    this.find("which").replaceChildren(...options);
    this.find("none").hidden = options.length > 0;
    this.find("give").hidden = !options.length;
    const asked = new URL(location.href).searchParams.get("list");
    if (this.library.lists.has(asked)) this.find("which").value = asked;
  }

  proposeDay() {
    const days = this.library.lists.get(this.find("which").value)?.due_days;
    if (days) this.find("due").value = daysAfter(this.today, days);
  }

  link() {
    const [list, typed, due] = [this.find("which").value, this.find("for").value, this.find("due").value];
    const initials = initialsOf(typed);
    const bad = typed.trim() !== "" && !initials;
    this.find("for").setAttribute("aria-invalid", String(bad));
    this.find("for-problem").hidden = !bad;
    const past = isDay(due) && due < this.today;
    this.find("due-problem").hidden = !past;
    const ready = Boolean(list && initials);
    this.find("made").hidden = !ready;
    if (!ready) return;
    const url = new URL("../mine/", location.href);
    url.search = new URLSearchParams({ list, for: initials, ...(isDay(due) ? { due } : {}) });
    this.find("link").value = url.href;
    this.find("command").textContent = `leaklore assign ${list} --initials ${initials}${isDay(due) ? ` --due ${due}` : ""} -o ${list}-${initials}.pdf`;
  }

  async copy() {
    const field = this.find("link");
    try {
      await navigator.clipboard.writeText(field.value);
      this.say("link-told", "copied");
    } catch {
      field.focus();
      field.select();
      this.say("link-told", "copy-by-hand");
    }
  }

  async share() {
    try {
      await navigator.share({ title: this.library.lists.get(this.find("which").value).title, url: this.find("link").value });
      this.say("link-told", "shared");
    } catch (fault) {
      if (fault.name !== "AbortError") this.say("link-told", "copy-by-hand");
    }
  }

  checkCode() {
    const out = this.find("code-told");
    const field = this.find("code");
    try {
      const { list, initials, finished, score, part, sheet } = this.gathered.code(field.value);
      const said = [
        this.words.say("code-good", { initials, list: list ? `"${list}"` : this.words.say("code-no-list") }),
        finished ? this.words.say("code-finished", { day: dayWritten(finished) }) : this.words.say("code-open", { part }),
        score === null ? this.words.say("code-no-score") : this.words.say("code-score", { score }),
        this.words.say(sheet ? "code-sheet" : "code-alone"),
      ];
      out.textContent = said.join(" ");
      field.removeAttribute("aria-invalid");
    } catch (fault) {
      if (!(fault instanceof SheetFault)) throw fault;
      out.textContent = this.words.say("code-bad", { why: fault.message });
      field.setAttribute("aria-invalid", "true");
    }
  }

  async files(files, input) {
    let right = 0;
    for (const file of files) right += this.gathered.add(file.name, new Uint8Array(await file.arrayBuffer()));
    input.value = "";
    this.took(right, files.length);
  }

  paste() {
    const box = this.find("paste");
    const texts = objectsIn(box.value);
    const encode = (text) => new TextEncoder().encode(text);
    let right = 0;
    texts.forEach((text, i) => {
      right += this.gathered.add(this.words.say("pasted", { n: i + 1 }), encode(text));
    });
    if (!texts.length) {
      this.say("gather-told", "nothing-pasted");
      return;
    }
    box.value = "";
    this.took(right, texts.length);
  }

  took(right, all) {
    this.show();
    this.say("gather-told", "took", { right, all: many(all, "1 sheet", "{n} sheets") });
  }

  show() {
    const { refused, notes } = this.gathered;
    const people = this.gathered.people();
    this.find("refused").hidden = !refused.length;
    const shown = refused.slice(-SHOWN_REFUSED).map(({ name, why }) => this.line("refused-row", { name, why }));
    this.find("refused-rows").replaceChildren(...shown);
    this.find("notes").replaceChildren(...notes.slice(-SHOWN_REFUSED).map((text) => this.line("note-row", { text })));
    this.find("results").hidden = !people.length;
    this.find("people").replaceChildren(...people.map((one) => this.person(one)));
    const { initials, topics } = this.gathered.byTopic();
    this.find("topic-head").replaceChildren(...[inWords("Topic and item"), ...initials].map((text) => this.head(text, "col")));
    this.find("topics").replaceChildren(...topics.flatMap((topic) => this.topicRows(topic, initials.length)));
  }

  line(part, slots) {
    const made = this.words.part(part);
    for (const [name, text] of Object.entries(slots)) made.querySelector(`[data-slot="${name}"]`).textContent = text;
    return made;
  }

  person({ initials, title, done, of, score, finished, due, late, again, code }) {
    const when = finished ? dayWritten(finished) : this.words.say("not-finished");
    const told = late ? "was-due" : due && !finished ? "due-on" : null;
    return this.line("person", {
      initials,
      title,
      done: inWords("{done} of {of}", { done, of }),
      score: score === null ? "" : `${score} %`,
      finished: told ? `${when} (${this.words.say(told, { day: dayWritten(due) })})` : when,
      again: again ? String(again) : "",
      code,
    });
  }

  head(text, scope) {
    const made = document.createElement("th");
    made.scope = scope;
    made.textContent = text;
    return made;
  }

  topicRows({ topic, items }, width) {
    const title = document.createElement("tr");
    const name = this.head(topic, "colgroup");
    name.colSpan = width + 1;
    title.className = "learn-topic";
    title.append(name);
    const rows = items.map(({ title: text, cells }) => {
      const row = document.createElement("tr");
      row.append(this.head(text, "row"), ...cells.map((cell) => this.cell(cell)));
      return row;
    });
    return [title, ...rows];
  }

  cell(cell) {
    const made = document.createElement("td");
    if (!cell) made.textContent = this.words.say("not-given");
    else if (!cell.done) made.textContent = this.words.say("not-yet");
    else made.textContent = cell.of ? `${dayShort(cell.done)}, ${inWords("{score} of {of}", cell)}` : dayShort(cell.done);
    made.toggleAttribute("data-done", Boolean(cell?.done));
    return made;
  }
}
