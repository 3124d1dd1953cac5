// Result sheets: what one may hold, its canonical form, and its check code. Twin of analysis/results.py, which explains them.
import { isDay, isItem, isList } from "./progress.mjs";
import { inWords } from "./out.mjs";

const SHEET_VERSION = 1;
const SHEET_LARGEST = 200_000; // bytes
const SHEET_ITEMS = 200;
const SHEET_TEXT = 200; // letters
const SHEET_MOST = 9999;
const SHEET_FIRST = "2020-01-01";
const SHEET_LAST = "2109-09-17";
const CODE_SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const CODE_LONG = 25;
const CODE_PRIME = 1021n;
const NO_SCORE = 127;
const CODE_BITS = [["version", 3], ["list", 20], ["initials", 21], ["day", 15], ["score", 7], ["part", 7], ["digest", 42]];
const INITIAL_SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const SHEET_INITIALS = /^[A-Z0-9]{1,4}$/;
const BAD_SIGNS = /[\u0000-\u001f\u007f-\u009f\ud800-\udfff]/u; // with u: only halves of surrogates
const SHEET_KEYS = ["leaklore", "version", "company", "list", "title", "edition", "initials", "due", "finished", "again", "items"];
const ITEM_KEYS = ["key", "title", "done", "score", "of", "tries", "minutes"];
const SHEET_DAY_MS = 86_400_000;

// Bytes (a typed array) that are no result sheet, or a text that is no code; the message says why, in words of the page.
export class SheetFault extends Error {}

// SHA-256 (FIPS 180-4), because the browser's own is refused where a site is served without https.
// The constants are the first 32 bits of the fractions of cube and square roots of the first primes.
function shaConstants() {
  const primes = [];
  for (let n = 2; primes.length < 64; n += 1) if (primes.every((p) => n % p)) primes.push(n);
  const fraction = (root) => Math.floor((root - Math.floor(root)) * 2 ** 32);
  return [primes.map((p) => fraction(Math.cbrt(p))), primes.slice(0, 8).map((p) => fraction(Math.sqrt(p)))];
}

const [SHA_K, SHA_START] = shaConstants();

