// Pictures before they go into a record: how they lie, how large they may be, nothing in them that tells where and when.

export const LARGEST = 1600; // pixels of the longer side

const [SOI, EOI, SOS, APP1] = [0xd8, 0xd9, 0xda, 0xe1];
const ORIENTATION = 0x0112;
const SHORT = 3;
const KEPT_APPS = [0xe0, 0xe2, 0xee]; // JFIF, colour profile, colour transform; all others may tell of place and person
const COMMENT = 0xfe;
const PROFILE = "ICC_PROFILE";
const HEIF = "heic heix heim heis hevc hevx hevm hevs mif1 mif2 msf1 j2ki j2is avci avcs jpeg jpgs vvic vvis".split(" "); // as records/heif.py has them

const alone = (marker) => marker === 0x01 || (marker >= 0xd0 && marker <= 0xd8);
const begins = (bytes, at, word) => [...word].every((sign, i) => bytes[at + i] === sign.charCodeAt(0));

// Segments { marker, start, end } up to the end of the picture: end is behind the segment, and behind the scan's data.
function* segments(bytes) {
  if (bytes[0] !== 0xff || bytes[1] !== SOI) throw new TypeError("is not a JPEG picture");
  let at = 2;
  while (at < bytes.length) {
    if (bytes[at] !== 0xff) throw new TypeError("is a damaged JPEG picture");
    while (bytes[at + 1] === 0xff) at += 1; // fill bytes
    const marker = bytes[at + 1];
    if (marker === undefined) return;
    if (marker === EOI) {
      yield { marker, start: at, end: at + 2 };
      return;
    }
    if (alone(marker)) {
      yield { marker, start: at, end: at + 2 };
      at += 2;
      continue;
    }
    const length = (bytes[at + 2] << 8) | bytes[at + 3];
    let end = at + 2 + length;
    if (!(length >= 2) || end > bytes.length) throw new TypeError("is a damaged JPEG picture");
    if (marker === SOS) {
      const inside = (i) => bytes[i] !== 0xff || bytes[i + 1] === 0 || (bytes[i + 1] >= 0xd0 && bytes[i + 1] <= 0xd7);
      while (end < bytes.length && inside(end)) end += 1;
    }
    yield { marker, start: at, end };
    at = end;
  }
}

function tagIn(bytes, start, end) {
  const view = new DataView(bytes.buffer, bytes.byteOffset + start, end - start);
  const little = view.getUint16(0) === 0x4949;
  if (!little && view.getUint16(0) !== 0x4d4d) return 1;
  const first = view.getUint32(4, little);
  for (let i = 0; i < view.getUint16(first, little); i += 1) {
    const entry = first + 2 + 12 * i;
    if (view.getUint16(entry, little) === ORIENTATION && view.getUint16(entry + 2, little) === SHORT) {
      const value = view.getUint16(entry + 8, little);
      return value >= 1 && value <= 8 ? value : 1;
    }
  }
  return 1;
}

// EXIF orientation of a JPEG, 1 to 8; 1, as it lies, where it says nothing or nonsense.
export function orientation(bytes) {
  try {
    for (const { marker, start, end } of segments(bytes)) {
      if (marker === SOS) return 1;
      if (marker === APP1 && begins(bytes, start + 4, "Exif\0\0")) return tagIn(bytes, start + 10, end);
    }
  } catch (fault) {
    if (!(fault instanceof TypeError || fault instanceof RangeError)) throw fault;
  }
  return 1;
}

// What a canvas has to do: degrees clockwise, after mirroring left to right; `sides` if width and height change places.
export function turn(value) {
  const degrees = [0, 0, 180, 180, 270, 90, 90, 270][value - 1];
  return { degrees, mirrored: [2, 4, 5, 7].includes(value), sides: value >= 5 };
}

// Width and height at which neither side is longer than `largest`; a small picture stays as it is.
export function targetSize(width, height, largest = LARGEST) {
  const scale = Math.min(1, largest / Math.max(width, height));
  return { width: Math.max(1, Math.round(width * scale)), height: Math.max(1, Math.round(height * scale)) };
}

// The JPEG without EXIF, captions, comments, previews and whatever a phone put behind the picture; TypeError if it is none.
// How it lies goes with the EXIF: turn it first.
export function withoutMetadata(bytes) {
  const kept = [bytes.subarray(0, 2)];
  for (const { marker, start, end } of segments(bytes)) {
    const app = marker >= 0xe0 && marker <= 0xef;
    const foreign = marker === 0xe2 && !begins(bytes, start + 4, PROFILE);
    if ((app && !KEPT_APPS.includes(marker)) || foreign || marker === COMMENT) continue;
    kept.push(bytes.subarray(start, end));
  }
  const out = new Uint8Array(kept.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of kept) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}

// Whether the first bytes of a file say that it is a HEIC, which few browsers can read.
export function isHeif(bytes) {
  return begins(bytes, 4, "ftyp") && HEIF.some((brand) => begins(bytes, 8, brand));
}
