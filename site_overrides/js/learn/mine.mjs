// The learner's page: what was given to me, what is due, what comes back, and the result sheet.
import { initialsOf, isDay, isList } from "./progress.mjs";
import { SheetFault, sealed, sheetDone, sheetScore } from "./sheet.mjs";
import { saveFile } from "../give.mjs";
import { dayWritten, giveOn, inWords, many } from "./out.mjs";

export class MinePage {
  // `library` is { company, edition, lists: Map }, `words` fills the page's sentences.
  constructor(page, { progress, library, words }) {
    Object.assign(this, { page, progress, library, words, root: page.dataset.root });
    this.find = (name) => page.querySelector(`[data-${name}]`);
    this.find("awake").hidden = false;
    this.find("accept").addEventListener("click", () => this.accept());
    this.find("refuse").addEventListener("click", () => this.closeOffer());
    this.find("forget").addEventListener("click", () => {
      this.find("sure").hidden = false;
      this.find("sure-yes").focus();
    });
    this.find("sure-no").addEventListener("click", () => this.calm());
    this.find("sure-yes").addEventListener("click", () => {
      this.progress.forget();
      this.find("sheet").hidden = true;
      this.calm();
      this.show();
      this.say("forgotten");
    });
    this.find("send").addEventListener("click", () => this.send());
    this.find("save").addEventListener("click", () => this.save());
    this.find("close").addEventListener("click", () => {
      this.find("sheet").hidden = true;
      this.find("given-head").focus();
    });
    this.offer(new URL(location.href).searchParams);
    this.show();
  }

  say(key, slots) {
    this.find("told").textContent = this.words.say(key, slots);
  }

  calm() {
    this.find("sure").hidden = true;
    this.find("forget").focus();
  }

  // The link that a trainer made: ?list=KEY&for=AB&due=2026-12-10.
  offer(asked) {
    if (!asked.has("list")) return;
    const box = this.find("offer");
    const list = isList(asked.get("list")) ? this.library.lists.get(asked.get("list")) : null;
    const initials = initialsOf(asked.get("for"));
    const due = asked.has("due") && asked.get("due") !== "" ? asked.get("due") : null;
    const why = !list ? "offer-no-list" : !initials ? "offer-no-one" : due !== null && !isDay(due) ? "offer-no-day" : null;
    box.hidden = false;
    this.find("offer-bad").hidden = !why;
    this.find("offer-good").hidden = Boolean(why);
    if (why) {
      this.find("offer-bad").textContent = this.words.say(why);
      return;
    }
    const known = this.progress.assignments().find((one) => one.list === list.key && one.due === due && one.initials === initials);
    if (known) {
      this.closeOffer();
      return;
    }
    this.given = { list: list.key, initials, due };
    this.find("offer-title").textContent = list.title;
    const said = [this.words.say("offer-for", { initials })];
    if (due) said.push(this.words.say("due-on", { day: dayWritten(due) }));
    said.push(this.words.say("offer-size", { items: many(list.items.length, "1 item", "{n} items"), minutes: list.minutes }));
    this.find("offer-said").textContent = said.join(" ");
    const other = this.progress.assignments().find((one) => one.initials !== initials);
    this.find("offer-other").hidden = !other;
    if (other) this.find("offer-other").textContent = this.words.say("offer-other", { initials: other.initials });
    const again = this.progress.assignments().some((one) => one.list === list.key && one.due !== due);
    this.find("offer-again").hidden = !again;
  }

  accept() {
    const kept = this.progress.assign(this.given);
    this.closeOffer();
    this.show();
    if (kept) this.say("accepted");
    this.find("given-head").focus();
  }

  closeOffer() {
    this.find("offer").hidden = true;
    history.replaceState(null, "", location.pathname);
  }

  // "in 5 days", by what is left or done.
  dueSaid({ due }, finished) {
    if (finished) return this.words.say(due && finished > due ? "finished-late" : "finished", { day: dayWritten(finished) });
    if (!due) return this.words.say("no-due");
    const days = Math.round((Date.parse(due) - Date.parse(this.progress.today())) / 86_400_000);
    const slots = { day: dayWritten(due), days: many(Math.abs(days), "1 day", "{n} days") };
    return this.words.say(days < 0 ? "late" : days === 0 ? "due-today" : "due-in", slots);
  }

