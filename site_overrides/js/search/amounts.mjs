// Amounts and times in free text: `lost 3 lb since spring`, `2 kg a year`, `12 years old`. Tables come with the model.

const NUMERAL = "\\d+(?:[.,]\\d+)?";
const WORD_END = "(?![a-z0-9])";
const escaped = (word) => word.replace(/[.*+?^${}()|[\]\\/#-]/g, "\\$&");
const anyOf = (list) => [...list].sort((a, b) => b.length - a.length || (a < b ? -1 : a > b ? 1 : 0)).map(escaped).join("|");
const numeral = (text) => Number(text.replace(",", "."));
const DAY_MS = 86400000;

// A reader of folded text: (text, today) -> [{ kind, value, start, end }]; `today` is { year, month, day }.
export function amountReader(tables) {
  const { mass, days, often, numbers, since, readings, year_days: yearDays, ounce } = tables;
  const told = new Map(Object.entries(numbers));
  const said = anyOf(told.keys());
  const pattern = (text) => new RegExp(text, "g");
  const MASS = pattern(`(?<![a-z0-9.,])(?:(${NUMERAL})\\s*|(${said})\\s+)(${anyOf(Object.keys(mass))})${WORD_END}(?:\\s*(${NUMERAL})\\s*(oz|ounces)${WORD_END})?`);
  const TIME = pattern(`(?<![a-z0-9.,])(?:(${NUMERAL})[\\s-]*|(${said}|per|each|every|/|last|past|this)[\\s-]*)(${anyOf(Object.keys(days))})${WORD_END}(\\s+(?:old|ago)${WORD_END})?`);
  const EVERY = pattern(`(?<![a-z0-9])(${anyOf(Object.keys(often))})${WORD_END}`);
  const SINCE = pattern(`(?<![a-z0-9])(?:since|from)\\s+(?:last\\s+|the\\s+|early\\s+|late\\s+)?(${anyOf(Object.keys(since))}|(?:19|20)\\d\\d)${WORD_END}`);
  const BUILT = pattern(`(?<![a-z0-9])(?:installed|fitted|built|commissioned|put in)\\s+(?:in\\s+)?((?:19|20)\\d\\d)${WORD_END}`);
  const NEW = pattern(`(?<![a-z0-9])(?:brand new|new install|newly installed|just installed)${WORD_END}`);
  const READING = pattern(`(?<![a-z0-9.,])-?${NUMERAL}\\s*(?:${anyOf(readings)})${WORD_END}`);
  const HOLDS = /(?:charge(?: of)?|holds|nameplate|contains|total|charged with)\s*$/;
  const LOST = /(?:lost|low|short|down|lose|loses|losing|added|add)\s*(?:of|on|by)?\s*$/;
  const OF_CHARGE = /^\s*(?:of\s+)?(?:charge|system|unit|total|nameplate)(?![a-z0-9])/;

  const daysFrom = (year, month, day, today) => Math.round((Date.UTC(today.year, today.month - 1, today.day) - Date.UTC(year, month - 1, day)) / DAY_MS);

  // Years since the first of the last such month that is over; at least half a month.
  function sinceMonth(today, month) {
    const over = today.month > month || (today.month === month && today.day > 15);
    return Math.max(daysFrom(over ? today.year : today.year - 1, month, 1, today), 15) / yearDays;
  }

  return function amounts(text, today) {
    const found = [];
    const scan = (regex, make) => {
      for (const hit of text.matchAll(regex)) {
        const [start, end] = [hit.index, hit.index + hit[0].length];
        if (found.some((f) => start < f.end && f.start < end)) continue;
        const made = make(hit, start, end);
        if (made) found.push({ kind: made[0], value: made[1], start, end });
      }
    };
    scan(MASS, (hit, start, end) => {
      const n = hit[1] ? numeral(hit[1]) : told.get(hit[2]);
      const value = n * mass[hit[3]] + (hit[4] ? numeral(hit[4]) * ounce : 0);
      const [before, after] = [text.slice(0, start), text.slice(end)];
      if (LOST.test(before)) return ["lost", value];
      return [HOLDS.test(before) || OF_CHARGE.test(after) ? "charge" : "lost", value];
    });
    scan(SINCE, (hit) => {
      if (!/^\d+$/.test(hit[1])) return ["over", sinceMonth(today, since[hit[1]])];
      const years = daysFrom(Number(hit[1]), 7, 1, today) / yearDays;
      return years > 0 ? ["over", years] : null;
    });
    scan(BUILT, (hit) => ["age", Math.max(daysFrom(Number(hit[1]), 7, 1, today), 0) / yearDays]);
    scan(TIME, (hit) => {
      const n = hit[1] ? numeral(hit[1]) : (told.get(hit[2]) ?? 1);
      return [hit[4]?.includes("old") ? "age" : "over", (n * days[hit[3]]) / yearDays];
    });
    scan(EVERY, (hit) => ["over", often[hit[1]] / yearDays]);
    scan(NEW, () => ["age", tables.new]);
    scan(READING, () => ["reading", 0]);
    return found.sort((a, b) => a.start - b.start);
  };
}
