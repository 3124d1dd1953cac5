// The player of a package: shows the items, hears what is done in them, and tells the learning system by a recorder.

const CONTENTS_VERSION = 1;
const READ = new Set(["case", "mode", "technique", "symptom", "component", "refrigerant", "bench"]);

// Points of all scored items that are done: { score, of }, or null.
export function pointsOf(items, done) {
  const found = items.filter(({ key, scored }) => scored && done.get(key)?.of).map(({ key }) => done.get(key));
  const sum = (name) => found.reduce((all, one) => all + one[name], 0);
  return found.length ? { score: sum("score"), of: sum("of") } : null;
}

export async function loadContents() {
  const reply = await fetch("contents.json");
  const contents = await reply.json();
  if (contents.version !== CONTENTS_VERSION) throw new Error("contents.json is of another version");
  return contents;
}

// `recorder` has start(contents) -> { done: Map of key -> { score, of }, said }, done(key, done), finish() -> an address
// to go to or null, and `broken(told)` that hears of what the learning system refuses. `items` are those of this launch.
export class Player {
  constructor(page, { contents, items, recorder }) {
    Object.assign(this, { page, contents, items, recorder, done: new Map(), over: false });
    this.find = (name) => page.querySelector(`[data-${name}]`);
    this.frame = this.find("frame");
  }

  say(key, slots = {}) {
    const text = this.page.querySelector(`template[data-say="${key}"]`).content.textContent;
    return text.replace(/\{(\w+)\}/g, (whole, name) => (Object.hasOwn(slots, name) ? String(slots[name]) : whole));
  }

  tell(key, slots) {
    this.find("told").textContent = key ? this.say(key, slots) : "";
  }

  async start() {
    this.recorder.broken = (key, slots) => this.tell(key, slots);
    const { done, said } = await this.recorder.start(this.contents, this.items);
    this.done = done;
    if (said) this.tell(said);
    this.frame.addEventListener("load", () => this.hear());
    this.find("read").addEventListener("click", () => this.isDone({ key: this.here.key, score: null, of: null }));
    this.find("next").addEventListener("click", () => this.open(this.following()));
    this.find("finish").addEventListener("click", () => this.finish());
    this.find("finish").hidden = false;
    this.find("items").replaceChildren(...this.items.map((item) => this.row(item)));
    this.find("items").closest("nav").hidden = this.items.length < 2;
    window.addEventListener("pagehide", () => this.leave(true));
    this.open(this.items.find(({ key }) => !this.done.has(key)) ?? this.items[0]);
    this.page.dataset.ready = "";
  }

  row(item) {
    const made = this.page.querySelector('template[data-part="item"]').content.firstElementChild.cloneNode(true);
    made.querySelector('[data-slot="title"]').textContent = item.title;
    made.querySelector('[data-slot="what"]').textContent = item.what;
    made.dataset.key = item.key;
    made.querySelector("button").addEventListener("click", () => this.open(item));
    return made;
  }

  state(item) {
    const did = this.done.get(item.key);
    return !did ? this.say("not-yet") : did.of ? this.say("done-of", did) : this.say("read");
  }

  following() {
    const at = this.items.indexOf(this.here);
    return [...this.items.slice(at + 1), ...this.items.slice(0, at)].find(({ key }) => !this.done.has(key));
  }

  open(item) {
    this.here = item;
    this.frame.src = item.url;
    this.frame.title = item.title;
    this.find("bar").hidden = false;
    this.find("name").textContent = item.title;
    this.show();
  }

  show() {
    for (const row of this.find("items").children) {
      const item = this.items.find(({ key }) => key === row.dataset.key);
      row.querySelector('[data-slot="state"]').textContent = this.state(item);
      row.toggleAttribute("data-done", this.done.has(item.key));
      row.querySelector("button").setAttribute("aria-current", String(item === this.here));
    }
    this.find("state").textContent = this.state(this.here);
    this.find("read").hidden = this.over || this.done.has(this.here.key) || !READ.has(this.here.key.split(":")[0]);
    this.find("next").hidden = !this.following();
  }

  // The item's page is ours and of the same origin: its exercise says when it is done.
  hear() {
    this.frame.contentDocument?.addEventListener("leaklore-done", ({ detail }) => this.isDone(detail));
  }

  // `once`: the answer is told at the end, so that only the first try counts; the page hears of it by `first`.
  isDone(detail) {
    const { key, score, of, once } = detail;
    if (this.over || !this.items.some((item) => item.key === key)) return;
    const before = this.done.get(key);
    const share = (did) => (did.of ? did.score / did.of : 0);
    if (once) detail.first = before ?? null;
    if (!before || (!once && share({ score, of }) > share(before))) this.done.set(key, { score: score ?? null, of: of ?? null });
    this.recorder.done(this.done);
    this.show();
  }

  async finish() {
    this.find("finish").disabled = true;
    try {
      const to = await this.leave(false);
      if (to) location.assign(to);
      else this.tell("over");
    } catch {
      this.over = false;
      this.find("finish").disabled = false;
      this.tell("not-told");
    }
    this.show();
  }

  leave(leaving) {
    if (this.over) return null;
    this.over = true;
    return this.recorder.finish(this.done, leaving);
  }
}
