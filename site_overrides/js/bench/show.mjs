// Fills the slots that stand on the page: figures, what was typed, parts shown or not, lists in order. Text only.
import { reworded } from "../say.mjs";
import { write } from "./units.mjs";

export function show(root, answer, fields, tables) {
  for (const slot of root.querySelectorAll("[data-out]")) {
    const value = answer.outs[slot.dataset.out];
    const known = typeof value === "string" || Number.isFinite(value);
    const text = known ? write(value, slot.dataset.as, slot.dataset.form, tables) : "";
    slot.textContent = slot.dataset.out.endsWith("because") ? reworded(text) : text;
  }
  for (const slot of root.querySelectorAll("[data-in]")) slot.textContent = fields.get(slot.dataset.in).said;
  for (const part of root.querySelectorAll("[data-part]")) {
    part.hidden = !part.dataset.part.split(" ").some((key) => answer.parts.has(key));
  }
  for (const list of root.querySelectorAll("[data-order]")) {
    const order = answer.orders[list.dataset.order] ?? [];
    const rows = new Map([...list.children].map((row) => [row.dataset.row, row]));
    list.prepend(...order.map((key) => rows.get(key)).filter(Boolean));
  }
}
