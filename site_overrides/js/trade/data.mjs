// What Python wrote for the bench: its version, the day somebody last went through a file, and where a figure comes from.
import { TradeError } from "./units.mjs";

const VERSION = 1;
const TABLES = 1;

export function citation(entry) {
  return { where: String(entry.where), mark: entry.mark, note: String(entry.note ?? "") };
}

function understood(content) {
  const found = content?.version;
  if (typeof found !== "number") {
    throw new TradeError("The bench's figures did not arrive whole. Load the page again where you have a connection.");
  }
  const tables = content.tables?.version;
  if (found === VERSION && tables === TABLES) return found;
  const newer = found > VERSION || tables > TABLES;
  const which = found === VERSION ? `tables of version ${tables}` : `figures of version ${found}`;
  const reads = found === VERSION ? TABLES : VERSION;
  throw new TradeError(
    `This page can't compute: it holds ${which} and reads version ${reads}. ` +
      (newer
        ? "The page on this device is older than its figures; load it again where you have a connection."
        : "The figures on this device are older than the page; load them again where you have a connection."),
  );
}

export function make(content) {
  const version = understood(content);
  const files = { rules: content.rules, practice: content.practice, techniques: content.techniques, tubes: content.tubes };
  return {
    version,
    citation,
    advice: content.rules.advice,
    // Day on which somebody last went through rules, practice, techniques or tubes.
    checked(name) {
      if (!files[name]) throw new TradeError(`there is no file of ${name}; known: ${Object.keys(files).join(", ")}`, "name");
      return files[name].checked;
    },
  };
}
