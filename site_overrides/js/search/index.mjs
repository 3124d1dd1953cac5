// The index in pieces: buckets of terms, blocks of hits, facets and words, fetched when asked for and kept.

const NUMBER_BYTES = 4;
const VARINT_BYTES = 5;

// A piece that is cut, or of another build than the model.
export class BrokenPiece extends Error {}

// The same when it was fetched anew: the page has other words for it than these.
export class OtherBuild extends Error {}

// FNV-1a hash, 32 bits, of a term's UTF-8 bytes.
export function fnv(term) {
  let h = 2166136261;
  for (const byte of new TextEncoder().encode(term)) h = Math.imul(h ^ byte, 16777619);
  return h >>> 0;
}

// Path of the bucket that a term is in, if any text has it.
export function bucketPath(term, count) {
  return `terms/${fnv(term) % count}.bin`;
}

class ByteReader {
  constructor(bytes) {
    this.bytes = bytes;
    this.at = 0;
  }

  byte() {
    if (this.at >= this.bytes.length) throw new BrokenPiece("cut short");
    return this.bytes[this.at++];
  }

  take(length) {
    if (this.at + length > this.bytes.length) throw new BrokenPiece("cut short");
    this.at += length;
    return this.bytes.subarray(this.at - length, this.at);
  }

  varint() {
    let value = 0;
    for (let i = 0; i < VARINT_BYTES; i += 1) {
      const byte = this.byte();
      value += (byte & 127) * 2 ** (7 * i);
      if (byte < 128) return value;
    }
    throw new BrokenPiece("a number without an end");
  }

  end() {
    if (this.at !== this.bytes.length) throw new BrokenPiece("more than there should be");
  }
}

// { docs, impacts }: documents that hold a term, ascending, and what the term weighs in each.
export function decodePostings(bytes, documents) {
  const reader = new ByteReader(bytes);
  const count = reader.varint();
  if (count > documents) throw new BrokenPiece("more documents than there are");
  const docs = new Int32Array(count);
  let last = -1;
  for (let i = 0; i < count; i += 1) {
    last += reader.varint() + 1;
    docs[i] = last;
  }
  if (last >= documents) throw new BrokenPiece("a document that isn't there");
  const shared = reader.byte();
  const impacts = shared ? new Uint8Array(count).fill(shared) : reader.take(count);
  reader.end();
  return { docs, impacts };
}

export class IndexReader {
  // `about` is `index` of the model; fetchPiece(path, kind, { fresh }) gives an ArrayBuffer (kind "bytes") or what
  // the JSON says (kind "json"); `fresh` asks for it past every store.
  constructor(about, fetchPiece) {
    this.about = about;
    this.fetchPiece = fetchPiece;
    this.pieces = new Map();
    this.lists = new Map();
    this.scores = null;
  }

  // A piece, read once; one that can't be had is asked for again by the next question.
  piece(path, kind, read) {
    let found = this.pieces.get(path);
    if (!found) {
      found = this.fetched(path, kind, read);
      this.pieces.set(path, found);
      found.catch(() => this.pieces.delete(path));
    }
    return found;
  }

  async fetched(path, kind, read) {
    const broken = (fault) => fault instanceof BrokenPiece || fault instanceof SyntaxError;
    try {
      return read(await this.fetchPiece(path, kind));
    } catch (fault) {
      if (!broken(fault)) throw fault;
    }
    try {
      return read(await this.fetchPiece(path, kind, { fresh: true }));
    } catch (fault) {
      if (!broken(fault)) throw fault;
      throw new OtherBuild("A part of the search doesn't fit the rest: load the page again.", { cause: fault });
    }
  }

  // The bytes behind the index's number.
  body(content) {
    const bytes = new Uint8Array(content);
    const number = [...bytes.subarray(0, NUMBER_BYTES)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    if (number !== this.about.number) throw new BrokenPiece("of another index");
    return bytes.subarray(NUMBER_BYTES);
  }

  rows(content) {
    if (!Array.isArray(content) || content[0] !== this.about.number) throw new BrokenPiece("of another index");
    return content.slice(1);
  }

  bucket(path) {
    return this.piece(path, "bytes", (content) => {
      const reader = new ByteReader(this.body(content));
      const text = new TextDecoder();
      const found = [];
      for (let left = reader.varint(); left > 0; left -= 1) {
        const term = text.decode(reader.take(reader.varint()));
        if (this.bucketOf(term) !== path) throw new BrokenPiece("of another bucket");
        found.push([term, decodePostings(reader.take(reader.varint()), this.about.documents)]);
      }
      reader.end();
      for (const [term, postings] of found) this.lists.set(term, postings);
    });
  }

  // Path of the bucket of a term.
  bucketOf(term) {
    return bucketPath(term, this.about.buckets);
  }

  // Has the buckets of all terms at hand; what is not there yet is fetched at once.
  async load(terms) {
    await Promise.all([...new Set([...terms].map((term) => this.bucketOf(term)))].map((path) => this.bucket(path)));
  }

  // Does some text hold the term? Its bucket must be loaded.
  has(term) {
    return this.lists.has(term);
  }

  // Map of facet -> code of each case, a place in the facet's values.
  facets() {
    return this.piece("facets.bin", "bytes", (content) => {
      const reader = new ByteReader(this.body(content));
      const found = new Map();
      for (const [name, values] of Object.entries(this.about.facets)) {
        const wide = values.length > 256;
        const codes = new Uint16Array(this.about.cases);
        for (let i = 0; i < codes.length; i += 1) codes[i] = reader.byte() + (wide ? 256 * reader.byte() : 0);
        found.set(name, codes);
      }
      reader.end();
      return found;
    });
  }

  // Map of first letter -> stems that a misspelt one may have meant, in their order.
  words() {
    return this.piece("words.json", "json", (content) => {
      const found = new Map();
      for (const word of this.rows(content)) {
        if (!found.has(word[0])) found.set(word[0], []);
        found.get(word[0]).push(word);
      }
      return found;
    });
  }

  // What is shown of the documents, in the order of their numbers.
  async lines(numbers) {
    const { block, documents, cases } = this.about;
    const blockOf = (number) => (number < cases ? Math.floor(number / block) : "guide");
    const blocks = [...new Set(numbers.map(blockOf))];
    const read = await Promise.all(
      blocks.map((b) =>
        this.piece(`hits/${b}.json`, "json", (content) => {
          const rows = this.rows(content);
          if (rows.length !== (b === "guide" ? documents - cases : Math.min(block, cases - b * block))) throw new BrokenPiece("cut short");
          return rows;
        }),
      ),
    );
    const at = new Map(blocks.map((b, i) => [b, read[i]]));
    return numbers.map((number) => at.get(blockOf(number))[number < cases ? number % block : number - cases]);
  }

  // Sum over the terms [[term, weight]] for every document.
  scored(terms, scale) {
    this.scores ??= new Float64Array(this.about.documents);
    const { scores } = this;
    scores.fill(0);
    for (const [term, weight] of terms) {
      const { docs, impacts } = this.lists.get(term);
      for (let i = 0; i < docs.length; i += 1) scores[docs[i]] += (weight * impacts[i]) / scale;
    }
    return scores;
  }

  // Impact of a term in a document, 0 where it isn't in it.
  impact(term, number) {
    const { docs, impacts } = this.lists.get(term);
    let low = 0;
    let high = docs.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (docs[middle] < number) low = middle + 1;
      else high = middle;
    }
    return docs[low] === number ? impacts[low] : 0;
  }
}
