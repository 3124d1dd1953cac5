// Amounts and times in free text: `lost 3 lb since spring`, `2 kg a year`, `12 years old`, `charge 4.5 kg`.
// Every word and unit comes with the model.

const SPACE = "[ \\t-\\r]";
const FIGURE = `(?:[0-9]{1,3}(?:${SPACE}+|-))?[0-9]{1,3}/[1-9][0-9]?|[0-9]{1,6}(?:[.,][0-9]{1,6})?|[.][0-9]{1,6}`;
const WORD_END = "(?![a-z0-9])";
const ANY_YEAR = "(?:19|20)[0-9][0-9]";
const DAY_MS = 86400000;

const singly = (said) => said.split(/[ \t-\r]+/).join(" ");

function anyOf(said) {
  const listed = [...said].sort((a, b) => b.length - a.length || (a < b ? -1 : 1));
  const parts = (phrase) => phrase.split(" ").map((part) => part.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&"));
  return listed.map((phrase) => parts(phrase).join(`${SPACE}+`)).join("|");
}

// 1,200 lb: a comma before three digits parts thousands, but not in 0,850 kg.
function numberOf(said) {
  if (!said.includes("/")) return Number(said.replace(",", /^[1-9][0-9]{0,2},[0-9]{3}$/.test(said) ? "" : "."));
  const [below, above, whole = 0] = said.match(/[0-9]+/g).map(Number).reverse();
  return whole + above / below;
}

function daysFrom(year, month, day, today) {
  return Math.round((Date.UTC(today.year, today.month - 1, today.day) - Date.UTC(year, month - 1, day)) / DAY_MS);
}

// Matches that no character of `glued` stands before, but for a slash's (kg/month); in place of a look-behind, which phones of 2022 can't read.
function* standing(text, pattern, glued) {
  const regex = new RegExp(pattern, "g");
  for (let hit = regex.exec(text); hit; hit = regex.exec(text)) {
    if (hit.index && hit[0][0] !== "/" && glued.includes(text[hit.index - 1])) regex.lastIndex = hit.index + 1;
    else yield hit;
  }
}

// A reader of folded text: (folded, today) -> [{ kind, value, start, end, loose }] in order; today { year, month, day }.
export function amountReader(tables) {
  const table = (name) => new Map(Object.entries(tables[name]));
  const [mass, days, often, numbers, since, then] = ["mass", "days", "often", "numbers", "since", "then"].map(table);
  const letters = "abcdefghijklmnopqrstuvwxyz0123456789";
  const said = anyOf(numbers.keys());
  const before = (verbs, between) => new RegExp(`(?:^|[^a-z0-9])(?:${anyOf(verbs)})${SPACE}*(?:(?:${anyOf(between)})${SPACE}*){0,2}$`);
  const unit = anyOf(mass.keys());
  const shares = anyOf(tables.share);
  const patterns = {
    share: `(${FIGURE})(?=${SPACE}+(?:${shares})${SPACE}+(?:${FIGURE})${SPACE}*(${unit})${WORD_END})`,
    mass:
      `(?:(${FIGURE})${SPACE}*|(${said})${SPACE}+)(${anyOf(mass.keys())})` +
      `(?:${SPACE}*(${FIGURE})${SPACE}*(?:${anyOf(tables.ounces)}))?${WORD_END}`,
    time:
      `(?:(${FIGURE})(?:${SPACE}|-)*|(${said}|${anyOf(tables.per)})(?:${SPACE}|-)*)(${anyOf(days.keys())})${WORD_END}` +
      `(?:(?:${SPACE}|-)+(${anyOf(then.keys())})${WORD_END})?`,
    often: `(${anyOf(often.keys())})${WORD_END}`,
    since: `(?:${anyOf(tables.from)})${SPACE}+(?:(?:${anyOf(tables.when)})${SPACE}+)?(${anyOf(since.keys())}|${ANY_YEAR})${WORD_END}`,
    built: `(?:${anyOf(tables.built)})${SPACE}+(?:in${SPACE}+)?(${ANY_YEAR})${WORD_END}`,
    just: `(?:${anyOf(tables.just)})${WORD_END}`,
    reading: `-?(?:${FIGURE})${SPACE}*°?${SPACE}*(?:${anyOf(tables.readings)})${WORD_END}`,
  };
  const holds = before(tables.holds, tables.roughly);
  const lost = before(tables.lost, tables.about);
  const shared = new RegExp(`(?:^|[^a-z0-9.,/])(?:${FIGURE})${SPACE}*(?:(?:${unit})${SPACE}+)?(?:${shares})${SPACE}+$`);
  const between = new RegExp(`${SPACE}*(?:(?:${anyOf(tables.measured)})${SPACE}+){0,2}`, "y");
  const side = new RegExp(`^(?:${anyOf(tables.sides)})$`);
  const gaugeBefore = new RegExp(
    `(?:^|[^a-z0-9.,/])(?:[0-9]{2,3}${SPACE}+` +
      `|(?:${FIGURE})${SPACE}*(?:${anyOf(tables.pressures)})${SPACE}+(?:(?:${anyOf(tables.beyond)})${SPACE}+){0,2})$`,
  );
  const gaugeBehind = new RegExp(`^${SPACE}*[:=]?${SPACE}*(?:(?:${anyOf(tables.measured)})${SPACE}+){0,2}[0-9]{2,3}(?![a-z0-9%/]|[.,][0-9])`);
  const level = new RegExp(`(?:${anyOf(tables.levels)})$`);
  const pressing = new RegExp(`^${SPACE}*(?:(?:of|de)${SPACE}+)?(?:dry${SPACE}+)?(?:${anyOf(tables.pressing)})${WORD_END}`);
  const gauges = `(?:^|[^a-z0-9])(?:${anyOf(tables.gauged)})`;
  const gauged = new RegExp(`${gauges}${SPACE}+(?:(?:${anyOf(tables.measured)})${SPACE}+){0,2}$`);
  const about = `(?:(?:${anyOf(tables.about)})${SPACE}*){0,2}$`;
  const fell = new RegExp(`${gauges}${WORD_END}[^,.;:!?\\n]*[^a-z0-9](?:${anyOf(tables.fell)})${SPACE}*${about}`);
  const ofCharge = new RegExp(`^${SPACE}*(?:of${SPACE}+)?(?:${anyOf(tables.whole)})${WORD_END}`);
  const years = (count) => count / tables.year_days;
  const counted = (figure, word) => (figure ? numberOf(figure) : (numbers.get(singly(word)) ?? 1));

  // Years since the first of the last such month that is past its middle; at least half a month.
  function sinceMonth(month, today) {
    const over = today.month > month || (today.month === month && today.day > 15);
    return years(Math.max(daysFrom(over ? today.year : today.year - 1, month, 1, today), 15));
  }

  // Does a reading follow, such as a pressure: `suction 60 psi`? The place before it is where somebody measured.
  // So is a side of the gauges beside a bare number: `118 suction 300 head`.
  amounts.measuredAt = (folded, found, { start, end }) => {
    if (side.test(folded.slice(start, end)) && (gaugeBefore.test(folded.slice(0, start)) || gaugeBehind.test(folded.slice(end)))) return true;
    between.lastIndex = end;
    const at = end + between.exec(folded)[0].length;
    return found.some((a) => a.kind === "reading" && a.start === at && !level.test(folded.slice(at, a.end)));
  };
  return amounts;

  function amounts(folded, today) {
    const found = [];

    function scan(name, glued, make, loose = () => false) {
      for (const hit of standing(folded, patterns[name], glued)) {
        const start = hit.index;
        const end = start + hit[0].length;
        if (found.some((other) => start < other.end && other.start < end)) continue;
        const made = make(hit, start, end);
        if (made) found.push({ kind: made[0], value: made[1], start, end, loose: loose(hit) });
      }
    }

    scan("share", `${letters}.,/`, (hit) => ["lost", numberOf(hit[1]) * mass.get(hit[2])]);
    scan("mass", `${letters}.,/`, (hit, start, end) => {
      const value = counted(hit[1], hit[2]) * mass.get(hit[3]) + (hit[4] ? numberOf(hit[4]) * tables.ounce : 0);
      const till = folded.slice(0, start);
      const rest = folded.slice(end);
      if (gauged.test(till) || fell.test(till)) return ["reading", 0];
      if (lost.test(till)) return ["lost", value];
      if (pressing.test(rest)) return ["reading", 0];
      return [holds.test(till) || shared.test(till) || ofCharge.test(rest) ? "charge" : "lost", value];
    });
    scan("since", letters, (hit) => {
      if (!/^[0-9]/.test(hit[1])) return ["over", sinceMonth(since.get(singly(hit[1])), today)];
      const gone = daysFrom(Number(hit[1]), 7, 1, today);
      return gone > 0 ? ["over", years(gone)] : null;
    });
    scan("built", letters, (hit) => ["age", years(Math.max(daysFrom(Number(hit[1]), 7, 1, today), 0))]);
    const time = (hit) => [then.get(singly(hit[4] ?? "")) ?? "over", years(counted(hit[1], hit[2]) * days.get(hit[3]))];
    scan("time", `${letters}.,`, time, (hit) => !hit[1] && !hit[4]);
    scan("often", letters, (hit) => ["over", years(often.get(hit[1]))]);
    scan("just", letters, () => ["age", tables.new]);
    scan("reading", `${letters}.,/`, () => ["reading", 0]);
    const aged = !found.some((a) => a.kind === "lost");
    const told = found.map((a) => (aged && a.kind === "over" && a.value >= tables.aged ? { ...a, kind: "age" } : a));
    return told.sort((a, b) => a.start - b.start);
  }
}
