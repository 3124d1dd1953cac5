// The page of the short questions: one at a time, the answer at once, a score at the end.
import { Progress, phoneStorage } from "./progress.mjs";
import { MIXED, QUESTIONS_VERSION, QuestionDrawer } from "./questions.mjs";

const MANY = 8;
const MOST_ASKED = 40;
const MINUTE_MS = 60000;
const UNFINISHED = "leaklore-questions"; // of this window, till it is closed
const SHAPES = { right: "result-confirmed", wrong: "absent" };

class QuestionsPage {
  constructor(page) {
    Object.assign(this, { page, root: page.dataset.root, score: 0, at: 0, missed: [], questions: [] });
  }

  part(name) {
    return this.page.querySelector(`[data-${name}]`);
  }

  say(key, slots = {}) {
    const text = this.page.querySelector(`template[data-say="${key}"]`).content.textContent;
    return text.replace(/\{(\w+)\}/g, (_, slot) => slots[slot]);
  }

  piece(name) {
    const { content } = this.page.querySelector(`template[data-part="${name}"]`);
    return (content.querySelector("[data-row]") ?? content.firstElementChild).cloneNode(true);
  }

  // What came back by today; none where the phone keeps nothing.
  due() {
    try {
      return new Progress(phoneStorage()).dueNow().filter(({ key }) => key.startsWith("questions:"));
    } catch {
      return [];
    }
  }

  start() {
    this.page.dataset.awake = "";
    this.part("printed").open = false;
    const asked = new URLSearchParams(location.search);
    const topic = asked.get("topic");
    this.part("next").addEventListener("click", () => this.next());
    this.part("check").addEventListener("click", () => this.judge(this.ticked()));
    this.part("again").addEventListener("click", () => this.begin());
    if (topic === null && !asked.has("due")) {
      this.choose();
      return;
    }
    this.wanted = { topic, n: Math.min(MOST_ASKED, Math.max(1, Math.trunc(Number(asked.get("n"))) || MANY)) };
    this.load().catch((fault) => {
      this.part("status").textContent = this.say("broken", { why: fault.message });
      this.choose();
    });
  }

  choose() {
    const due = this.due().length;
    this.part("due").hidden = due === 0;
    this.part("due-link").textContent = this.say(due === 1 ? "due-one" : "due", { n: due });
    this.part("choose").hidden = false;
  }

  async fetched(name) {
    const answer = await fetch(`${this.root}data/${name}.json`);
    if (!answer.ok) throw new Error(this.say("no-answer", { status: answer.status }));
    return answer.json();
  }

  async load() {
    this.part("status").textContent = this.say("loading");
    const from = (name) => import(new URL(`${this.root}js/${name}.mjs`, location.href));
    const parts = [this.fetched("learn/questions"), this.fetched("trade"), from("trade/index"), from("bench/units")];
    const loaded = await Promise.all(parts).catch((fault) => {
      throw fault instanceof TypeError ? new Error(this.say("no-connection")) : fault;
    });
    const [material, content, { trade }, { write }] = loaded;
    if (material.version !== QUESTIONS_VERSION) throw new Error(this.say("editions"));
    this.material = material;
    const reworded = await this.rewording(from);
    const written = (value, dimension) => (dimension === "reason" ? reworded(value) : write(value, dimension, "first", material.units));
    this.drawer = new QuestionDrawer(material, trade(content), written);
    this.part("status").textContent = "";
    const seed = new URLSearchParams(location.search).get("seed");
    const kept = this.kept();
    this.begin(kept?.seed ?? (/^\d{1,10}$/.test(seed ?? "") ? Number(seed) : null));
    if (kept) this.resume(kept);
  }

  // Where a reload, or the way back from an answer's link, left off; whoever opens the page anew begins anew.
  kept() {
    const [how] = performance.getEntriesByType("navigation");
    if (this.wanted.topic === null || !["reload", "back_forward"].includes(how?.type)) return null;
    try {
      const kept = JSON.parse(sessionStorage.getItem(UNFINISHED));
      return kept?.of === location.search ? kept : null;
    } catch {
      return null; // storage refused: a reload begins anew
    }
  }

  keep(answered) {
    const { seed, score, returns, began } = this;
    const missed = this.missed.map((question) => this.questions.indexOf(question));
    try {
      sessionStorage.setItem(UNFINISHED, JSON.stringify({ of: location.search, seed, answered, score, missed, returns, began }));
    } catch {
      // storage refused: a reload begins anew
    }
  }

  resume({ answered, score, missed, returns, began }) {
    if (!answered || answered > this.questions.length) return;
    Object.assign(this, { at: answered - 1, score, missed: missed.map((i) => this.questions[i]).filter(Boolean), returns, began });
    this.next();
  }

  // How sentences of the trade are said in another language than English.
  async rewording(from) {
    const { says } = this.material;
    if (!says) return String;
    const { reworded, speak } = await from("say");
    speak(says);
    return reworded;
  }

  // New numbers unless a seed is given, so that a trainer can ask everybody the same.
  begin(seed = null) {
    const from = seed ?? crypto.getRandomValues(new Uint32Array(1))[0];
    const { topic, n } = this.wanted;
    const known = topic === MIXED || this.material.asks.includes(topic);
    if (topic === null) this.questions = this.comingBack(from);
    else this.questions = known ? this.drawer.draw(topic, from, n) : [];
    if (!this.questions.length) {
      this.part("status").textContent = this.say(topic === null ? "none-due" : "unknown");
      this.choose();
      return;
    }
    Object.assign(this, { seed: from, score: 0, at: 0, missed: [], returns: false, began: Date.now() });
    this.page.dataset.asking = "";
    this.part("end").hidden = true;
    this.part("ask").hidden = false;
    this.show();
  }

