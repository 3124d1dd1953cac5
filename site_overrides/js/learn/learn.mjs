// Every page of the section: keeps what is done, marks what a list holds, wakes the learner's and the trainer's pages.
import { Progress, isItem, phoneStorage } from "./progress.mjs";
import { dayWritten, inWords } from "./out.mjs";
import { MinePage } from "./mine.mjs";
import { TrainerPage } from "./trainer.mjs";

const PAGES = new Set(["case", "mode", "technique", "symptom", "component", "refrigerant", "bench"]); // read, and not solved
const LISTS_VERSION = 1;
const FAULTS = {
  refused: "This browser keeps nothing, maybe because this is a private window: what you do here is lost when you leave the page.",
  full: "The phone is full: what you do now is lost when you leave the page. Make room and do the last thing again.",
  unreadable: "What was kept of your reading could not be read. It was put aside, and a new record begins.",
  newer: "A newer library has kept your reading on this phone, and this page can't read it. Nothing is changed. Load the page again with signal.",
};

const isBench = (key) => key.startsWith("bench:"); // worked through, and not read
const isSearch = (key) => key.startsWith("unknown:"); // a search again has no points

// "Read 3 February 2025", "Done 7 of 9".
export function stateSaid(key, did) {
  if (!did || !(did.done ?? did.on)) return "";
  if (did.of) return inWords("Done {score} of {of}", did);
  return inWords(isBench(key) || isSearch(key) ? "Done {day}" : "Read {day}", { day: dayWritten(did.done ?? did.on) });
}

function pressSaid(key, did) {
  if (isBench(key)) return inWords(did ? "Not done after all" : "I have done this");
  return inWords(did ? "Not read after all" : "I have read this");
}

// The sentences and parts that a page keeps in its templates.
class Words {
  constructor(page) {
    this.page = page;
  }

  say(key, slots = {}) {
    const text = this.page.querySelector(`template[data-say="${key}"]`).content.textContent;
    return text.replace(/\{(\w+)\}/g, (whole, name) => (Object.hasOwn(slots, name) ? String(slots[name]) : whole));
  }

  part(name) {
    const { content } = this.page.querySelector(`template[data-part="${name}"]`);
    return (content.querySelector("[data-row]") ?? content.firstElementChild).cloneNode(true);
  }

  state(did) {
    return did.done ? stateSaid(did.key, did) : this.say("not-yet");
  }
}

// A list's page: states, the button "I have read this", and how far one is.
class ListMarks {
  constructor(box, progress) {
    Object.assign(this, { box, progress, list: box.dataset.list });
    this.rows = [...box.querySelectorAll("[data-item]")].filter(({ dataset }) => isItem(dataset.item));
    this.said = document.createElement("p");
    this.said.className = "learn-said";
    this.said.setAttribute("role", "status");
    box.before(this.said);
    for (const row of this.rows) if (PAGES.has(row.dataset.item.split(":")[0])) this.button(row);
    this.show();
  }

  button(row) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "button button--quiet learn-read";
    made.dataset.read = "";
    made.addEventListener("click", () => {
      const key = row.dataset.item;
      if (this.progress.isDone(this.list, key)) this.progress.undo(key);
      else this.progress.done({ key });
      this.show();
    });
    row.querySelector("[data-item-state]").after(made);
  }

  show() {
    let done = 0;
    for (const row of this.rows) {
      const did = this.progress.isDone(this.list, row.dataset.item);
      done += did ? 1 : 0;
      row.querySelector("[data-item-state]").textContent = stateSaid(row.dataset.item, did);
      row.toggleAttribute("data-done", Boolean(did));
      const button = row.querySelector("[data-read]");
      if (button) button.textContent = pressSaid(row.dataset.item, did);
      button?.setAttribute("aria-label", `${button.textContent}: ${row.querySelector("a")?.textContent ?? row.dataset.item}`);
    }
    const given = this.progress.assignments().find(({ list }) => list === this.list);
    this.said.hidden = !given && !done;
    const slots = { done, of: this.rows.length, day: given?.due && dayWritten(given.due) };
    this.said.textContent = inWords(given?.due ? "{done} of {of} done on this phone, due {day}." : "{done} of {of} done on this phone.", slots);
  }
}

// Items that stand outside a list, as on the page of all exercises.
function markLoose(doc, progress) {
  for (const row of doc.querySelectorAll("[data-item]")) {
    const state = row.closest("[data-list]") ? null : row.querySelector("[data-item-state]");
    if (state && isItem(row.dataset.item)) state.textContent = stateSaid(row.dataset.item, progress.isDone(null, row.dataset.item));
  }
}

async function read(root, path) {
  const reply = await fetch(`${root}data/learn/${path}`);
  if (!reply.ok) throw new Error(`${path}: ${reply.status}`);
  return reply.json();
}

async function libraryOf(root) {
  const [lists, evidence] = await Promise.all([read(root, "lists.json"), read(root, "evidence.json")]);
  if (lists.version !== LISTS_VERSION || evidence.version !== LISTS_VERSION) throw new Error("another edition");
  return { company: evidence.company, topics: evidence.topics, edition: lists.edition, lists: new Map(lists.lists.map((list) => [list.key, list])) };
}

export function wakeLearning(doc = document) {
  const fault = doc.createElement("p");
  fault.className = "learn-fault";
  fault.setAttribute("role", "alert");
  fault.hidden = true;
  doc.querySelector("main")?.prepend(fault);
  const tell = (text) => {
    fault.hidden = false;
    fault.textContent = text;
  };
  const progress = new Progress(phoneStorage(), Date.now, (what) => tell(inWords(FAULTS[what])));
  const marks = [...doc.querySelectorAll("[data-list]")].map((box) => new ListMarks(box, progress));
  let mine = null;
  const again = () => {
    for (const list of marks) list.show();
    markLoose(doc, progress);
    mine?.show();
  };
  doc.addEventListener("leaklore-done", ({ detail }) => {
    if (detail.once) detail.first = progress.first(detail.key);
    progress.done(detail);
    again();
  });
  doc.addEventListener("leaklore-wrong", ({ detail }) => {
    detail.kept = progress.wrong(detail.key, detail.question);
  });
  doc.addEventListener("leaklore-gone", ({ detail }) => progress.drop(detail.key, detail.question));
  doc.addEventListener("leaklore-right", ({ detail }) => progress.right(detail.key, detail.question));
  window.addEventListener("storage", again);
  window.addEventListener("pageshow", again);
  const page = doc.querySelector("[data-mine], [data-trainer]");
  if (!page) return;
  const words = new Words(page);
  libraryOf(page.dataset.root).then(
    (library) => {
      if ("mine" in page.dataset) mine = new MinePage(page, { progress, library, words });
      else new TrainerPage(page, { library, words, today: progress.today() });
      page.dataset.awake = "";
    },
    () => tell(words.say("no-connection")),
  );
}

wakeLearning();
