// The list of drafts on this phone: opened, deleted, and brought back.

export class DraftShelf {
  // `form` gives the store, the words and what is to happen when a draft is opened or is gone.
  constructor(box, form) {
    Object.assign(this, { box, form });
    this.count = box.querySelector("[data-drafts-n]");
    this.list = box.querySelector("[data-drafts-list]");
  }

  async show() {
    const drafts = await this.form.store.list();
    this.box.hidden = !drafts.length;
    this.count.textContent = String(drafts.length);
    this.list.replaceChildren(...drafts.map((draft) => this.row(draft)));
  }

  title({ record }) {
    const first = record.symptoms?.[0];
    return record.title || (first && this.form.nameOf("symptoms", first)) || record.system || this.form.say("untitled");
  }

  row(draft) {
    const { form } = this;
    const row = form.part("draft");
    const title = this.title(draft);
    row.querySelector("[data-slot=title]").textContent = title;
    const said = [form.clock(draft.saved)];
    if (draft.sent) said.push(form.say("draft-sent", { day: form.clock(draft.sent) }));
    if (draft.key === form.draft.key) said.push(form.say("draft-here"));
    row.querySelector("[data-slot=when]").textContent = said.join("; ");
    row.querySelector("[data-open]").addEventListener("click", async () => {
      await form.turnTo(draft.key);
      this.box.open = false;
    });
    const gone = row.querySelector("[data-delete]");
    gone.setAttribute("aria-label", `${gone.textContent}: ${title}`);
    gone.addEventListener("click", () => this.remove(draft.key));
    return row;
  }

  async remove(key) {
    const { form } = this;
    await form.flush();
    const draft = await form.store.get(key);
    const here = key === form.draft.key;
    await form.store.put({ ...draft, deleted: Date.now() });
    if (here) await form.begin();
    await this.show();
    form.undoable(form.say("draft-gone"), async () => {
      const { deleted, ...back } = await form.store.get(key);
      await form.store.put(back);
      if (here) await form.turnTo(key);
      else await this.show();
    });
  }
}
