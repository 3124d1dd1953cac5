// Volume of what is under test: tubes by their size, line sets, and a guess for a whole circuit.
import { plainSize } from "./typed.mjs";
import { TradeError, positive, require } from "./units.mjs";

// m3 of `length` m of a tube: pi/4 bore^2 length.
function tubeVolume(tube, length) {
  return tube.area * require("length", length, 0, 5000, "m");
}

export function make(content) {
  const { FILLED } = content.constants.volume;
  const tubes = content.tubes.sizes.map(({ name, outside, wall, source }) => {
    const bore = outside - 2 * wall;
    return { name, outside, wall, bore, area: (Math.PI / 4) * bore ** 2, source: content.tubes.sources[source] };
  });
  const byName = new Map(tubes.map((one) => [one.name, one]));

  // Tube of a size as people write it: "3/8 in", "1 1/8 in", "1-1/8", "10 mm".
  function tube(size) {
    const found = byName.get(plainSize(String(size ?? "")));
    if (!found) {
      throw new TradeError(`"${size ?? ""}" is not a tube size we know; write for example "3/8 in" or "10 mm"`, "tube size");
    }
    return found;
  }

  // m3 of the field-run tubes of a split system, each `length` m long; null for a tube that is not there.
  function lineSet(liquid, suction, length) {
    return [liquid, suction]
      .filter((size) => size !== null && size !== undefined)
      .reduce((sum, size) => sum + tubeVolume(tube(size), length), 0);
  }

  // m3; a circuit's volume from its full charge (kg), good to a factor of two.
  function circuitGuess(charge, liquidDensity, filled = FILLED) {
    require("filled share", filled, 0.1, 0.9, "");
    return positive("charge", charge, "kg") / (filled * require("density", liquidDensity, 300, 1600, "kg/m3"));
  }

  return { tubes, tube, tubeVolume, lineSet, circuitGuess, FILLED };
}
