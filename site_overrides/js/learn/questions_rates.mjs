// Questions on how much is lost and on what the rules ask: the twin of generator/leaklore/analysis/questions/rates.py.
import { CLEAR, apart, capital, filled } from "./questions_make.mjs";

const RATE_BENCH = "bench:leak-rate";
const MOST_LOST = 0.9;
const LEAST_LOST = CLEAR / 3;
const IN_A_YEAR = 12;

const dayAfter = (iso, days) => new Date(Date.parse(`${iso}T00:00:00Z`) + days * 86400000).toISOString().slice(0, 10);

export function askPerYear(m) {
  const [lost, over] = [m.one("losses"), m.one("months")];
  const { YEAR } = m.t.units;
  const months = over / (YEAR / IN_A_YEAR);
  const right = (lost * YEAR) / over;
  const wrong = m.chance.shuffled([lost, (lost * months) / IN_A_YEAR, right * 2, right / 2, right * 1.5, lost / months]);
  const slots = { lost: m.write(lost, "mass"), over: m.write(over, "span"), right: m.write(right, "mass") };
  return m.measured(right, wrong, "mass", RATE_BENCH, slots);
}

export function askShareAYear(m) {
  const [charge, lost, over] = [m.one("charges"), m.one("losses"), m.one("months")];
  const plain = lost / charge;
  const found = m.t.leakRate.loss(lost, over, charge).share;
  if (!(LEAST_LOST < plain && plain < MOST_LOST)) return null;
  const wrong = m.chance.shuffled([plain, (plain * over) / m.t.units.YEAR, found * 2, found / 2, found * 1.5]);
  const slots = {
    charge: m.write(charge, "mass"),
    lost: m.write(lost, "mass"),
    over: m.write(over, "span"),
    plain: m.write(plain, "share"),
    right: m.write(found, "share"),
  };
  return m.measured(found, wrong, "share", RATE_BENCH, slots);
}

export function askCo2e(m) {
  const [gas, mass] = [m.gas("weighed"), m.one("losses")];
  const gwp = gas.gwp.ar4;
  if (gwp === null) return null;
  const [right, slip] = [m.t.leakRate.tonnesCo2e(mass, gwp), m.fixed("slip")];
  const wrong = m.chance.shuffled([right * slip, right / slip, right * 10, right / 10, right * 1000]);
  const slots = {
    gas: gas.key,
    mass: m.write(mass, "mass"),
    gwp: m.write(gwp, "count"),
    kg: m.write(mass, "kilogram"),
    right: m.write(right, "co2e"),
  };
  return m.measured(right, wrong, "co2e", RATE_BENCH, slots);
}

export function askExplains(m) {
  const loss = m.one("rates");
  const whole = m.chance.below(3) === 0;
  const part = m.one("parts");
  const found = loss * (whole ? m.chance.share(0.9, 1.1) : part);
  const rough = (share) => m.write(share, "rough-share");
  const slots = { loss: m.write(loss, "leak-rate"), found: m.write(found, "leak-rate"), share: rough(found / loss) };
  const [everything, little] = [m.say("all"), m.say("none")];
  if (whole) {
    const others = [part, part * 2].map((p) => m.say("part", { share: rough(p) }));
    return m.asked([everything], [...others, little], "bench:leak-flow", slots, "why-all");
  }
  const other = m.chance.below(2) ? part * 3 : part / 3;
  const [right, wrong] = [slots.share, rough(other)].map((share) => m.say("part", { share }));
  return m.asked([right], [everything, wrong, little], "bench:leak-flow", slots, "why-part");
}

export function askAnnualized(m) {
  const [charge, added, over] = [m.one("ruled-charges"), m.one("added"), m.one("days")];
  const [days, plain] = [over / m.t.units.DAY, added / charge];
  if (!(plain > 0.02 && plain < MOST_LOST)) return null;
  const right = m.t.leakRate.annualizing(added, charge, days);
  const whole = m.t.leakRate.RULE_YEAR;
  const wrong = m.chance.shuffled([plain, (plain * days) / whole, (plain * whole) / days, right * 2, right / 2, right * 1.5]);
  const slots = {
    charge: m.write(charge, "mass"),
    added: m.write(added, "mass"),
    days: m.write(over, "days"),
    plain: m.write(plain, "share"),
    right: m.write(right, "share"),
    source: m.material.sources.method,
  };
  return m.measured(right, wrong, "share", RATE_BENCH, slots);
}

const sourceText = (m, source) => filled(m.material.marks[source.mark], { where: source.where });

