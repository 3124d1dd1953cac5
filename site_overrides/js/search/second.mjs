// Is there another leak? The charge lost against what the leak that was found passes (kg/yr both).

export function explainedBy(lost, passes, more) {
  const times = lost / passes;
  return { times, more: times >= more };
}

// kg/yr of a leak that grows one bubble of 2 mm in so many seconds; `t` is the trade's module with its tables.
export function bubblePasses(seconds, refrigerant, t) {
  const { flow, units } = t;
  const atOne = flow.bubbleTime(1); // s at 1 Pa m3/s of gas at atmospheric pressure
  return flow.massRate(atOne / seconds, refrigerant.molarMass) * units.YEAR;
}
