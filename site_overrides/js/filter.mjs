// Filters a list that stands on the page already. The query lives in the address, so it can be sent on.
import { matches, terms } from "./words.mjs";

export function wakeFilter(form) {
  const list = document.getElementById(form.dataset.filter);
  if (!list) return;
  const items = [...list.querySelectorAll("[data-words]")];
  const input = form.querySelector("input[name=q]");
  const count = form.querySelector("[data-filter-count]");
  const empty = document.getElementById(`${form.dataset.filter}-empty`);
  const says = { one: "{n} case", many: "{n} cases", some: "{n} of {all} cases", ...count.dataset }; // another language brings its own
  const chips = form.querySelector("[data-filter-chips]");
  const picked = new Set();

  const show = () => {
    const typed = terms(input.value);
    const wanted = typed.length + picked.size > 0;
    let shown = 0;
    for (const item of items) {
      const marks = (item.dataset.is ?? "").split(" ");
      const fits = matches(item.dataset.words, typed) && [...picked].every((mark) => marks.includes(mark));
      item.hidden = !fits;
      if (fits) shown += 1;
    }
    const number = document.createElement("b");
    number.textContent = String(shown);
    const [before, after] = (wanted ? says.some : items.length === 1 ? says.one : says.many).split("{n}");
    count.replaceChildren(before, number, after.replace("{all}", String(items.length)));
    if (empty) empty.hidden = shown > 0;
  };

  const remember = () => {
    const address = new URL(location.href);
    const set = (key, value) => (value ? address.searchParams.set(key, value) : address.searchParams.delete(key));
    set("q", input.value.trim());
    set("with", [...picked].join(" "));
    history.replaceState(null, "", address);
  };

  if (chips) {
    chips.hidden = false;
    for (const chip of chips.querySelectorAll("[data-term]")) {
      chip.addEventListener("click", () => {
        const on = !picked.delete(chip.dataset.term);
        if (on) picked.add(chip.dataset.term);
        chip.setAttribute("aria-pressed", String(on));
        show();
        remember();
      });
    }
  }
  input.addEventListener("input", () => {
    show();
    remember();
  });
  form.addEventListener("reset", () => setTimeout(() => {
    picked.clear();
    for (const chip of form.querySelectorAll("[data-term]")) chip.setAttribute("aria-pressed", "false");
    show();
    remember();
  }));
  form.addEventListener("submit", (event) => event.preventDefault());

  const asked = new URL(location.href).searchParams;
  input.value = asked.get("q") ?? "";
  for (const term of (asked.get("with") ?? "").split(" ").filter(Boolean)) {
    const chip = [...form.querySelectorAll("[data-term]")].find((c) => c.dataset.term === term);
    if (chip) {
      picked.add(term);
      chip.setAttribute("aria-pressed", "true");
    }
  }
  if (input.value || picked.size) show();
}
