// The page "keep": sizes beforehand, then file after file through the worker, which checks and stores each one.
const AT_ONCE = 3; // files on their way

class KeepPage {
  constructor(page) {
    this.page = page;
    this.box = page.querySelector("[data-keep-box]");
    this.told = page.querySelector("[data-told]");
    this.bar = page.querySelector("[data-bar]");
    this.running = false;
    for (const button of page.querySelectorAll("[data-act]")) {
      button.addEventListener("click", () => this.act(button.dataset.act));
    }
  }

  say(key, slots = {}) {
    const text = this.page.querySelector(`template[data-say="${key}"]`).content.textContent;
    return text.replace(/\{(\w+)\}/g, (_, name) => slots[name]);
  }

  mb(bytes) {
    const n = bytes / 1e6;
    return this.say("mb", { n: n < 10 ? n.toFixed(1) : Math.round(n) });
  }

  // Asks the worker; what it can't do comes back as { ok: false, why }.
  ask(said) {
    return new Promise((resolve) => {
      const channel = new MessageChannel();
      channel.port1.onmessage = (event) => {
        channel.port1.close();
        resolve(event.data);
      };
      navigator.serviceWorker.controller.postMessage(said, [channel.port2]);
    });
  }

  async start() {
    if (!("serviceWorker" in navigator)) return;
    await navigator.serviceWorker.ready;
    if (!navigator.serviceWorker.controller) {
      await new Promise((resolve) => navigator.serviceWorker.addEventListener("controllerchange", resolve, { once: true }));
    }
    await this.show();
    const { wish } = this.state;
    const lost = ["cases", "photos"].some((what) => wish[what] === "done" && this.left(what) > 0);
    if (lost) this.told.textContent = this.say("gone");
    else if (Object.values(wish).includes("begun")) this.told.textContent = this.say("interrupted");
    else if (wish.cases === "done") this.told.textContent = this.say("done");
    this.page.dataset.awake = "";
  }

  groups(what) {
    return what === "cases" ? ["core", "search", "cases"] : [what];
  }

  sum(groups, key) {
    return groups.reduce((sum, name) => sum + this.state.groups[name][key], 0);
  }

  left(what) {
    return this.sum(this.groups(what), "left");
  }

  // What the button "Go on" would go on with.
  open() {
    return ["cases", "photos"].filter((what) => this.state.wish[what] && this.left(what) > 0);
  }

  async show() {
    const state = await this.ask({ ask: "state" });
    if (!state.ok) return this.tell(state.why);
    this.state = state;
    this.page.querySelector("[data-keep-asleep]").hidden = true;
    this.box.hidden = false;
    for (const [name, groups] of [["core", ["core"]], ["cases", ["search", "cases"]], ["photos", ["photos"]]]) {
      const slots = { size: this.mb(this.sum(groups, "bytes")), left: this.mb(this.sum(groups, "leftBytes")) };
      const key = !this.sum(groups, "files") ? "size-none" : this.sum(groups, "left") ? "size" : "size-here";
      this.page.querySelector(`[data-size="${name}"]`).textContent = this.say(key, slots);
    }
    await this.room();
    const { wish } = state;
    this.offer("stop", this.running);
    this.offer("go-on", !this.running && this.open().length > 0);
    this.offer("cases", !this.running && !wish.cases && this.left("cases") > 0);
    this.offer("photos", !this.running && !wish.photos && this.left("photos") > 0);
    this.offer("remove", !this.running && ["search", "cases", "photos"].some((g) => state.groups[g].left < state.groups[g].files));
  }

  offer(act, is) {
    this.page.querySelector(`[data-act="${act}"]`).hidden = !is;
  }

  async room() {
    const line = this.page.querySelector("[data-room]");
    const { quota, usage } = (await navigator.storage?.estimate?.().catch(() => null)) ?? {};
    line.hidden = quota === undefined;
    if (quota === undefined) return;
    const room = Math.max(0, quota - usage);
    const wanted = this.sum(Object.keys(this.state.groups), "leftBytes");
    line.textContent = `${this.say("room", { size: this.mb(room) })}${room < wanted ? ` ${this.say("room-short")}` : ""}`;
  }

  tell(key) {
    this.told.textContent = this.say(key);
  }

  async act(act) {
    if (act === "stop") this.running = false;
    else if (act === "remove") await this.remove();
    else if (act === "go-on") await this.keep(this.open());
    else if (act === "photos") await this.keep(["cases", "photos"]);
    else await this.keep([act]);
  }

  async remove() {
    const done = await this.ask({ ask: "remove" });
    await this.show();
    this.tell(done.ok ? "removed" : done.why);
  }

  async keep(wanted) {
    this.running = true;
    this.firm = await (navigator.storage?.persist?.().catch(() => false) ?? false);
    const why = await this.fetchAll(wanted);
    this.running = false;
    this.bar.hidden = true;
    await this.show();
    this.tell(why ?? (this.firm ? "done" : "done-loose"));
    (this.page.querySelector("[data-act]:not([hidden])") ?? this.page).focus();
  }

  // Fetches what is missing; gives the key of what stopped it, or null.
  async fetchAll(wanted) {
    for (const what of wanted) {
      const begun = await this.ask({ ask: "wish", wish: { [what]: "begun" } });
      if (!begun.ok) return begun.why;
    }
    await this.show();
    const groups = wanted.flatMap((what) => this.groups(what));
    const all = { files: this.sum(groups, "files"), bytes: this.sum(groups, "bytes") };
    const found = await this.ask({ ask: "missing", groups });
    if (!found.ok) return found.why;
    const left = [...found.files];
    let done = { files: all.files - left.length, bytes: all.bytes - left.reduce((sum, f) => sum + f.size, 0) };
    let why = null;
    this.bar.hidden = false;
    this.progress(done, all);
    const one = async () => {
      while (left.length && !why) {
        if (!this.running) why = "stopped";
        else {
          const file = left.shift();
          const kept = await this.ask({ ask: "keep", path: file.path });
          if (kept.ok) {
            done = { files: done.files + 1, bytes: done.bytes + file.size };
            this.progress(done, all);
          } else why ??= kept.why;
        }
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, one));
    if (why) return why;
    for (const what of wanted) {
      const noted = await this.ask({ ask: "wish", wish: { [what]: "done" } });
      if (!noted.ok) return noted.why;
    }
    return null;
  }

  progress(done, all) {
    this.bar.value = all.bytes ? done.bytes / all.bytes : 1;
    this.told.textContent = this.say("going", { done: done.files, files: all.files, size: this.mb(done.bytes), all: this.mb(all.bytes) });
  }
}

const page = document.querySelector("[data-keep]");
if (page) new KeepPage(page).start();