export function sha256(bytes) {
  const size = (bytes.length + 72) >> 6 << 6;
  const padded = new Uint8Array(size);
  padded.set(bytes);
  padded[bytes.length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(size - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(size - 4, bytes.length << 3);
  const turn = (x, n) => (x >>> n) | (x << (32 - n));
  const state = Int32Array.from(SHA_START, (n) => n | 0);
  const w = new Int32Array(64);
  for (let at = 0; at < size; at += 64) {
    for (let i = 0; i < 16; i += 1) w[i] = view.getInt32(at + 4 * i);
    for (let i = 16; i < 64; i += 1) {
      const s0 = turn(w[i - 15], 7) ^ turn(w[i - 15], 18) ^ (w[i - 15] >>> 3);
      const s1 = turn(w[i - 2], 17) ^ turn(w[i - 2], 19) ^ (w[i - 2] >>> 10);
      w[i] = (w[i - 16] + s0 + w[i - 7] + s1) | 0;
    }
    let [a, b, c, d, e, f, g, h] = state;
    for (let i = 0; i < 64; i += 1) {
      const t1 = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + SHA_K[i] + w[i]) | 0;
      const t2 = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      [h, g, f, e, d, c, b, a] = [g, f, e, (d + t1) | 0, c, b, a, (t1 + t2) | 0];
    }
    [a, b, c, d, e, f, g, h].forEach((n, i) => {
      state[i] = (state[i] + n) | 0;
    });
  }
  const out = new DataView(new ArrayBuffer(32));
  state.forEach((n, i) => out.setInt32(4 * i, n));
  return new Uint8Array(out.buffer);
}

function firstBits(bytes, bits) {
  return new DataView(sha256(bytes).buffer).getBigUint64(0) >> BigInt(64 - bits);
}

const utf8 = (text) => new TextEncoder().encode(text);

export function listMark(key) {
  return Number(firstBits(utf8(`list:${key}`), 20));
}

export function sheetScore({ items }) {
  const sum = (key) => items.reduce((all, item) => all + (item[key] ?? 0), 0);
  const of = sum("of");
  return of ? Math.floor((200 * sum("score") + of) / (2 * of)) : null;
}

export const sheetDone = ({ items }) => items.filter((item) => item.done !== null).length;

export const sheetPart = (sheet) => Math.floor((100 * sheetDone(sheet)) / sheet.items.length);

const picked = (from, keys) => Object.fromEntries(keys.map((key) => [key, from[key]]));

// The sheet without its code, as a text: what the digest is made of.
export function canonicalSheet(sheet) {
  const items = sheet.items.map((item) => picked(item, ITEM_KEYS));
  return JSON.stringify({ leaklore: "result", version: SHEET_VERSION, ...picked(sheet, SHEET_KEYS.slice(2, -1)), items });
}

export function sheetCode(sheet) {
  let initials = 0;
  for (const sign of sheet.initials) initials = initials * 37 + INITIAL_SIGNS.indexOf(sign) + 1;
  const fields = {
    version: SHEET_VERSION,
    list: listMark(sheet.list),
    initials,
    day: sheet.finished ? (Date.parse(sheet.finished) - Date.parse(SHEET_FIRST)) / SHEET_DAY_MS + 1 : 0,
    score: sheetScore(sheet) ?? NO_SCORE,
    part: sheetPart(sheet),
    digest: firstBits(utf8(canonicalSheet(sheet)), 42),
  };
  let number = CODE_BITS.reduce((all, [name, bits]) => (all << BigInt(bits)) | BigInt(fields[name]), 0n);
  number = number * 1024n + (number % CODE_PRIME);
  const signs = Array.from({ length: CODE_LONG }, (_, i) => CODE_SIGNS[Number((number >> BigInt(5 * (CODE_LONG - 1 - i))) & 31n)]);
  return [0, 5, 10, 15, 20].map((at) => signs.slice(at, at + 5).join("")).join("-");
}

function bareCode(typed) {
  return typed.replace(/[\s.\u2013\u2014-]/gu, "").toUpperCase().replace(/O/g, "0").replace(/[IL]/g, "1");
}

// What a code carries: { list (a mark), initials, finished (a day or null), score (percent or null), part, digest }.
export function decodeCode(typed) {
  const signs = [...bareCode(typed)];
  if (signs.length !== CODE_LONG) fault("a code has {long} letters and digits, and this has {n}", { long: CODE_LONG, n: signs.length });
  const strange = signs.find((sign) => !CODE_SIGNS.includes(sign));
  if (strange !== undefined) fault('"{sign}" is in no code; look again', { sign: strange });
  const all = signs.reduce((sum, sign) => (sum << 5n) | BigInt(CODE_SIGNS.indexOf(sign)), 0n);
  let number = all >> 10n;
  if (number % CODE_PRIME !== (all & 1023n)) fault("a sign is wrong, or two are swapped; look again");
  const fields = {};
  for (const [name, bits] of [...CODE_BITS].reverse()) {
    fields[name] = Number(number & ((1n << BigInt(bits)) - 1n));
    number >>= BigInt(bits);
  }
  if (fields.version !== SHEET_VERSION) fault("it is a code of another version");
  let initials = "";
  for (let left = fields.initials; left; left = Math.floor(left / 37)) initials = (left % 37 ? INITIAL_SIGNS[(left % 37) - 1] : "?") + initials;
  const { list, day, score, part, digest } = fields;
  if (!SHEET_INITIALS.test(initials) || part > 100 || (score > 100 && score < NO_SCORE)) fault("it carries what no sheet has");
  const finished = day ? new Date(Date.parse(SHEET_FIRST) + (day - 1) * SHEET_DAY_MS).toISOString().slice(0, 10) : null;
  return { list, initials, finished, score: score === NO_SCORE ? null : score, part, digest };
}

function fault(says, slots) {
  throw new SheetFault(inWords(says, slots));
}

// `n` is the item's number, null for the sheet itself.
function exactly(raw, keys, n) {
  for (const key of keys) if (!Object.hasOwn(raw, key)) fault(n ? "item {n} has no {key}" : "the sheet has no {key}", { n, key });
  if (Object.keys(raw).length !== keys.length) fault(n ? "item {n} has more than a result sheet has" : "the sheet has more than a result sheet has", { n });
}

function wholeOf(value, what, n = null) {
  if (!Number.isSafeInteger(value) || value < 0 || value > SHEET_MOST) fault("its {what} is no whole number up to {most}", { what: inWords(what, { n }), most: SHEET_MOST });
  return value + 0; // -0 is 0
}

function textOf(value, what, n = null) {
  if (typeof value !== "string" || !value || [...value].length > SHEET_TEXT || BAD_SIGNS.test(value)) fault("its {what} is no text of up to {most} letters", { what: inWords(what, { n }), most: SHEET_TEXT });
  return value;
}

function sheetDay(value, what, n = null) {
  if (!isDay(value) || value < SHEET_FIRST || value > SHEET_LAST) fault("its {what} is no day", { what: inWords(what, { n }) });
  return value;
}

const orNull = (value, read) => (value === null ? null : read(value));
const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);

