// Drafts and their photos on this phone: in IndexedDB, or for this page alone where storage is refused.

const DATABASE = "leaklore-record";
const BETWEEN = "leaklore.record.unsaved"; // what a page that is left in the middle of a word could not save
const GONE_AFTER = 24 * 3600e3; // ms after which a deleted draft is gone for good

function settled(request) {
  return new Promise((done, refused) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => refused(request.error);
  });
}

function finished(transaction) {
  return new Promise((done, refused) => {
    transaction.oncomplete = () => done();
    transaction.onabort = transaction.onerror = () => refused(transaction.error ?? new Error("refused"));
  });
}

// The store, and whether what it takes is still there after the page is closed.
export async function openDraftStore() {
  try {
    const asked = indexedDB.open(DATABASE, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("drafts", { keyPath: "key" });
      asked.result.createObjectStore("photos", { keyPath: ["draft", "file"] });
    };
    asked.onblocked = () => {};
    const database = await settled(asked);
    database.onversionchange = () => database.close();
    const store = new DraftStore(database);
    await store.tidy();
    return store;
  } catch {
    return new PageStore();
  }
}

class DraftStore {
  constructor(database) {
    this.database = database;
    this.kept = true;
  }

  // Asks the browser, once a page, not to clear the drafts away when the phone is short of room.
  hold() {
    this.held ??= Promise.resolve(navigator.storage?.persist?.()).catch(() => false);
  }

  at(name, mode, work) {
    const transaction = this.database.transaction(name, mode);
    return Promise.all([work(transaction.objectStore(name)), finished(transaction)]).then(([found]) => found);
  }

  // All drafts, the one changed last first; deleted ones are not among them.
  async list() {
    const all = await this.at("drafts", "readonly", (drafts) => settled(drafts.getAll()));
    return all.filter((draft) => !draft.deleted).sort((a, b) => b.saved - a.saved);
  }

  get(key) {
    return this.at("drafts", "readonly", (drafts) => settled(drafts.get(key)));
  }

  put(draft) {
    this.hold();
    return this.at("drafts", "readwrite", (drafts) => settled(drafts.put(draft)));
  }

  async photo(draft, file) {
    const kept = await this.at("photos", "readonly", (photos) => settled(photos.get([draft, file])));
    return kept?.bytes ? { ...kept, blob: new Blob([kept.bytes], { type: kept.type }) } : kept; // earlier ones are blobs
  }

  // The photo with the draft that names it: both or none. Private windows of WebKit keep bytes, but no blobs.
  async putPhoto({ blob, ...photo }, draft) {
    this.hold();
    const bytes = await blob.arrayBuffer();
    const transaction = this.database.transaction(["drafts", "photos"], "readwrite");
    transaction.objectStore("photos").put({ ...photo, bytes, type: blob.type });
    transaction.objectStore("drafts").put(draft);
    await finished(transaction);
  }

  // Drafts deleted a day ago go, and photos that no draft names any more.
  async tidy() {
    const [all, pictures] = await Promise.all([
      this.at("drafts", "readonly", (drafts) => settled(drafts.getAll())),
      this.at("photos", "readonly", (photos) => settled(photos.getAllKeys())),
    ]);
    const gone = new Set(all.filter((draft) => draft.deleted && Date.now() - draft.deleted > GONE_AFTER).map((draft) => draft.key));
    const named = new Set(all.filter((draft) => !gone.has(draft.key)).flatMap((draft) => draft.files.map((file) => `${draft.key}/${file}`)));
    const loose = pictures.filter(([draft, file]) => !named.has(`${draft}/${file}`));
    if (gone.size) await this.at("drafts", "readwrite", (drafts) => Promise.all([...gone].map((key) => settled(drafts.delete(key)))));
    if (loose.length) await this.at("photos", "readwrite", (photos) => Promise.all(loose.map((key) => settled(photos.delete(key)))));
  }
}

class PageStore {
  constructor() {
    this.kept = false;
    this.drafts = new Map();
    this.photos = new Map();
  }

  async list() {
    return [...this.drafts.values()].filter((draft) => !draft.deleted).sort((a, b) => b.saved - a.saved);
  }

  async get(key) {
    return this.drafts.get(key);
  }

  async put(draft) {
    this.drafts.set(draft.key, draft);
  }

  async photo(draft, file) {
    return this.photos.get(`${draft}/${file}`);
  }

  async putPhoto(photo, draft) {
    this.photos.set(`${photo.draft}/${photo.file}`, photo);
    this.drafts.set(draft.key, draft);
  }
}

// A page that is being closed may not wait for a database: what is not yet in it is left here until the next visit.
export function leaveBehind(draft) {
  try {
    localStorage.setItem(BETWEEN, JSON.stringify(draft));
  } catch {
    // refused or full: the database was asked, too
  }
}

export function forgetLeftBehind() {
  try {
    localStorage.removeItem(BETWEEN);
  } catch {
    // refused: there is nothing
  }
}

// Puts what was left behind into the store, where it is newer than what is there; by turns, for a clock may be set back.
export async function pickUpLeftBehind(store) {
  let left = null;
  try {
    left = JSON.parse(localStorage.getItem(BETWEEN));
  } catch {
    // refused or broken: nothing was left
  }
  if (!left || typeof left.key !== "string" || !left.record) return;
  const had = await store.get(left.key);
  if (!had || !(had.turn >= left.turn)) await store.put(left);
  forgetLeftBehind();
}
