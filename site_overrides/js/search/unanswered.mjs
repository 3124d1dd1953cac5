// Searches that found nothing, kept on this phone until they are sent to whoever keeps the library.

const KEPT_AS = "leaklore.unanswered";
const MOST_KEPT = 100;

export function unansweredList() {
  try {
    const found = JSON.parse(localStorage.getItem(KEPT_AS) ?? "[]");
    return Array.isArray(found) ? found.filter((entry) => typeof entry?.q === "string") : [];
  } catch {
    return []; // no storage, or somebody else's: the search works without
  }
}

// Keeps a search once; of two that are typed after each other and begin alike the longer one stays.
export function keepUnanswered(q, day) {
  const text = q.trim().slice(0, 200);
  if (text.length < 3) return;
  const kept = unansweredList().filter((entry) => !text.startsWith(entry.q) && !entry.q.startsWith(text));
  kept.push({ q: text, day });
  try {
    localStorage.setItem(KEPT_AS, JSON.stringify(kept.slice(-MOST_KEPT)));
  } catch {
    // full or refused: nothing is lost that was promised
  }
}

export function forgetUnanswered() {
  try {
    localStorage.removeItem(KEPT_AS);
  } catch {
    // see above
  }
}

export function unansweredAsText(list) {
  return list.map(({ q, day }) => `${day}  ${q}`).join("\n");
}