function itemOf(raw, n) {
  if (!isObject(raw)) fault("item {n} is none", { n });
  exactly(raw, ITEM_KEYS, n);
  const item = {
    key: isItem(raw.key) ? raw.key : fault("its key of item {n} can't be", { n }),
    title: textOf(raw.title, "title of item {n}", n),
    done: orNull(raw.done, (day) => sheetDay(day, "done of item {n}", n)),
    score: orNull(raw.score, (value) => wholeOf(value, "score of item {n}", n)),
    of: orNull(raw.of, (value) => wholeOf(value, "whole of item {n}", n)),
    tries: wholeOf(raw.tries, "tries of item {n}", n),
    minutes: orNull(raw.minutes, (value) => wholeOf(value, "minutes of item {n}", n)),
  };
  if ((item.score === null) !== (item.of === null) || (item.of !== null && !(item.score <= item.of && item.of > 0))) fault("the score of item {n} can't be", { n });
  if ((item.done === null) !== (item.tries === 0) || (item.done === null && (item.score !== null || item.minutes !== null))) fault("item {n} is done and not done", { n });
  return item;
}

// A parsed sheet, checked: { sheet, code }.
function sheetOf(raw) {
  if (!isObject(raw) || raw.leaklore !== "result") fault("it is no result sheet");
  if (raw.version !== SHEET_VERSION) fault("it is a result sheet of another version than {version}; build the site anew", { version: SHEET_VERSION });
  exactly(raw, [...SHEET_KEYS, "code"], null);
  if (typeof raw.code !== "string") fault("its code is no text");
  if (!Array.isArray(raw.items) || raw.items.length < 1 || raw.items.length > SHEET_ITEMS) fault("it has no list of 1 to {most} items", { most: SHEET_ITEMS });
  const sheet = {
    company: textOf(raw.company, "company"),
    list: isList(raw.list) ? raw.list : fault("its list can't be"),
    title: textOf(raw.title, "title"),
    edition: sheetDay(raw.edition, "edition"),
    initials: typeof raw.initials === "string" && SHEET_INITIALS.test(raw.initials) ? raw.initials : fault("its initials can't be"),
    due: orNull(raw.due, (day) => sheetDay(day, "due")),
    finished: orNull(raw.finished, (day) => sheetDay(day, "finished")),
    again: wholeOf(raw.again, "again"),
    items: raw.items.map((one, i) => itemOf(one, i + 1)),
  };
  if (new Set(sheet.items.map(({ key }) => key)).size !== sheet.items.length) fault("it has an item twice");
  const days = sheet.items.map(({ done }) => done);
  const finished = days.every(Boolean) ? days.reduce((a, b) => (b > a ? b : a)) : null;
  if (sheet.finished !== finished) fault("its finished day is not that of its last item");
  return { sheet, code: raw.code };
}

// A sheet and the code that it carries, from the bytes of a file. Throws SheetFault; the code is not checked yet.
export function readSheet(bytes) {
  if (bytes.length > SHEET_LARGEST) fault("it has {n} bytes, more than a result sheet can have ({most})", { n: bytes.length.toLocaleString("en-US"), most: SHEET_LARGEST.toLocaleString("en-US") });
  let raw;
  try {
    raw = JSON.parse(new TextDecoder().decode(bytes));
  } catch {
    fault("it is no result sheet: it can't be read as JSON");
  }
  return sheetOf(raw);
}

export function agreesWith(sheet, carried) {
  decodeCode(carried);
  return bareCode(carried) === sheetCode(sheet).replaceAll("-", "");
}

// The file's content of a result with its code; throws SheetFault where the result is none.
export function sealed(result) {
  const plain = JSON.parse(canonicalSheet(result));
  const { sheet } = sheetOf({ ...plain, code: "" });
  return { ...plain, code: sheetCode(sheet) };
}
