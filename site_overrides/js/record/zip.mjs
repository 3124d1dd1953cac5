// A ZIP file of files that are packed already (pictures) or small (a record): stored, not compressed.

const LOCAL = 0x04034b50;
const CENTRAL = 0x02014b50;
const END = 0x06054b50;
const VERSION = 20;
const UTF8 = 1 << 11;
const FIRST_YEAR = 1980;
const LAST_YEAR = 2107;
const MOST_FILES = 0xffff;
const MOST_BYTES = 0xffffffff;

const TABLE = Uint32Array.from({ length: 256 }, (_, number) => {
  let sum = number;
  for (let bit = 0; bit < 8; bit += 1) sum = sum & 1 ? (sum >>> 1) ^ 0xedb88320 : sum >>> 1;
  return sum;
});

// CRC-32 of bytes (ISO 3309, as ZIP and PNG use it).
export function crc32(bytes) {
  let sum = 0xffffffff;
  for (const byte of bytes) sum = TABLE[(sum ^ byte) & 0xff] ^ (sum >>> 8);
  return (sum ^ 0xffffffff) >>> 0;
}

function dosDay(day) {
  const [year, month, date] = day.split("-").map(Number);
  return ((Math.min(Math.max(year, FIRST_YEAR), LAST_YEAR) - FIRST_YEAR) << 9) | (month << 5) | date;
}

// Fields [bytes, value] in ZIP's byte order.
function packed(fields) {
  const view = new DataView(new ArrayBuffer(fields.reduce((sum, [size]) => sum + size, 0)));
  let at = 0;
  for (const [size, value] of fields) {
    if (size === 2) view.setUint16(at, value, true);
    else view.setUint32(at, value, true);
    at += size;
  }
  return new Uint8Array(view.buffer);
}

// Bytes of a ZIP with files [{ name, bytes }], all dated midnight of `day` ("2026-03-01").
export function zip(files, day) {
  if (files.length > MOST_FILES) throw new RangeError(`${files.length} files are too many for a ZIP`);
  const [parts, central] = [[], []];
  let offset = 0;
  for (const { name, bytes } of files) {
    const title = new TextEncoder().encode(name);
    const size = bytes.length;
    const when = [[2, 0], [2, dosDay(day)]];
    const what = [[4, crc32(bytes)], [4, size], [4, size], [2, title.length], [2, 0]];
    const shared = [[2, VERSION], [2, UTF8], [2, 0], ...when, ...what];
    const head = packed([[4, LOCAL], ...shared]);
    central.push(packed([[4, CENTRAL], [2, VERSION], ...shared, [2, 0], [2, 0], [2, 0], [4, 0], [4, offset]]), title);
    parts.push(head, title, bytes);
    offset += head.length + title.length + size;
  }
  const length = central.reduce((sum, part) => sum + part.length, 0);
  if (offset + length > MOST_BYTES) throw new RangeError("the files are too large for a ZIP");
  const counts = [[2, files.length], [2, files.length]];
  const end = packed([[4, END], [2, 0], [2, 0], ...counts, [4, length], [4, offset], [2, 0]]);
  const out = new Uint8Array(offset + length + end.length);
  let at = 0;
  for (const part of [...parts, ...central, end]) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}
