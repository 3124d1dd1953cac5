// What stands on the closed line of an entry: `Bubble test: flare at the indoor unit, 6 min, confirmed`.

const HEADS = { search: ["techniques", "technique"], readings: ["techniques", "by"], instruments: ["techniques", "technique"], also_found: ["modes", "mode"] };

// `nameOf(kind, key)` names a word; `choice(part, value)` is the label of a choice of this list.
export function saidOfEntry(list, data, nameOf, choice) {
  const places = (keys) => [keys].flat().filter((key) => key !== undefined).map((key) => nameOf("components", key).toLowerCase()).join(", ");
  const [kind, part] = HEADS[list] ?? [];
  const head = kind ? (data[part] === undefined ? "" : nameOf(kind, data[part])) : (data.date ?? "");
  const rest = {
    search: () => [places(data.at), data.minutes === undefined ? "" : `${data.minutes} min`, choice("result", data.result)],
    readings: () => [places(data.at), data.value],
    instruments: () => [data.set_for, choice("verified", data.verified)],
    also_found: () => [places(data.component), choice("proof", data.proof)],
    follow_up: () => [choice("result", data.result)],
  }[list]();
  const tail = rest.filter(Boolean).join(", ");
  return head && tail ? `${head}: ${tail}` : head || tail;
}
