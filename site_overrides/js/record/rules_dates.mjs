// Dates run forwards and not into the future.
import { say } from "../say.mjs";
import { firstDay, lastDay } from "./days.mjs";
import { pathOf } from "./text.mjs";

function backwards(pointer, message, instead = say("correct one of the two dates")) {
  return { pointer, message: `${pathOf(pointer)}: ${message}`, instead, rule: "date/order" };
}

// Installed, reported, closed, looked at again: in this order.
function* order(data, { system, equipment, looks }) {
  const { reported, closed } = data;
  if (closed && closed < reported) yield backwards(["closed"], say("{day} is before the report on {other}", { day: closed, other: reported }));
  const { installed } = equipment;
  if (installed && firstDay(installed) > reported) {
    const own = "installed" in (data.equipment ?? {});
    const instead = own ? undefined : say("correct the date here or in the register");
    yield backwards(["reported"], say("{day} is before the installation in {other}", { day: reported, other: installed }), instead);
  }
  const removed = system?.removed;
  if (removed && lastDay(removed) < reported) {
    yield {
      pointer: ["system"],
      message: `system: ${say("{system} was taken out in {removed}, before this report on {day}", { system: data.system, removed, day: reported })}`,
      instead: say("correct the date or the system"),
      rule: "date/order",
    };
  }
  let [last, what] = closed ? [closed, "{day} is before the closing on {other}"] : [reported, "{day} is before the report on {other}"];
  for (const [i, { date }] of looks.entries()) {
    if (date < last) yield backwards(["follow_up", i, "date"], say(what, { day: date, other: last }));
    else [last, what] = [date, "{day} is before the follow-up above it on {other}"];
  }
  const gone = data.withdrawn?.date;
  if (gone && gone < reported) yield backwards(["withdrawn", "date"], say("{day} is before the report on {other}", { day: gone, other: reported }));
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
      const message = `${pathOf(pointer)}: ${say("{day} lies in the future", { day })}`;
      yield { pointer, message, instead: say("write the day on which it happened"), rule: "date/future" };
    }
  }
}

export const DATES = [order, future];
