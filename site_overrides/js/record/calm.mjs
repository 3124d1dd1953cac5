// Nothing on the page may move between the press and the release of a button, or the press goes astray: what a field
// has to say when it is left waits until the finger is off.

const CALM = 250; // ms after a field is left

export class CalmQueue {
  constructor(document) {
    Object.assign(this, { waiting: new Map(), held: false });
    document.addEventListener("pointerdown", () => (this.held = true), true);
    for (const name of ["pointerup", "pointercancel"]) {
      document.addEventListener(name, () => {
        this.held = false;
        this.arm();
      }, true);
    }
  }

  // Runs `work` once it is calm; the last one of a name counts.
  later(name, work) {
    this.waiting.set(name, work);
    this.arm();
  }

  arm() {
    clearTimeout(this.timer);
    if (this.waiting.size) this.timer = setTimeout(() => !this.held && this.now(), CALM);
  }

  // Runs what waits at once.
  now() {
    clearTimeout(this.timer);
    const all = [...this.waiting.values()];
    this.waiting.clear();
    for (const work of all) work();
  }
}
