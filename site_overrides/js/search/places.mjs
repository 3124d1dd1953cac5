// Where it may leak: every failure mode at every place that is known for it, on that kind of equipment.

// The hypotheses of one kind of equipment: mode number, component and share of the mode, in the order of the modes.
export class Frame {
  constructor(model, kind) {
    const modes = [];
    const shares = [];
    this.components = [];
    this.model = model;
    this.held = new Map();
    model.modes.forEach((mode, m) => {
      const spots = model.byMode.get(mode);
      let fitting = spots.filter((spot) => model.fits(spot[1], kind));
      if (!fitting.length) fitting = spots;
      const weights = fitting.map(([, , weight, extra]) => weight + ((kind && extra?.[kind]) || 0));
      const total = weights.reduce((sum, w) => sum + w, 0);
      fitting.forEach((spot, i) => {
        modes.push(m);
        this.components.push(spot[1]);
        shares.push(weights[i] / total);
      });
    });
    this.kind = kind;
    this.size = modes.length;
    this.modes = Int32Array.from(modes);
    this.shares = Float64Array.from(shares);
  }

  // Numbers of the hypotheses that a look at `place` covers.
  inside(place) {
    let found = this.held.get(place);
    if (!found) {
      found = [];
      this.components.forEach((component, i) => this.model.covers(place, component) && found.push(i));
      this.held.set(place, found);
    }
    return found;
  }

  // 1 for each hypothesis that one of the places covers.
  mask(places) {
    const out = new Uint8Array(this.size);
    for (const place of places) for (const i of this.inside(place)) out[i] = 1;
    return out;
  }
}

export class PlaceModel {
  constructor(content, modes) {
    this.content = content;
    this.modes = modes;
    this.byMode = new Map(modes.map((mode) => [mode, []]));
    for (const spot of content.spots) this.byMode.get(spot[0])?.push(spot);
    this.areas = new Map(Object.entries(content.inside).map(([area, held]) => [area, new Set(held)]));
    this.on = new Map(Object.entries(content.on).map(([place, kinds]) => [place, new Set(kinds)]));
    this.frames = new Map();
  }

  // Can that place be on that kind of equipment?
  fits(place, kind) {
    return kind === null || (this.on.get(place)?.has(kind) ?? true);
  }

  covers(place, component) {
    return place === component || (this.areas.get(place)?.has(component) ?? false);
  }

  frame(kind) {
    if (!this.frames.has(kind)) this.frames.set(kind, new Frame(this, kind));
    return this.frames.get(kind);
  }

  // Weight of each hypothesis, from the modes' weights and the places that were named.
  joint(frame, weights, evidence) {
    const { elsewhere, not_there: notThere } = this.content;
    const out = frame.shares.map((share, i) => weights[frame.modes[i]] * share);
    for (const named of evidence.places) {
      const mask = frame.mask(named);
      for (let i = 0; i < out.length; i += 1) if (!mask[i]) out[i] *= elsewhere;
    }
    for (const named of evidence.notPlaces) {
      const mask = frame.mask(named);
      for (let i = 0; i < out.length; i += 1) if (mask[i]) out[i] *= notThere;
    }
    return out;
  }
}
