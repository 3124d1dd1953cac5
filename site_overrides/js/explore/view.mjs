// Fills the page's pieces; whatever comes from the data goes in as text.

const AT_ONCE = 50; // cases; more on request
const TAG = document.documentElement.lang || "en";
const DAYS = new Intl.DateTimeFormat(TAG === "en" ? "en-GB" : TAG, { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });

// Words of the page, with their slots filled.
export function say(page, key, slots = {}) {
  const text = page.querySelector(`template[data-say="${key}"]`).content.textContent;
  return text.replace(/\{(\w+)\}/g, (_, name) => slots[name]);
}

export const counted = (page, n, key) => say(page, n === 1 ? `${key}-one` : key, { n });

export function piece(page, name) {
  const node = page.querySelector(`template[data-piece="${name}"]`).content.firstElementChild.cloneNode(true);
  const slots = Object.fromEntries([...node.querySelectorAll("[data-slot]")].map((e) => [e.dataset.slot, e]));
  return { node, slots };
}

export function massOf(data, kg) {
  const size = kg / data.mass.kg;
  return `${size >= 10 ? Math.round(size) : Number(size.toPrecision(2))} ${data.mass.unit}`;
}

function caseItem(page, data, id, numbers) {
  const { leaks, facets } = data;
  const { node, slots } = piece(page, "case");
  const first = numbers[0];
  const named = (facet, i) => facets[facet].names[leaks[facet][i]];
  slots.id.textContent = id;
  slots.day.textContent = DAYS.format(new Date(`${leaks.day[first]}T00:00:00Z`));
  slots.day.dateTime = leaks.day[first];
  slots.title.textContent = leaks.title[first];
  slots.title.href = `${page.dataset.root}cases/${encodeURIComponent(id)}/`;
  slots.cause.textContent = numbers.map((i) => named("mode", i)).join("; ");
  const said = Object.keys(facets).filter((facet) => facet !== "mode").map((facet) => named(facet, first));
  if (leaks.age[first] !== null) said.push(say(page, "old", { n: leaks.age[first].toFixed(1) }));
  if (leaks.lost[first] !== null) said.push(say(page, "lost", { mass: massOf(data, leaks.lost[first]) }));
  said.push(data.held[leaks.held[first]]);
  slots.where.textContent = `${said.join(", ")}.`;
  return node;
}

// The list of cases; "More cases" adds to it and leads the reader to the first of those added.
export function listCases(page, data, found) {
  const list = page.querySelector("[data-cases]");
  const more = page.querySelector("[data-more]");
  const left = [...found];
  const add = () => {
    const items = left.splice(0, AT_ONCE).map(([id, numbers]) => caseItem(page, data, id, numbers));
    list.append(...items);
    more.hidden = left.length === 0;
    return items[0];
  };
  list.replaceChildren();
  add();
  more.onclick = () => add().querySelector("a").focus();
  page.querySelector("[data-none]").hidden = found.size > 0;
}

function cell(tag, text, kind) {
  const made = document.createElement(tag);
  if (tag === "th") made.scope = kind;
  else made.className = kind;
  made.textContent = text;
  return made;
}

// A row for each name that has a leak: how many leaks, how many cases.
export function fillTable(page, name, names, counts) {
  page.querySelector(`[data-rows="${name}"]`).replaceChildren(...names.flatMap((text, i) => {
    if (!counts[i][0]) return [];
    const row = document.createElement("tr");
    row.append(cell("th", text, "row"), ...counts[i].map((n) => cell("td", n, "num")));
    return [row];
  }));
}

// What is chosen, as buttons that take it out; `[text, take out]` each. The focus goes to the next one, or to the count.
export function showPicked(page, picked) {
  const box = page.querySelector("[data-picked]");
  box.hidden = picked.length === 0;
  box.replaceChildren(...picked.map(([text, off], i) => {
    const { node, slots } = piece(page, "picked");
    slots.name.textContent = text;
    node.querySelector("button").addEventListener("click", () => {
      off();
      const left = box.querySelectorAll("button");
      (left[Math.min(i, left.length - 1)] ?? page.querySelector("[data-told]")).focus();
    });
    return node;
  }));
}