export function askRepairDue(m) {
  const { material, t } = m;
  const kind = m.one("appliances");
  const gas = m.gas(`ruled-${kind}`);
  const [charge, added, over] = [m.one("ruled-charges"), m.one("added"), m.one("days")];
  const on = m.one("dates");
  const plain = added / charge;
  if (!(plain > 0.01 && plain < MOST_LOST)) return null;
  const rate = t.leakRate.annualizing(added, charge, over / t.units.DAY);
  const rules = t.usRules.rules(gas, charge, { kind, light: false }, on, rate);
  const holding = rules.filter((rule) => rule.holds && rule.threshold !== null);
  const limits = Object.values(material.limits);
  if (holding.length > 1 || limits.some((limit) => !apart(rate, limit))) return null;
  const since = holding[0]?.countsFrom ?? null;
  if (since !== null && dayAfter(on, -over / t.units.DAY) < since) return null; // the addition before does not count
  const share = (value) => m.write(value, "share");
  const said = (key, value, limit) => m.say(key, { rate: share(value), limit: share(limit) });
  const limit = holding.length ? holding[0].threshold : material.limits[kind];
  const overIt = rate > limit;
  const outside = limits.find((one) => rate > one !== overIt);
  let wrong;
  if (outside !== undefined) wrong = said(overIt ? "under" : "over", rate, outside);
  else if (overIt && plain < limit) wrong = said("under", plain, limit);
  else return null;
  const verdict = said(overIt ? "over" : "under", rate, limit);
  const [none, always] = [m.say("none"), m.say("always")];
  const slots = {
    appliance: m.words[kind],
    gas: gas.key,
    charge: m.write(charge, "mass"),
    on: m.write(on, "day"),
    added: m.write(added, "mass"),
    days: m.write(over, "days"),
    rate: share(rate),
    advice: material.advice,
  };
  if (holding.length) {
    const [rule] = holding;
    const because = m.say("because-rule", { name: m.write(rule.name, "reason"), limit: share(limit), source: sourceText(m, rule.source) });
    return m.asked([verdict], [wrong, none, always], RATE_BENCH, { ...slots, because });
  }
  const reasons = rules.map(({ name, because }) => m.say("reason", { name: m.write(name, "reason"), because: m.write(because, "reason") })).join("; ");
  const because = m.say("because-none", { gas: gas.key, reasons });
  return m.asked([none], [verdict, wrong, always], RATE_BENCH, { ...slots, because });
}

export function askRepairBy(m) {
  const { usRules } = m.t;
  const on = dayAfter(m.one("dates"), m.chance.below(20));
  const stops = m.chance.below(3) === 0;
  const usual = usRules.repairBy(on).day;
  const days = [usRules.followUpBy(on).day, usual, usRules.repairBy(usual).day, usRules.repairBy(on, true).day];
  const texts = days.map((day) => m.write(day, "day"));
  const right = texts[stops ? 3 : 1];
  const process = m.say(stops ? "stops" : "runs");
  const slots = { on: m.write(on, "day"), process, right, source: m.material.sources.repair, advice: m.material.advice };
  return m.asked([right], texts.filter((text) => text !== right), RATE_BENCH, slots);
}

export function askCheckInterval(m) {
  const { material, t } = m;
  const [gas, charge] = [m.gas("common"), m.one("ruled-charges")];
  const detection = m.chance.below(3) === 0;
  const found = t.euRules.leakCheck(gas, charge, detection);
  if (!material.eu_limits.every((limit) => found.tonnes === null || apart(found.tonnes, limit))) return null;
  const every = Object.fromEntries([3, 6, 12, 24].map((months) => [months, m.say("every", { months: String(months) })]));
  const right = found.months === null ? m.say("none") : every[found.months];
  const wrong = [m.say("none"), ...Object.values(every)].filter((text) => text !== right);
  const slots = {
    charge: m.write(charge, "mass"),
    gas: gas.key,
    with: m.words[detection ? "with" : "without"],
    because: capital(m.write(found.because, "reason")),
    source: sourceText(m, found.source),
    advice: material.advice,
  };
  return m.asked([right], m.few(wrong), RATE_BENCH, slots);
}

export function askCheckAfterRepair(m) {
  const on = dayAfter(m.one("dates"), m.chance.below(20));
  const [first, last] = m.t.euRules.recheckWindow(on);
  const inside = dayAfter(first, 2 + m.chance.below(20));
  const wrong = m.few([on, ...[14, 45, 120].map((days) => dayAfter(last, days))]).map((day) => m.write(day, "day"));
  const slots = {
    on: m.write(on, "day"),
    first: m.write(first, "day"),
    last: m.write(last, "day"),
    source: m.material.sources.recheck,
    advice: m.material.advice,
  };
  return m.asked([m.write(inside, "day")], wrong, RATE_BENCH, slots);
}
