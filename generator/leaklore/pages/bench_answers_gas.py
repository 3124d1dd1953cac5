"""Answers of the work bench about holes, tests and air; see `bench_answers`."""

from __future__ import annotations

import math

from leaklore.pages.bench_answers import Answer, Inputs, World, inside_at_rest
from leaklore.trade import air, detectability, entry, flow, pressure_test, vacuum, volume
from leaklore.trade.gas import GasState
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import ATMOSPHERE, GRAM_PER_YEAR, OutOfRange, positive


def leak_flow(i: Inputs, w: World) -> Answer:
    """A leak rate in other units, the hole behind it, and what that hole passes of another gas or pressure."""
    a, r = Answer(), w.refrigerants[i["refrigerant"]]
    leak = i["leak"] if i["given"] == "mass" else flow.mass_rate(i["flow"], r.molar_mass)
    passed = flow.throughput(leak, r.molar_mass)
    a.put(rate=leak, grams=leak / GRAM_PER_YEAR, flow=passed, molar_mass=r.molar_mass * 1000)
    if i["inside"] is None:
        gas = inside_at_rest(w, r, i["temperature"], a)
        a.show("at-rest")
    else:
        gas = w.tables.vapour(r, i["temperature"], i["inside"])
        a.put(inside=gas.pressure)
        a.show("as-given")
    if gas is None:
        return a
    if gas.pressure <= ATMOSPHERE:
        a.show("below-atmosphere")
        return a
    hole = flow.hole(leak, gas)
    a.put(diameter=hole.diameter, flux=flow.orifice_flux(gas).mass, exponent=gas.exponent)
    a.show("hole", "choked" if hole.choked else "subsonic", "continuum" if hole.continuum else "pore")
    if i["gas"] == "nitrogen":
        other = w.tables.nitrogen(i["temperature"], i["test"])
    else:
        other = w.tables.vapour(r, i["temperature"], i["test"])
        a.show("other-refrigerant")
    if other.pressure <= ATMOSPHERE:
        a.show("test-below-atmosphere")
        return a
    a.show("other")
    same = flow.same_hole(leak, gas, other)
    low, high = (flow.throughput(m, other.molar_mass) for m in (same.low, same.high))
    a.put(other_low=low, other_high=high, mass_low=same.low, mass_high=same.high)
    a.put(bubble_slow=flow.bubble_time(low), bubble_fast=flow.bubble_time(high))
    return a


def _circuit(i: Inputs) -> float:
    return volume.line_set(i["liquid"], i["suction"], i["length"]) + float(i["rest"])


def _above_outside(pressure: float) -> None:
    """Refuses a test that the air outside holds in: nothing comes out, so nothing can be told of it."""
    if pressure <= ATMOSPHERE:
        raise OutOfRange("test pressure", pressure, ATMOSPHERE, math.inf, "Pa")


def standing_test(i: Inputs, w: World) -> Answer:
    """What temperature does to the pressure, the smallest leak that shows, and how long to wait."""
    a, r = Answer(), w.refrigerants[i["refrigerant"]]
    start, temperature, later = i["pressure"], i["temperature"], i["later"]
    _above_outside(start)
    expected = pressure_test.expected_nitrogen(w.tables, start, temperature, later)
    size = _circuit(i)
    smallest = pressure_test.smallest_leak(size, i["time"], i["gauge"], start, temperature, i["kelvin"])
    drop = pressure_test.smallest_drop(i["gauge"], start, temperature, i["kelvin"])
    a.put(
        expected=expected,
        change=abs(expected - start),
        absolute=start,
        kelvin=temperature,
        later_kelvin=later,
    )
    a.put(ideal=pressure_test.expected_pressure(start, temperature, later), refrigerant=r.key)
    a.put(
        volume=size,
        lines=volume.line_set(i["liquid"], i["suction"], i["length"]),
        drop=drop,
        smallest=smallest,
    )
    a.show("cooler" if expected < start else "warmer" if expected > start else "same")
    if i["nameplate"] is not None and start > i["nameplate"]:
        a.show("above-nameplate")
    if i["end"] is not None:
        lost = expected - i["end"]
        a.put(lost=abs(lost))
        a.show("end", "falls" if lost > drop else "rises" if lost < -drop else "holds")
        if lost > drop:
            readings = (start, i["end"], temperature, later)
            a.put(measured=pressure_test.nitrogen_leak(w.tables, size, i["time"], *readings))
    inside = inside_at_rest(w, r, temperature, a)
    if inside is None:
        return a
    nitrogen = w.tables.nitrogen(temperature, start)
    seen = flow.same_hole(flow.mass_rate(smallest, nitrogen.molar_mass, temperature), nitrogen, inside)
    a.put(seen_low=seen.low, seen_high=seen.high)
    a.show("seen")
    if i["leak"]:
        _wait(i, a, size, inside, nitrogen)
    return a


