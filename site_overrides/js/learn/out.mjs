// What leaves the learner's and the trainer's pages: files, tables for spreadsheets, links; and days as the site writes them.
import { giveFile } from "../give.mjs";

const SHORT = { day: "numeric", month: "short" };

// Scripts speak English; in another language the page's tag of the script brings their sentences, and days are in that one.
export function inWords(english, slots = {}) {
  const told = JSON.parse(globalThis.document?.querySelector("script[data-words]")?.dataset.words ?? "{}");
  return (told[english] ?? english).replace(/\{(\w+)\}/g, (_, name) => String(slots[name]));
}

const languageOf = () => {
  const tag = globalThis.document?.documentElement.lang ?? "en";
  return tag === "en" ? "en-GB" : tag;
};

// "3 February 2025" of "2025-02-03".
export function dayWritten(day) {
  return new Date(`${day}T12:00:00`).toLocaleDateString(languageOf(), { day: "numeric", month: "long", year: "numeric" });
}

export function dayShort(day) {
  return new Date(`${day}T12:00:00`).toLocaleDateString(languageOf(), SHORT);
}

// "1 item", "7 items", by the two messages.
export function many(n, one, more) {
  return inWords(n === 1 ? one : more, { n });
}

// Browsers that pass on no JSON pass on its text.
export async function giveOn(file, title) {
  return giveFile(file, [{ files: [file], title }, { text: await file.text(), title }]);
}

// A cell that no spreadsheet takes for a formula.
function csvCell(value) {
  const text = value === null || value === undefined ? "" : String(value);
  const safe = typeof value === "string" && /^[=+\-@\t\r\n＝＋－＠]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

// RFC 4180, with the mark that tells spreadsheets it is UTF-8.
export function csvOf(rows) {
  return `\ufeff${rows.map((row) => row.map(csvCell).join(",")).join("\r\n")}\r\n`;
}

// The JSON objects that stand in a text one after another, whatever is between them; an object that never ends is told whole.
export function objectsIn(text) {
  const found = [];
  let [depth, start, quoted] = [0, 0, false];
  for (let i = 0; i < text.length; i += 1) {
    const sign = text[i];
    if (quoted) {
      if (sign === "\\") i += 1;
      else if (sign === '"') quoted = false;
    } else if (sign === '"' && depth) quoted = true;
    else if (sign === "{") {
      if (!depth) start = i;
      depth += 1;
    } else if (sign === "}" && depth) {
      depth -= 1;
      if (!depth) found.push(text.slice(start, i + 1));
    }
  }
  if (depth) found.push(text.slice(start));
  return found;
}
