// The US rules on leaking appliances: which one holds, its threshold, and what follows from passing it.
// All figures come from the data with their paragraph, date and mark. Nothing here is legal advice.
import { citation } from "./data.mjs";
import { day, plusDays, yearEnd } from "./days.mjs";
import { fixed, general } from "./format.mjs";
import { TradeError, positive, require } from "./units.mjs";

export function make(content, { units }) {
  const us = content.rules.us;

  const contains = (refrigerant, list) => refrigerant.composition.some((part) => us[list].includes(part.of));
  const pounds = (kilogram) => `${fixed(kilogram / units.POUND, 0)} lb (${fixed(kilogram, 1)} kg)`;

  // Kind of the rules for a record's equipment kind and setting; "other" for what we do not know.
  function appliance(equipmentKind, setting = null) {
    if (!Object.hasOwn(us.appliances, equipmentKind)) return { kind: "other", light: false };
    const found = us.appliances[equipmentKind];
    const by = found.setting ?? {};
    return { kind: Object.hasOwn(by, setting) ? by[setting] : found.kind, light: found.light ?? false };
  }

  // Does the rule take this refrigerant, and why (not)?
  function inScope(rule, refrigerant) {
    const { key } = refrigerant;
    const [ods, hfc] = [contains(refrigerant, "ods"), contains(refrigerant, "hfc")];
    if (rule.refrigerants === "ods") return [ods, `${key} ${ods ? "holds" : "holds no"} ozone-depleting substance`];
    if (rule.refrigerants === "ods-or-hfc") {
      return [ods || hfc, `${key} is ${ods || hfc ? "" : "not "}among the refrigerants of that time`];
    }
    if (hfc) return [true, `${key} holds an HFC`];
    if (ods) return [false, `${key} holds no HFC; part 82 takes it`];
    const gwp = refrigerant.gwp.ar4;
    if (gwp === null) return [false, `${key} holds no HFC and we have no GWP of it`];
    const over = gwp > rule.gwp_over;
    const compared = `${general(gwp)} is ${over ? "" : "not "}above ${general(rule.gwp_over)}`;
    return [over, `${key} holds no HFC and its GWP of ${compared}`];
  }

  // The rules in force on a day; `rate` as a share of the full charge a year, a repair is due when it is over the threshold.
  function rules(refrigerant, fullCharge, kind, on, rate = null, residentialOrLight = null) {
    positive("full charge", fullCharge, "kg");
    if (rate !== null) require("leak rate", rate, 0, 1e6, "");
    if (!us.kinds.includes(kind.kind)) throw new TradeError(`"${kind.kind}" is not a kind of appliance; known: ${us.kinds.join(", ")}`, "kind");
    const date = day("day", on);
    const light = residentialOrLight ?? kind.light;
    const inForce = us.rules.filter((rule) => rule.from <= date && (rule.until === null || date <= rule.until));
    return inForce.map((rule) => {
      let [holds, because] = inScope(rule, refrigerant);
      if (holds && rule.light_excluded && light) {
        [holds, because] = [false, "residential and light commercial AC and heat pumps are excluded"];
      }
      if (holds && fullCharge < rule.least_charge * (1 - 1e-9)) {
        [holds, because] = [false, `the full charge is below ${pounds(rule.least_charge)}`];
      }
      const threshold = holds ? rule.thresholds[kind.kind] : null;
      const over = threshold === null || rate === null ? null : rate > threshold + 1e-12;
      const sources = { scope: citation(rule.scope), source: citation(rule.threshold) };
      const countsFrom = rule.counts_from ?? null;
      return { key: rule.key, name: rule.name, holds, because, threshold, over, ...sources, countsFrom };
    });
  }

  const deadline = (date, rule) => ({ day: date, source: citation(rule) });

  // 30 days from the addition that showed it, 120 with a process shutdown.
  function repairBy(found, processShutdown = false) {
    const days = processShutdown ? us.repair.shutdown_days : us.repair.days;
    return deadline(plusDays(day("day", found), days), us.repair);
  }

  function followUpBy(initialTest) {
    return deadline(plusDays(day("day", initialTest), us.follow_up.days), us.follow_up);
  }

  // Months between leak inspections once the threshold was passed.
  function inspectionMonths(kind, fullCharge) {
    const rule = us.inspection;
    const large = positive("full charge", fullCharge, "kg") >= rule.frequent_from * (1 - 1e-9);
    const months = large && rule.frequent_kinds.includes(kind) ? rule.frequent_months : rule.other_months;
    return [months, citation(rule)];
  }

  // Report on an appliance that lost 125 % or more of its charge in calendar `year`; null where none is due.
  function chronicReport(lost, fullCharge, year) {
    const rule = us.chronic;
    const share = require("charge lost", lost, 0, 1e9, "kg") / positive("full charge", fullCharge, "kg");
    return share < rule.share * (1 - 1e-9) ? null : deadline(yearEnd(year + 1, rule.month, rule.day), rule);
  }

  // Day by which automatic leak detection is due; null where it is not.
  function detectionDue(kind, fullCharge, installed) {
    const rule = us.detection;
    const date = day("day of installation", installed);
    if (!rule.kinds.includes(kind) || fullCharge < rule.least_charge * (1 - 1e-9)) return null;
    if (date < rule.installed_from) return null;
    return deadline(date < rule.from ? rule.existing_by : plusDays(date, rule.new_within_days), rule);
  }

  // kg; loss at which an indirect detection system alarms.
  function alarmLoss(fullCharge) {
    const rule = us.detection_alarm;
    return Math.min(rule.loss, rule.loss_share * positive("full charge", fullCharge, "kg"));
  }

  return {
    ...{ appliance, rules, repairBy, followUpBy, inspectionMonths, chronicReport, detectionDue, alarmLoss },
    kinds: us.kinds,
  };
}