def _wait(i: Inputs, a: Answer, size: float, inside: GasState, nitrogen: GasState) -> None:
    """How long until the leak shows, by the law that passes less nitrogen."""
    passed = flow.same_hole(i["leak"], inside, nitrogen).low
    through = flow.throughput(passed, nitrogen.molar_mass, nitrogen.temperature)
    wait = pressure_test.time_to_see(
        through, size, i["gauge"], nitrogen.pressure, nitrogen.temperature, i["kelvin"]
    )
    a.put(wait=wait.seconds, through=through)
    a.show("wait", "long-enough" if i["time"] >= wait.seconds else "too-short")
    if not wait.steady:
        a.show("not-steady")


def vacuum_hold(i: Inputs, w: World) -> Answer:
    """A rise as leak or moisture, as a leak in figures, and against the limits in use."""
    a, r = Answer(), w.refrigerants[i["refrigerant"]]
    rise, readings = i["end"] - i["start"], [vacuum.VacuumReading(0.0, i["start"])]
    positive("time", i["time"], "s")
    if i["middle"] is not None and i["half"] is not None:
        if positive("half-way time", i["half"], "s") >= i["time"]:
            raise OutOfRange("half-way time", i["half"], 0.0, i["time"], "s")
        readings.append(vacuum.VacuumReading(i["half"], i["middle"]))
    readings.append(vacuum.VacuumReading(i["time"], i["end"]))
    found = vacuum.judge(readings)
    water = vacuum.water_vapour_pressure(i["temperature"])
    a.put(
        rise=abs(rise), steepness=found.steepness, levels_at=found.levels_at, water=water, refrigerant=r.key
    )
    a.show(f"shape-{found.shape}")
    if found.levels_at is not None:
        a.show("levels", "above-water" if found.levels_at > water else "below-water")
    for limit in vacuum.limits(i["start"], i["end"], i["time"]):
        word = {True: "passed", False: "failed", None: "unfit"}[limit.passed]
        a.show(f"{limit.key}.{word}")
        a.outs[f"{limit.key}.because"] = limit.because
    if rise <= 0:
        a.show("no-rise")
        return a
    smallest = vacuum.rise_leak(i["volume"], rise, i["time"])
    a.put(leak=smallest)
    a.show("rise")
    inside = inside_at_rest(w, r, i["temperature"], a)
    if inside is not None and i["end"] < ATMOSPHERE / 2:
        air_in = w.tables.nitrogen(i["temperature"], ATMOSPHERE)
        mass = flow.mass_rate(smallest, air_in.molar_mass, i["temperature"])
        same = flow.same_hole(mass, air_in, inside, i["end"])
        a.put(out_low=same.low)
        a.show("outward")
    return a


