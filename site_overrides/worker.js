// Keeps the site on this device. One worker is one build: NUMBER is written here by the build, so that a changed
// library is a changed worker. Files are kept once by their content's hash; a build is a list of path and hash.
// A page is answered wholly from the list of the build that it was opened with. Without NUMBER it takes itself away.
const NUMBER = "";

const SCOPE = new URL(self.registration.scope);
const STORE = `leaklore ${SCOPE.pathname}`;
const TRIES = 3; // a file that arrives cut or altered is fetched again twice
const AT_ONCE = 4; // fetches
const UNPACKED = 8; // packs in memory
const NOWHERE = "network"; // in place of a build's number: this page came from a newer server and is left to it
const SETTLING = 60_000; // ms in which a page that is just being opened may be unknown to the browser
const OFFLINE = "offline/index.html";
const TYPES = {
  html: "text/html; charset=utf-8", css: "text/css; charset=utf-8", js: "text/javascript; charset=utf-8",
  mjs: "text/javascript; charset=utf-8", json: "application/json; charset=utf-8", svg: "image/svg+xml",
  png: "image/png", jpg: "image/jpeg", jpeg: "image/jpeg", webp: "image/webp", avif: "image/avif",
  xml: "application/xml; charset=utf-8", csv: "text/csv; charset=utf-8", yaml: "text/plain; charset=utf-8",
  webmanifest: "application/manifest+json",
};

const at = (path) => new URL(path, SCOPE).href;
const fileAt = (hash) => at(`__file__/${hash}`);
const listAt = (number) => at(`__list__/${number}`);
const typeOf = (path) => TYPES[path.slice(path.lastIndexOf(".") + 1)] ?? "application/octet-stream";

// ---------------------------------------------------------------- the store

const store = () => caches.open(STORE);

async function note(name, value) {
  await (await store()).put(at(`__note__/${name}`), new Response(JSON.stringify(value)));
}

async function noted(name, otherwise) {
  const found = await (await store()).match(at(`__note__/${name}`));
  return found ? found.json() : otherwise;
}

async function keptHashes() {
  const before = fileAt("");
  const keys = await (await store()).keys();
  return new Set(keys.filter((k) => k.url.startsWith(before)).map((k) => k.url.slice(before.length)));
}

// A build's list, read: { number, built, groups, rows: Map of path -> { path, size, hash, group, pack } }.
const lists = new Map();

function readList(said) {
  const rows = new Map();
  for (const [path, size, hash, group, pack] of said.files) {
    rows.set(path, { path, size, hash, group: said.groups[group], pack: pack === undefined ? null : said.packs[pack] });
  }
  return { number: said.number, built: said.built, groups: said.groups, rows };
}

function list(number) {
  if (!lists.has(number)) {
    const found = (async () => {
      const kept = await (await store()).match(listAt(number));
      return kept ? readList(await kept.json()) : null;
    })();
    lists.set(number, found);
    found.then((read) => read ?? lists.delete(number), () => lists.delete(number));
  }
  return lists.get(number);
}

// ---------------------------------------------------------------- fetching what is right

class Wrong extends Error {
  constructor(why) {
    super(why);
    this.why = why;
  }
}

