// What the search hands over when its steps are to be recorded: the start of a record.

const HANDED = "leaklore.handed";

// Is written by the search page; taken once.
export function takeHanded() {
  try {
    const text = sessionStorage.getItem(HANDED);
    sessionStorage.removeItem(HANDED);
    const found = JSON.parse(text);
    return found && typeof found === "object" && found.record && typeof found.record === "object" ? found.record : null;
  } catch {
    return null;
  }
}