  show() {
    const given = this.progress.assignments();
    this.find("none").hidden = given.length > 0;
    this.find("given").replaceChildren(...given.map((one) => this.card(one)));
    const due = this.progress.dueNow();
    const coming = this.progress.comingBack().filter((q) => q.due > this.progress.today());
    this.find("due-said").textContent = due.length ? this.words.say("back-now", { questions: many(due.length, "1 question", "{n} questions") }) : this.words.say("back-none");
    this.find("due-go").hidden = !due.length;
    this.find("coming").hidden = !coming.length;
    if (coming.length) this.find("coming").textContent = this.words.say("back-later", { questions: many(coming.length, "1 question", "{n} questions"), day: dayWritten(coming[0].due) });
  }

  card(one) {
    const made = this.words.part("card");
    const slot = (name) => made.querySelector(`[data-slot="${name}"]`);
    const list = this.library.lists.get(one.list);
    if (!list) {
      slot("title").textContent = one.list;
      slot("due").textContent = this.words.say("gone");
      for (const part of made.querySelectorAll("[data-known]")) part.hidden = true;
    } else {
      const result = this.progress.result(list);
      const done = sheetDone(result);
      const link = slot("title");
      link.href = `${this.root}reading/${list.key}/`;
      link.textContent = list.title;
      slot("due").textContent = this.dueSaid(one, result.finished);
      made.toggleAttribute("data-late", !result.finished && one.due !== null && one.due < this.progress.today());
      slot("done").textContent = this.words.say("done-of", { done, of: list.items.length });
      Object.assign(slot("bar"), { max: list.items.length, value: done });
      slot("bar").setAttribute("aria-label", list.title);
      slot("items").replaceChildren(...list.items.map((item, i) => this.row(item, result.items[i])));
      made.querySelector("[data-open-sheet]").addEventListener("click", () => this.open(list));
    }
    const off = made.querySelector("[data-off]");
    off.setAttribute("aria-label", `${off.textContent}: ${list?.title ?? one.list}`);
    off.addEventListener("click", () => {
      this.progress.unassign(one.list);
      this.show();
      this.say("taken-off", { title: list?.title ?? one.list });
      this.find("given-head").focus();
    });
    return made;
  }

  row({ title, what, url }, did) {
    const made = this.words.part("row");
    const link = made.querySelector("a");
    link.href = this.root + url;
    link.textContent = title;
    made.querySelector('[data-slot="what"]').textContent = what;
    const state = made.querySelector('[data-slot="state"]');
    state.textContent = this.words.state(did);
    made.toggleAttribute("data-done", did.done !== null);
    return made;
  }

  open(list) {
    const result = this.progress.result(list);
    const { company, edition } = this.library;
    try {
      this.whole = sealed({ company, title: list.title, edition, ...result });
    } catch (fault) {
      if (!(fault instanceof SheetFault)) throw fault;
      this.say("no-sheet", { why: fault.message });
      return;
    }
    const { whole } = this;
    const slot = (name, text) => {
      this.find("sheet").querySelector(`[data-slot="${name}"]`).textContent = text;
    };
    slot("sheet-title", whole.title);
    slot("sheet-for", whole.initials);
    slot("sheet-due", whole.due ? dayWritten(whole.due) : this.words.say("none"));
    slot("sheet-finished", whole.finished ? dayWritten(whole.finished) : this.words.say("not-finished", { done: sheetDone(whole), of: whole.items.length }));
    const score = sheetScore(whole);
    slot("sheet-score", score === null ? this.words.say("no-score") : `${score} %`);
    slot("sheet-again", whole.again ? many(whole.again, "1 question", "{n} questions") : this.words.say("none"));
    slot("sheet-code", whole.code);
    const rows = whole.items.map((item) => {
      const made = this.words.part("sheet-row");
      const put = (name, text) => {
        made.querySelector(`[data-slot="${name}"]`).textContent = text;
      };
      put("title", item.title);
      put("key", item.key.split(":")[0] === "case" ? item.key.slice(5) : "");
      put("done", item.done ? dayWritten(item.done) : this.words.say("not-yet"));
      put("score", item.of ? inWords("{score} of {of}", item) : "");
      const tries = item.key.startsWith("unknown:") ? "tries-first" : "tries";
      put("tries", item.tries > 1 ? this.words.say(tries, { n: item.tries }) : "");
      return made;
    });
    this.find("sheet-rows").replaceChildren(...rows);
    this.find("sheet").hidden = false;
    this.find("sheet-head").focus();
  }

  file() {
    return new File([`${JSON.stringify(this.whole, null, 1)}\n`], `result-${this.whole.list}-${this.whole.initials}.json`, { type: "application/json" });
  }

  async send() {
    const how = await giveOn(this.file(), this.words.say("share-title", { title: this.whole.title, initials: this.whole.initials }));
    this.say(`sent-${how}`);
  }

  save() {
    saveFile(this.file());
    this.say("sent-file");
  }
}
