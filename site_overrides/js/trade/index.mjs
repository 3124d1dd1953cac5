// Everything that the work bench computes with, made from one data object (data/trade.json):
//
//   import { trade, OutOfRange } from "./trade/index.mjs";
//   const t = trade(await answer.json());
//   t.flow.massRate(1e-4, t.refrigerants.get("R-410A").molarMass);
//
// SI in and SI out (Pa absolute, K, kg, m3, s, kg/s, Pa m3/s, mol/mol), days as "2026-03-01". Arguments stand in the
// order of the Python functions of the same name in generator/leaklore/trade; one left out takes the default
// named there, null stands for "not known". Results are plain objects, so they can be kept or sent.
// What a formula can't take throws OutOfRange { field, value, low, high, unit, message }; an unknown tube,
// refrigerant, unit or day throws TradeError { field, message }. OutOfRange is a TradeError too.
// A source is { where, mark, note }. Where a `properties` is asked for, give t.tables.
//
// data           version, checked(name), citation(entry), advice
// units          R AIR ATMOSPHERE YEAR POUND OUNCE INCH FOOT PSI MICRON MILLIMETRE_MERCURY HOUR DAY GRAM_PER_YEAR OUNCE_PER_YEAR
//                ROOM_TEMPERATURE; require(field, value, low, high, unit), positive(field, value, unit),
//                absoluteTemperature(field, kelvin), absolutePressure(field, pascal), gauge(pascal)
// refrigerants   all [refrigerant], get(key), of(facts), limitDensity(fraction, molarMass), GWP_SETS, LIMIT_TEMPERATURE
//                refrigerant = { key, name, composition: [{ of, share }], molarMass, safetyGroup, gwp: { ar4, ar5, "eu-2024-573" }, rcl, lfl,
//                marks, pure, flammable, relativeDensity, rclDensity }
// gas            state(molarMass, temperature, pressure, exponent, compressibility, viscosity), asIdeal(state, exponent),
//                isNoSaturation(found), mixtureViscosity(fractions, viscosities, molarMasses), standstill(properties, refrigerant, temperature),
//                NITROGEN (kg/mol); state = { ...those six, density, meanFreePath }; no saturation = { noSaturation: true, temperature, critical }
// tables         has(refrigerant), dew(refrigerant, temperature), bubble(refrigerant, temperature), saturation(refrigerant, temperature, side),
//                temperature(refrigerant, pressure, side), glide(refrigerant, pressure), vapour(refrigerant, temperature, pressure),
//                nitrogen(temperature, pressure), saturationRange(refrigerant) [low, high], saturationError(refrigerant), chebyshev, chebyshev2
// flow           massRate(throughput, molarMass, temperature), throughput(massPerSecond, molarMass, temperature),
//                convert(value, unit, to, molarMass, temperature, year), bubbleTime(throughputAtm, diameter, outside), criticalRatio(exponent),
//                orificeFlux(gas, outside) { mass, choked, critical }, hole(massPerSecond, gas, outside, discharge) { diameter, area, choked,
//                knudsen, continuum }, through(diameter, gas, outside, discharge), lawFlux(law, gas, outside),
//                sameHole(massPerSecond, gas, other, outside, otherOutside) { orifice, laminar, molecular, low, high },
//                THROUGHPUT, MASS (units by name), DISCHARGE, BUBBLE, LAWS
// leakRate       loss(lost, over, charge) { rate, share }, annualizing(added, fullCharge, days),
//                rollingAverage(additions [{ day, mass, counts }], fullCharge, on, verified), tonnesCo2e(mass, gwp),
//                cost(mass, price), RULE_YEAR
// pressureTest   expectedPressure(pressure, temperature, later), expectedNitrogen(properties, pressure, temperature, later),
//                leak(volume, seconds, start, end, startTemperature, endTemperature), nitrogenLeak(properties, volume, seconds, start, end,
//                startTemperature, endTemperature), smallestDrop(resolution, pressure, temperature, temperatureUncertainty),
//                smallestLeak(volume, seconds, resolution, pressure, temperature, temperatureUncertainty),
//                timeToSee(throughput, volume, resolution, pressure, temperature, temperatureUncertainty) { seconds, drop, steady }, STEADY_DROP
// volume         tubes [tube], tube(size) { name, outside, wall, bore, area, source }, tubeVolume(tube, length),
//                lineSet(liquid, suction, length), circuitGuess(charge, liquidDensity, filled), FILLED
// vacuum         riseLeak(volume, rise, seconds), waterVapourPressure(temperature), judge(readings [{ after, pressure }]) { shape,
//                steepness, rate, levelsAt, source }, limits(start, end, seconds) [{ key, name, passed, because, source }], MINUTE
// air            density(fraction, molarMass, temperature, pressure), fraction(kgPerM3, molarMass, temperature, pressure),
//                vapourFlow(massPerSecond, molarMass, temperature, pressure), space(volume, air) { volume, air },
//                spaceWithChanges(volume, changesPerHour), after(space, vapour, seconds, start), steady(space, vapour),
//                timeTo(space, target, vapour), purgeTime(space, start, end), aboveBackground(reading, background, resolution, accuracy)
//                { above, difference, needed, source }, REFERENCE
// entry          displaced(fraction), oxygenLimit(), limits(refrigerant) [{ key, fraction, source }], caution(refrigerant),
//                check(refrigerant, reading, oxygen) { verdict, limit, reached, oxygenLow, oxygenHigh },
//                release(refrigerant, charge, volume) { density, fraction, aboveRcl, volumeNeeded }, ENRICHED
// usRules        appliance(equipmentKind, setting) { kind, light }, rules(refrigerant, fullCharge, kind, on, rate, residentialOrLight)
//                [{ key, name, holds, because, threshold, over, scope, source, countsFrom }], repairBy(found, processShutdown) { day, source },
//                followUpBy(initialTest), inspectionMonths(kind, fullCharge) [months, source], chronicReport(lost, fullCharge, year),
//                detectionDue(kind, fullCharge, installed), alarmLoss(fullCharge), kinds
// euRules        leakCheck(refrigerant, charge, detectionSystem, hermetic, residential) { months, because, tonnes, detection, source },
//                recheckWindow(repaired, kind) [first, last, source]
// detectability  flows(situation, properties) { refrigerant, nitrogen, inward }, judge(situation, properties) [sight],
//                reason(sight, name, refrigerantKey), name(technique), defaults, RANK, FINDS
//                situation = { leak, refrigerant, temperature, testPressure, volume, space, hold, gauge, temperatureUncertainty, vacuumHold,
//                vacuumRise, detector, background, bag, bagWait }; sight = { technique, verdict, finds, order, source, leak, limit, unit,
//                wait, missing, margin }
// proof          hold(test { medium, start, end, over, startTemp, endTemp }, refrigerant, leak, volume, properties, temperature)
//                { verdict, low, high, leak, wait, drop }, gaugeError(pressure)
import { make as air } from "./air.mjs";
import { make as data } from "./data.mjs";
import { make as detectability } from "./detectability.mjs";
import { make as entry } from "./entry.mjs";
import { make as euRules } from "./eu_rules.mjs";
import { make as flow } from "./flow.mjs";
import { make as gas } from "./gas.mjs";
import { make as leakRate } from "./leak_rate.mjs";
import { make as pressureTest } from "./pressure_test.mjs";
import { make as proof } from "./proof.mjs";
import { make as refrigerants } from "./refrigerants.mjs";
import { make as tables } from "./tables.mjs";
import { make as units } from "./units.mjs";
import { make as usRules } from "./us_rules.mjs";
import { make as vacuum } from "./vacuum.mjs";
import { make as volume } from "./volume.mjs";

export { OutOfRange, TradeError } from "./units.mjs";

// Each part is made from the data and the parts before it.
const PARTS = { data, units, refrigerants, gas, tables, flow, leakRate, pressureTest, volume, vacuum, air, entry, usRules, euRules, detectability, proof };

export function trade(content) {
  const made = {};
  for (const [name, make] of Object.entries(PARTS)) made[name] = make(content, made);
  return made;
}