async function hashOf(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(digest.subarray(0, 8), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// Bytes of a file as the list says they are; throws Wrong: "signal", "moved-on" (whole, but of another build).
async function fetchRight(row) {
  let why = "signal";
  for (let i = 0; i < TRIES; i += 1) {
    try {
      const reply = await fetch(at(row.path), { cache: "reload", credentials: "same-origin" });
      if (reply.ok) {
        const bytes = await reply.arrayBuffer();
        if (bytes.byteLength === row.size && (await hashOf(bytes)) === row.hash) return bytes;
        why = "moved-on";
      }
    } catch {
      why = "signal"; // cut, or no signal at all
    }
  }
  throw new Wrong(why);
}

async function keepFile(row) {
  const bytes = await fetchRight(row);
  try {
    await (await store()).put(fileAt(row.hash), new Response(bytes, { headers: { "Content-Type": typeOf(row.path) } }));
  } catch (fault) {
    throw new Wrong(fault?.name === "QuotaExceededError" ? "full" : "refused");
  }
}

async function keepAll(rows) {
  const left = [...rows];
  let broken = null;
  const one = async () => {
    while (left.length && !broken) {
      try {
        await keepFile(left.shift());
      } catch (fault) {
        broken = fault;
      }
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, one));
  if (broken) throw broken;
}

// What has to be fetched of some groups: a page is in its pack, and the same content is fetched once.
function missing(of, groups, kept) {
  const found = new Map();
  for (const row of of.rows.values()) {
    if (row.pack === null && groups.includes(row.group) && !kept.has(row.hash)) found.set(row.hash, row);
  }
  return [...found.values()];
}

// ---------------------------------------------------------------- a build comes, a build goes

async function install() {
  const reply = await fetch(at("data/offline.json"), { cache: "no-store", credentials: "same-origin" });
  if (!reply.ok) throw new Wrong("signal");
  const text = await reply.text();
  const of = readList(JSON.parse(text));
  if (of.number !== NUMBER) throw new Wrong("moved-on");
  const wish = await noted("wish", {});
  const groups = wish.cases === "done" ? ["core", "search", "cases"] : ["core"];
  const rows = missing(of, groups, await keptHashes());
  try {
    await keepAll(rows);
  } catch (fault) {
    // after lost signal the next try goes on from here; on a full device nothing of it may stay
    if (fault.why === "full") for (const row of rows) await (await store()).delete(fileAt(row.hash));
    throw fault;
  }
  await (await store()).put(listAt(NUMBER), new Response(text, { headers: { "Content-Type": TYPES.json } }));
  if (wish.photos === "done") {
    // new photos may be large, and a page is whole without them: what fails is fetched on the page "keep"
    await keepAll(missing(of, ["photos"], await keptHashes())).catch(() => {});
  }
}

async function activate() {
  const before = await noted("current", null);
  if (before !== null && before !== NUMBER) {
    const all = await bindings();
    for (const { id } of await self.clients.matchAll({ includeUncontrolled: true })) all[id] ??= [before, Date.now()];
    await note("bound", all);
  }
  await note("current", NUMBER);
  if (before === null) await self.clients.claim();
  await tidy();
}

// Takes away lists that no page is bound to, and files that no list names.
async function tidy() {
  if (self.registration.installing || self.registration.waiting) return; // its files are in no list yet
  const wanted = new Set([NUMBER, ...Object.values(await bindings()).map(([number]) => number)]);
  const cache = await store();
  const keys = await cache.keys();
  const hashes = new Set();
  for (const number of wanted) for (const row of (await list(number))?.rows.values() ?? []) hashes.add(row.hash);
  for (const { url } of keys) {
    const [, kind, name] = url.match(/__(file|list)__\/(\w+)$/) ?? [];
    if ((kind === "list" && !wanted.has(name)) || (kind === "file" && !hashes.has(name))) await cache.delete(url);
  }
}

async function takeAway() {
  for (const name of await caches.keys()) if (name === STORE) await caches.delete(name);
  await self.registration.unregister();
  for (const client of await self.clients.matchAll({ type: "window" })) client.navigate(client.url).catch(() => {});
}

// ---------------------------------------------------------------- which build a page belongs to

// { client's id: [number, time] } for pages that are not of NUMBER.
let bound = null;

async function bindings() {
  bound ??= await noted("bound", {});
  return bound;
}

async function bind(id, number) {
  const all = await bindings();
  all[id] = [number, Date.now()];
  await note("bound", all);
}

// Forgets pages that are closed.
async function unbind() {
  const all = await bindings();
  if (!Object.keys(all).length) return;
  const open = new Set((await self.clients.matchAll({ includeUncontrolled: true })).map((client) => client.id));
  const gone = Object.keys(all).filter((id) => !open.has(id) && Date.now() - all[id][1] > SETTLING);
  if (!gone.length) return;
  for (const id of gone) delete all[id];
  await note("bound", all);
  await tidy();
}

// ---------------------------------------------------------------- answering

const unpacked = new Map();

async function unpack(of, path) {
  const { hash } = of.rows.get(path);
  if (!unpacked.has(hash)) {
    const found = (async () => {
      const kept = await (await store()).match(fileAt(hash));
      if (!kept) return null;
      return new Response(kept.body.pipeThrough(new DecompressionStream("gzip"))).json();
    })();
    unpacked.set(hash, found);
    found.then((read) => read ?? unpacked.delete(hash), () => unpacked.delete(hash));
    if (unpacked.size > UNPACKED) unpacked.delete(unpacked.keys().next().value);
  }
  return unpacked.get(hash);
}

// Text of a file in a pack, or null. Numbers of rows are distances from the one after the row before.
async function textOf(of, path) {
  const pack = await unpack(of, of.rows.get(path).pack);
  const numbers = pack?.files[path];
  if (!numbers) return null;
  let number = -1;
  return numbers.map((step) => pack.rows[(number += step + 1)]).join("");
}

// A file of a pack as the server has it. What has five parts between marks is a page: it is put into its shell as
// generator/leaklore/website/shell.py does, with `root` as the way to the site's root.
async function whole(of, path, root = "../".repeat(path.split("/").length - 1) || "./") {
  const text = await textOf(of, path);
  const page = text?.split("\0") ?? [];
  if (page.length !== 5) return text;
  const kept = await (await store()).match(fileAt(of.rows.get("data/shell.json").hash));
  if (!kept) return null;
  const { parts, banner } = await kept.json();
  const [TITLE, DESCRIPTION, section, EXTRA_HEAD, BODY] = page.map((part) => part.replaceAll("\x01", root));
  const values = { ROOT: root, TITLE, DESCRIPTION, BODY, BANNER: banner, EXTRA_HEAD };
  return parts
    .map((part, i) => {
      if (i % 2 === 0) return part;
      if (part.startsWith("AT:")) return part.slice(3) === section ? ' aria-current="page"' : "";
      return values[part];
    })
    .join("");
}

// Body of a file that is kept, or null.
async function content(of, path) {
  const row = of.rows.get(path);
  if (!row) return null;
  if (row.pack !== null) return whole(of, path);
  const kept = await (await store()).match(fileAt(row.hash));
  return kept ? (kept.body ?? "") : null;
}

function answered(path, body) {
  return new Response(body, { headers: { "Content-Type": typeOf(path) } });
}

// Our own page for one that is not kept; it stands at any address, so its links start at the site's root.
async function notHere(of) {
  const page = of.rows.has(OFFLINE) ? await whole(of, OFFLINE, SCOPE.pathname) : null;
  return page === null ? Response.error() : answered(OFFLINE, page);
}

async function navigate(event, of, path) {
  if (!path.endsWith(".html") && !of.rows.has(path) && of.rows.has(`${path}/index.html`)) {
    const url = new URL(event.request.url);
    url.pathname += "/";
    return Response.redirect(url.href, 301);
  }
  const kept = await content(of, path);
  if (kept !== null) return answered(path, kept);
  let reply;
  try {
    reply = await fetch(event.request);
  } catch {
    return notHere(of);
  }
  if (reply.type === "opaqueredirect") return reply;
  const bytes = await reply.clone().arrayBuffer().catch(() => null);
  if (bytes === null) return notHere(of); // cut on its way
  // a page of a newer build, or an error's, is left to the server with all that it loads
  const ours = reply.ok && (await hashOf(bytes)) === of.rows.get(path)?.hash;
  if (!ours && event.resultingClientId) await bind(event.resultingClientId, NOWHERE);
  return reply;
}

async function load(event, of, path) {
  const kept = await content(of, path);
  if (kept !== null) return answered(path, kept);
  const reply = await fetch(event.request);
  const row = of.rows.get(path);
  if (!row || row.group !== "core" || !reply.ok) return reply;
  // what a page is made of may not come from another build; pieces of a large index carry their own number
  const bytes = await reply.clone().arrayBuffer();
  return (await hashOf(bytes)) === row.hash ? reply : Response.error();
}

async function answer(event, path) {
  const opens = event.request.mode === "navigate";
  let number = NUMBER;
  if (opens) event.waitUntil(unbind());
  else number = (await bindings())[event.clientId]?.[0] ?? NUMBER;
  if (number === NOWHERE) return fetch(event.request);
  if (path === "data/offline.json" && !opens) {
    return (await (await store()).match(listAt(number))) ?? fetch(event.request);
  }
  const of = await list(number);
  if (!of) return fetch(event.request);
  return opens ? navigate(event, of, path) : load(event, of, path);
}

// ---------------------------------------------------------------- what the page "keep" asks

const ASKED = {
  // Sizes by group, what of it is here, and what was wished for.
  async state() {
    const of = await list(NUMBER);
    const kept = await keptHashes();
    const groups = {};
    for (const name of of.groups) groups[name] = { files: 0, bytes: 0, left: 0, leftBytes: 0 };
    for (const row of of.rows.values()) {
      if (row.pack !== null) continue;
      const group = groups[row.group];
      group.files += 1;
      group.bytes += row.size;
      if (!kept.has(row.hash)) {
        group.left += 1;
        group.leftBytes += row.size;
      }
    }
    return { number: NUMBER, built: of.built, groups, wish: await noted("wish", {}) };
  },
  async missing({ groups }) {
    const rows = missing(await list(NUMBER), groups, await keptHashes());
    return { files: rows.map(({ path, size }) => ({ path, size })) };
  },
  async keep({ path }) {
    await keepFile((await list(NUMBER)).rows.get(path));
    return {};
  },
  async wish({ wish }) {
    await note("wish", { ...(await noted("wish", {})), ...wish });
    return {};
  },
  async remove() {
    await note("wish", {});
    const of = await list(NUMBER);
    const core = new Set([...of.rows.values()].filter((row) => row.group === "core").map((row) => row.hash));
    const cache = await store();
    for (const row of of.rows.values()) if (!core.has(row.hash)) await cache.delete(fileAt(row.hash));
    unpacked.clear();
    return {};
  },
};

async function reply(event) {
  const { ask } = event.data;
  try {
    event.ports[0].postMessage({ ok: true, ...(await ASKED[ask](event.data)) });
  } catch (fault) {
    const why = fault.why ?? (fault.name === "QuotaExceededError" ? "full" : "refused");
    event.ports[0].postMessage({ ok: false, why });
  }
}

if (NUMBER) {
  self.addEventListener("install", (event) => event.waitUntil(install()));
  self.addEventListener("activate", (event) => event.waitUntil(activate()));
  self.addEventListener("message", (event) => {
    if (event.data?.ask === "use-new") event.waitUntil(self.skipWaiting());
    else if (Object.hasOwn(ASKED, event.data?.ask) && event.ports[0]) event.waitUntil(reply(event));
  });
  self.addEventListener("fetch", (event) => {
    const { request } = event;
    const url = new URL(request.url);
    if (request.method !== "GET" || request.headers.has("range")) return;
    if (url.origin !== SCOPE.origin || !url.pathname.startsWith(SCOPE.pathname)) return;
    let path;
    try {
      path = decodeURIComponent(url.pathname.slice(SCOPE.pathname.length));
    } catch {
      return; // no address of ours
    }
    if (path === "worker.js") return;
    event.respondWith(answer(event, path === "" || path.endsWith("/") ? `${path}index.html` : path));
  });
} else {
  self.addEventListener("install", () => self.skipWaiting());
  self.addEventListener("activate", (event) => event.waitUntil(takeAway()));
}
