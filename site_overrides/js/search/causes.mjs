// Which cause fits: the weight of every failure mode from what was found, by the tables that Python fitted.

// Number of the class that a value falls in.
export function classOf(edges, value) {
  return edges.reduce((n, edge) => n + (value >= edge), 0);
}

// kg/yr lost by the kg of the full charge, 1/yr; null where one of both isn't known.
export function shareLost(evidence) {
  const { rate, charge } = evidence;
  return (rate ?? null) === null || !charge ? null : rate / charge;
}

// [group, key] of all that the causes are weighed by, no kind where it may be several; `model` is all that model.json says.
export function evidenceFindings(evidence, model) {
  const { edges } = model.causes;
  const found = [];
  const several = { symptom: evidence.symptoms, absent: evidence.absent, condition: evidence.conditions };
  for (const [group, keys] of Object.entries(several)) for (const key of keys) found.push([group, key]);
  const kind = evidence.kinds.length === 1 ? evidence.kinds[0] : null;
  for (const [group, key] of Object.entries({ setting: evidence.setting, kind, refrigerant: evidence.refrigerant })) {
    if ((key ?? null) !== null) found.push([group, key]);
  }
  for (const [group, value] of Object.entries({ age: evidence.age, rate: evidence.rate, share: shareLost(evidence) })) {
    if ((value ?? null) !== null) found.push([group, String(classOf(edges[group], value))]);
  }
  return found;
}

export class CauseModel {
  constructor(model) {
    this.model = model;
    this.modes = model.causes.modes;
    this.index = new Map(this.modes.map((mode, i) => [mode, i]));
  }

  // Weight of each mode, the largest 1 before what people named, from all findings that are not places or checks.
  weigh(evidence) {
    const { prior, tables, silent, told, named, ruled_out: ruledOut, milli } = this.model.causes;
    const total = Float64Array.from(prior);
    for (const [group, key] of evidenceFindings(evidence, this.model)) {
      if (!Object.hasOwn(tables[group], key)) continue;
      const row = tables[group][key];
      for (let m = 0; m < total.length; m += 1) total[m] += row[m];
    }
    this.oneOf(evidence.kinds).forEach((value, m) => {
      total[m] += value;
    });
    // silence about the other symptoms counts the more, the more of them were named
    const said = new Set([...evidence.symptoms, ...evidence.absent]);
    const share = Math.min(1, (evidence.symptoms.length + evidence.absent.length) / told);
    for (const [symptom, row] of share ? Object.entries(silent) : []) {
      if (!said.has(symptom)) for (let m = 0; m < total.length; m += 1) total[m] += share * row[m];
    }
    const top = Math.max(...total);
    const out = total.map((t) => Math.exp((t - top) / milli));
    for (const [spoken, factor] of [[evidence.named, named], [evidence.ruledOut, ruledOut]]) {
      for (const mode of spoken) if (this.index.has(mode)) out[this.index.get(mode)] *= factor;
    }
    return out;
  }

  // Log likelihood under each mode that the equipment is of one of several kinds: these are added before their weight.
  oneOf(kinds) {
    const { tables, peaks, kind_weight: weight, milli } = this.model.causes;
    const known = kinds.filter((kind) => Object.hasOwn(peaks, kind));
    if (kinds.length < 2 || !known.length || !weight) return new Float64Array(this.modes.length);
    const scale = milli * weight;
    return Float64Array.from(this.modes, (_, m) => scale * Math.log(known.reduce((sum, kind) => sum + Math.exp((tables.kind[kind][m] + peaks[kind]) / scale), 0)));
  }
}