  // One question for each that is due, by its template, with numbers of its own.
  comingBack(seed) {
    const asked = [];
    for (const [i, { key, question }] of this.due().slice(0, MOST_ASKED).entries()) {
      const made = this.drawer.one(key.slice("questions:".length), question, seed + i);
      if (made) asked.push(made);
      else document.dispatchEvent(new CustomEvent("leaklore-gone", { detail: { key, question } })); // the library asks it no more
    }
    return asked;
  }

  show() {
    const question = this.questions[this.at];
    this.part("count").textContent = this.say("count", { at: this.at + 1, of: this.questions.length, topic: this.material.titles[question.topic] });
    this.part("text").textContent = question.text;
    this.part("how").textContent = question.several ? this.say("several") : "";
    this.part("how").hidden = !question.several;
    const list = this.part("choices");
    delete list.dataset.done;
    list.replaceChildren(...question.choices.map((text, i) => this.choice(question, text, i)));
    this.part("check").hidden = !question.several;
    this.part("answer").hidden = true;
    this.part("next").hidden = true;
    this.part("text").focus({ preventScroll: true });
    this.part("ask").scrollIntoView({ block: "start" });
  }

  choice(question, text, i) {
    const item = this.piece(question.several ? "box" : "choice");
    item.querySelector('[data-slot="text"]').textContent = text;
    if (!question.several) item.querySelector("button").addEventListener("click", () => this.judge([i]));
    return item;
  }

  boxes() {
    return [...this.part("choices").children].map((item) => item.firstElementChild);
  }

  ticked() {
    const inputs = [...this.part("choices").querySelectorAll("input")];
    return inputs.map((_, i) => i).filter((i) => inputs[i].checked);
  }

  judge(chosen) {
    const list = this.part("choices");
    const question = this.questions[this.at];
    if ("done" in list.dataset) return;
    if (!chosen.length) {
      this.part("how").textContent = this.say("mark-one");
      return;
    }
    list.dataset.done = "";
    const good = chosen.length === question.right.length && chosen.every((i) => question.right.includes(i));
    this.boxes().forEach((box, i) => this.mark(box, question.right.includes(i), chosen.includes(i)));
    const detail = { key: `questions:${question.topic}`, question: question.key };
    document.dispatchEvent(new CustomEvent(good ? "leaklore-right" : "leaklore-wrong", { detail }));
    this.returns ||= Boolean(detail.kept);
    if (good) this.score += 1;
    else this.missed.push(question);
    this.keep(this.at + 1);
    this.explain(question, good);
  }

  mark(box, right, chosen) {
    if (box.matches("button")) box.setAttribute("aria-disabled", "true");
    else box.querySelector("input").disabled = true;
    if (!right && !chosen) return;
    const is = right ? "right" : "wrong";
    box.dataset.is = is;
    box.querySelector("use").setAttribute("href", `${this.root}img/marks.svg#${SHAPES[is]}`);
    box.querySelector('[data-slot="mark"]').textContent = this.say(right ? (chosen ? "mark-right" : "mark-missed") : "mark-wrong");
  }

  explain(question, good) {
    const answer = this.part("answer");
    answer.dataset.is = good ? "right" : "wrong";
    this.part("verdict").textContent = this.say(good ? "right" : question.several ? "not-all" : "wrong");
    this.part("why").textContent = question.explanation;
    this.linked(this.part("link"), question);
    answer.hidden = false;
    this.part("check").hidden = true;
    const last = this.at + 1 === this.questions.length;
    this.part("next").textContent = this.say(last ? "to-score" : "next");
    this.part("next").hidden = false;
    this.part("verdict").focus({ preventScroll: true });
    this.part("next").scrollIntoView({ block: "nearest" });
  }

  linked(link, question) {
    const [url, name] = this.material.links[question.link];
    link.href = this.root + url;
    link.textContent = name;
  }

  next() {
    this.at += 1;
    if (this.at < this.questions.length) this.show();
    else this.end();
  }

  end() {
    const { score, missed } = this;
    const of = this.questions.length;
    this.part("ask").hidden = true;
    this.part("score").textContent = this.say("score", { score, of });
    this.part("end-said").textContent = this.say(!missed.length ? "all-right" : this.returns ? "come-back" : "missed");
    this.part("missed").replaceChildren(...missed.map((question) => this.missedItem(question)));
    this.part("end").hidden = false;
    this.part("score").focus({ preventScroll: true });
    this.part("end").scrollIntoView({ block: "start" });
    this.keep(0);
    const { topic } = this.wanted;
    if (topic === null) return; // questions of several topics that came back are no exercise of their own
    const minutes = Math.max(1, Math.round((Date.now() - this.began) / MINUTE_MS));
    document.dispatchEvent(new CustomEvent("leaklore-done", { detail: { key: `questions:${topic}`, score, of, minutes } }));
  }

  missedItem(question) {
    const item = this.piece("missed");
    item.querySelector('[data-slot="text"]').textContent = question.text;
    const right = question.right.map((i) => question.choices[i]).join("; ");
    const link = item.querySelector('[data-slot="link"]');
    this.linked(link, question);
    item.querySelector('[data-slot="right"]').textContent = right === link.textContent ? "" : right; // said once
    return item;
  }
}

const questionsPage = document.querySelector("[data-questions]");
if (questionsPage) new QuestionsPage(questionsPage).start();
