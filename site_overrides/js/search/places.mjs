// Where it may leak: every failure mode at every place that is known for it, on that kind of equipment.

// The hypotheses on equipment of one of some kinds: mode number, component and share of the mode, in the order of the modes.
// A mode that has no known place on some of these kinds counts less; if on none of them, at all of its places.
export class Frame {
  constructor(model, kinds) {
    const modes = [];
    const shares = [];
    this.components = [];
    this.model = model;
    this.held = new Map();
    this.had = new Map();
    model.modes.forEach((mode, m) => {
      const spots = model.byMode.get(mode);
      let fitting = spots.filter((spot) => model.fits(spot[1], kinds));
      const left = model.left(spots, kinds);
      if (!fitting.length) fitting = spots;
      const weights = fitting.map(([, , weight, extra]) => kinds.reduce((sum, kind) => sum + (extra?.[kind] ?? 0), weight));
      const total = weights.reduce((sum, w) => sum + w, 0);
      fitting.forEach((spot, i) => {
        modes.push(m);
        this.components.push(spot[1]);
        shares.push((left * weights[i]) / total);
      });
    });
    this.kinds = kinds;
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

  // How likely the unit has that place, for each of the hypotheses that a look at it covers.
  has(place) {
    let found = this.had.get(place);
    if (!found) {
      found = this.inside(place).map((i) => this.model.has(place, this.components[i], this.kinds));
      this.had.set(place, found);
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

  // Can that place be on one of those kinds of equipment? Without kinds: on any.
  fits(place, kinds) {
    const on = this.on.get(place);
    return !kinds.length || !on || kinds.some((kind) => on.has(kind));
  }

  // What is left of a mode on equipment of one of those kinds, for those on which it has no known place.
  left(spots, kinds) {
    const { not_on: notOn } = this.content;
    const able = kinds.filter((kind) => spots.some((spot) => this.fits(spot[1], [kind])));
    return kinds.length ? notOn + ((1 - notOn) * this.met(able)) / this.met(kinds) : 1;
  }

  // The kind of equipment that was said; of several or none, those that have every place that was named or checked.
  kindsFor({ kinds, places, checks }) {
    if (kinds.length === 1) return kinds;
    const checked = checks.filter((check) => check.result !== "skip").flatMap((check) => check.at.map((place) => [place]));
    const having = [...places, ...checked]
      .filter((meant) => meant.every((place) => this.on.has(place)))
      .map((meant) => meant.flatMap((place) => [...this.on.get(place)]));
    if (kinds.length) having.push(kinds);
    const both = having.length ? [...new Set(having[0])].filter((kind) => having.every((some) => some.includes(kind))) : [];
    return (both.length ? both : [...kinds]).sort();
  }

  // How likely a unit of one of these kinds, which has the component, has the place, too: not each has a plant room.
  has(place, component, kinds) {
    const on = this.on.get(place);
    if (!on || place === component) return 1;
    const mayBe = (kinds.length ? kinds : Object.keys(this.content.common)).filter((kind) => this.fits(component, [kind]));
    return mayBe.length ? this.met(mayBe.filter((kind) => on.has(kind))) / this.met(mayBe) : 1;
  }

  // How often equipment of these kinds was met, each once more.
  met(kinds) {
    return kinds.reduce((sum, kind) => sum + 1 + (this.content.common[kind] ?? 0), 0);
  }

  covers(place, component) {
    return place === component || (this.areas.get(place)?.has(component) ?? false);
  }

  frame(kinds) {
    const key = kinds.join(" ");
    if (!this.frames.has(key)) this.frames.set(key, new Frame(this, kinds));
    return this.frames.get(key);
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
