// What a trainer has gathered: result sheets judged one by one, and who has read what, by topic. No page here.
import { SheetFault, agreesWith, decodeCode, listMark, readSheet, sheetDone, sheetScore } from "./sheet.mjs";
import { inWords } from "./out.mjs";

const CSV_HEAD = ["initials", "list", "topic", "item", "key", "done", "score", "of", "tries", "minutes", "due", "finished", "again", "code"];

const share = ({ score, of }) => (of ? score / of : 0);
const learner = (sheet) => `${sheet.initials} ${sheet.list}`;

// `library` is { company, lists: Map of key -> { key, title, items }, topics: { item key -> topic } }; `today` is a day.
export class Gathered {
  constructor(library, today) {
    Object.assign(this, { library, today, sheets: new Map(), refused: [], notes: [] });
  }

  // Takes the bytes of a file or the reason why there are none; true where it is right.
  add(name, bytes) {
    let named = name;
    try {
      const { sheet, code } = readSheet(bytes);
      named = `${name} (${sheet.initials}, ${sheet.title})`;
      if (!agreesWith(sheet, code)) throw new SheetFault(inWords("it was altered after it was made: its code does not fit what it says"));
      if (sheet.company !== this.library.company) throw new SheetFault(inWords("it comes from another library: {company}", sheet));
      if (!this.library.lists.has(sheet.list)) throw new SheetFault(inWords('this library has no list "{list}"', sheet));
      this.take(name, { ...sheet, code });
      return true;
    } catch (fault) {
      if (!(fault instanceof SheetFault)) throw fault;
      this.refused.push({ name: named, why: fault.message });
      return false;
    }
  }

  take(name, sheet) {
    const before = this.sheets.get(learner(sheet));
    const [rank, was] = [sheet, before].map((one) => (one ? `${String(sheetDone(one)).padStart(3, "0")} ${one.finished ?? ""} ${one.edition}` : ""));
    if (before && before.code !== sheet.code) this.notes.push(inWords('{name}: there are two sheets of {initials} for "{title}"; the one with more done is shown.', { name, ...sheet }));
    if (!before || rank > was) this.sheets.set(learner(sheet), sheet);
    const now = this.library.lists.get(sheet.list).items.map(({ key }) => key).sort().join();
    if (now !== sheet.items.map(({ key }) => key).sort().join()) this.notes.push(inWords('{name}: the list "{title}" has changed since; the sheet is of the library of {edition}.', { name, ...sheet }));
  }

  all() {
    return [...this.sheets.values()].sort((a, b) => a.title.localeCompare(b.title) || a.initials.localeCompare(b.initials));
  }

  topicOf(key) {
    return Object.hasOwn(this.library.topics, key) ? this.library.topics[key] : inWords("Other");
  }

  // `late`: finished after the due day, or still open with that day past.
  people() {
    return this.all().map((sheet) => ({ ...sheet, done: sheetDone(sheet), of: sheet.items.length, score: sheetScore(sheet), late: sheet.due !== null && (sheet.finished ?? this.today) > sheet.due }));
  }

  // { initials, topics: [{ topic, items: [{ key, title, cells }] }] }; a cell is null where it was no part of what
  // the person was given, else { done, score, of }.
  byTopic() {
    const initials = [...new Set(this.all().map((sheet) => sheet.initials))].sort();
    const rows = new Map();
    for (const sheet of this.all()) {
      for (const { key, title, done, score, of } of sheet.items) {
        if (!rows.has(key)) rows.set(key, { key, title, cells: new Map() });
        const before = rows.get(key).cells.get(sheet.initials);
        if (!before?.done || (done && share({ score, of }) > share(before))) rows.get(key).cells.set(sheet.initials, { done, score, of });
      }
    }
    const topics = grouped(rows.values(), ({ key }) => this.topicOf(key));
    const told = [...topics].map(([topic, items]) => ({ topic, items: items.map(({ key, title, cells }) => ({ key, title, cells: initials.map((who) => cells.get(who) ?? null) })) }));
    return { initials, topics: told.sort((a, b) => a.topic.localeCompare(b.topic)) };
  }

  csvRows() {
    const rows = this.all().flatMap((sheet) => sheet.items.map((item) => [sheet.initials, sheet.title, this.topicOf(item.key), item.title, item.key, item.done, item.score, item.of, item.tries, item.minutes, sheet.due, sheet.finished, sheet.again, sheet.code]));
    return [CSV_HEAD, ...rows];
  }

  // What a typed code tells: { list (title or null), initials, finished, score, part, sheet (its sheet, if gathered) }.
  code(typed) {
    const carried = decodeCode(typed);
    const list = [...this.library.lists.values()].find(({ key }) => listMark(key) === carried.list);
    const sheet = this.all().find((one) => JSON.stringify(decodeCode(one.code)) === JSON.stringify(carried));
    return { ...carried, list: list?.title ?? null, sheet: sheet ?? null };
  }
}

function grouped(values, keyOf) {
  const out = new Map();
  for (const value of values) {
    const key = keyOf(value);
    out.set(key, [...(out.get(key) ?? []), value]);
  }
  return out;
}