def air_reading(i: Inputs, w: World) -> Answer:
    """A reading against its background and the limits, and what a leak builds up."""
    a, r = Answer(), w.refrigerants[i["refrigerant"]]
    a.put(refrigerant=r.key, density=air.density(i["reading"], r.molar_mass), molar_mass=r.molar_mass * 1000)
    a.put(heavier=r.relative_density, left=entry.displaced(i["reading"]))
    a.show("heavy" if r.relative_density > 1 else "rises")
    above = air.above_background(i["reading"], i["background"], i["resolution"], i["accuracy"])
    a.put(difference=None if above.difference is None else max(0.0, above.difference), needed=above.needed)
    a.show({True: "above", False: "not-above", None: "no-background"}[above.above])
    found = entry.check(r, i["reading"], i["oxygen"])
    reached = {limit.key for limit in found.reached}
    for limit in (*entry.limits(r), entry.caution(r)):
        a.show(f"limit-{limit.key}", f"{limit.key}.reached" if limit.key in reached else f"{limit.key}.below")
        a.put(
            **{
                f"{limit.key}__at": limit.fraction,
                f"{limit.key}__density": air.density(limit.fraction, r.molar_mass),
            }
        )
        a.put(**{f"{limit.key}__source": limit.source.where})
    a.orders["limits"] = [
        limit.key for limit in sorted((*entry.limits(r), entry.caution(r)), key=lambda x: x.fraction)
    ]
    a.show(f"entry-{found.verdict}", "oxygen-measured" if i["oxygen"] is not None else "oxygen-unknown")
    if found.oxygen_low:
        a.show("oxygen-low")
    if found.oxygen_high:
        a.show("oxygen-high")
    space = air.Space.with_changes(i["room"], i["changes"])
    _builds_up(i, r, space, a)
    _clears(i, space, a)
    return a


def _builds_up(i: Inputs, r: Refrigerant, space: air.Space, a: Answer) -> None:
    vapour = air.vapour_flow(i["leak"], r.molar_mass)
    caution, lowest = entry.caution(r), entry.limits(r)[0]
    a.put(vapour=vapour * 3600, air=space.air * 3600, after=space.after(vapour, i["time"]))
    a.put(to_caution=space.time_to(caution.fraction, vapour), to_limit=space.time_to(lowest.fraction, vapour))
    a.show("closed" if i["changes"] == 0 else "aired")
    if i["changes"] > 0:
        a.put(steady=space.steady(vapour))
    a.show("reaches-caution" if "to-caution" in a.outs else "never-caution")
    a.show("reaches-limit" if "to-limit" in a.outs else "never-limit")
    if i["charge"] is not None:
        out = entry.release(r, i["charge"], i["room"])
        a.put(all_out=out.fraction, all_density=out.density, room_needed=out.volume_needed)
        a.show("release")
        if out.above_rcl is not None:
            a.show("over-rcl" if out.above_rcl else "under-rcl")


def _clears(i: Inputs, space: air.Space, a: Answer) -> None:
    """When a detector can tell a leak from the room again, once nothing more leaks in."""
    clean = max(i["background"] or 0.0, i["resolution"])
    if i["reading"] > clean:
        a.put(clean=clean, clears=space.purge_time(i["reading"], clean))
        a.show("clears" if "clears" in a.outs else "stays")


def which_technique(i: Inputs, w: World) -> Answer:
    """Techniques ranked for a leak, each with its reason."""
    a, r = Answer(), w.refrigerants[i["refrigerant"]]
    if i["test"] is not None:
        _above_outside(i["test"])
    size = _circuit(i)
    situation = detectability.Situation(
        leak=i["leak"],
        refrigerant=r,
        temperature=i["temperature"],
        test_pressure=i["test"],
        volume=size or None,
        space=None if i["room"] is None else air.Space.with_changes(i["room"], i["changes"]),
        hold=i["time"],
        gauge=i["gauge"],
        temperature_uncertainty=i["kelvin"],
    )
    sights = detectability.judge(situation, w.tables)
    a.put(refrigerant=r.key, rate=i["leak"], flow=flow.throughput(i["leak"], r.molar_mass), volume=size)
    a.orders["techniques"] = [s.technique for s in sights]
    a.put(seeing=float(sum(s.verdict == "sees" for s in sights)))
    for s in sights:
        a.show(f"{s.technique}.{s.verdict}")
        a.outs[f"{s.technique}.because"] = detectability.reason(
            s, w.names.get(s.technique, s.technique), r.key
        )
    best = sights[0]
    a.show("some" if best.verdict == "sees" else "none")
    a.put(best=w.names.get(best.technique, best.technique))
    return a
