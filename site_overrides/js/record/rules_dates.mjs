// Dates run forwards and not into the future.
import { firstDay, lastDay } from "./days.mjs";
import { pathOf } from "./text.mjs";

const BOTH = "correct one of the two dates";

function backwards(pointer, day, than, instead = BOTH) {
  return { pointer, message: `${pathOf(pointer)}: ${day} is before ${than}`, instead, rule: "date/order" };
}

// Installed, reported, closed, looked at again: in this order.
function* order(data, { system, equipment, looks }) {
  const { reported, closed } = data;
  if (closed && closed < reported) yield backwards(["closed"], closed, `the report on ${reported}`);
  const { installed } = equipment;
  if (installed && firstDay(installed) > reported) {
    const own = "installed" in (data.equipment ?? {});
    const instead = own ? BOTH : "correct the date here or in the register";
    yield backwards(["reported"], reported, `the installation in ${installed}`, instead);
  }
  const removed = system?.removed;
  if (removed && lastDay(removed) < reported) {
    yield {
      pointer: ["system"],
      message: `system: ${data.system} was taken out in ${removed}, before this report on ${reported}`,
      instead: "correct the date or the system",
      rule: "date/order",
    };
  }
  let [last, what] = closed ? [closed, "the closing"] : [reported, "the report"];
  for (const [i, { date }] of looks.entries()) {
    if (date < last) yield backwards(["follow_up", i, "date"], date, `${what} on ${last}`);
    else [last, what] = [date, "the follow-up above it"];
  }
  const gone = data.withdrawn?.date;
  if (gone && gone < reported) yield backwards(["withdrawn", "date"], gone, `the report on ${reported}`);
}

// No date lies in the future.
function* future(data, { looks }, { today }) {
  const days = [
    [["reported"], data.reported],
    [["closed"], data.closed],
    ...looks.map(({ date }, i) => [["follow_up", i, "date"], date]),
    [["withdrawn", "date"], data.withdrawn?.date],
  ];
  for (const [pointer, day] of days) {
    if (day && day > today) {
      const message = `${pathOf(pointer)}: ${day} lies in the future`;
      yield { pointer, message, instead: "write the day on which it happened", rule: "date/future" };
    }
  }
}

export const DATES = [order, future];
