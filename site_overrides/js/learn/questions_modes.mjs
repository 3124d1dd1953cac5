// Questions on failure modes: the twin of generator/leaklore/analysis/questions/modes.py.
import { CHOICES } from "./questions_make.mjs";

// A name inside a sentence.
function lowerFirst(name) {
  const start = name.slice(0, 2);
  const capitals = start === start.toUpperCase() && start !== start.toLowerCase();
  return capitals ? name : name.slice(0, 1).toLowerCase() + name.slice(1);
}

// A finding inside a sentence.
function signSaid(m, group, key) {
  if (group === "kind" || group === "age") return m.say(group);
  const name = lowerFirst(m.named("symptom", key));
  return group === "absent" ? m.say("no", { name }) : name;
}

export function askFitsBest(m) {
  const pictures = m.material.pictures[m.topic];
  if (!pictures.length) return null;
  const mode = m.chance.pick([...new Set(pictures.map((one) => one.mode))].sort());
  const seen = m.chance.pick(pictures.filter((one) => one.mode === mode));
  const signs = (name) => seen[name].map((key) => lowerFirst(m.named("symptom", key))).join("; ");
  const kind = m.named("kind", seen.kind);
  const unit = seen.age === null ? m.say("unit-no-age", { kind }) : m.say("unit", { kind, age: m.write(seen.age, "span") });
  const slots = {
    unit,
    seen: signs("seen"),
    absent: seen.absent.length ? m.say("absent", { absent: signs("absent") }) : "",
    right: m.named("mode", mode),
    second: m.named("mode", seen.second),
    p: m.write(seen.p, "share"),
    q: m.write(seen.q, "share"),
    n: String(seen.n),
    cases: String(seen.cases),
    tells: seen.tells.length ? m.say("tells", { signs: seen.tells.map(([group, key]) => signSaid(m, group, key)).join("; ") }) : "",
    what: m.material.about.mode[mode],
  };
  return m.asked([m.named("mode", mode)], seen.wrong.map((key) => m.named("mode", key)), `mode:${mode}`, slots);
}

export function askTellTale(m) {
  const pairs = m.material.tell_tales[m.topic];
  if (!pairs.length) return null;
  const pair = m.chance.pick(pairs);
  const found = m.chance.pick(pair.right);
  const wrong = m.few(pair.wrong);
  const [low, high, otherLow, otherHigh] = found.ends.map((end) => m.write(end, "share"));
  const slots = {
    mode: m.named("mode", pair.mode),
    other: m.named("mode", pair.other),
    sign: m.named("symptom", found.sign),
    a: String(found.a),
    n: String(pair.n),
    b: String(found.b),
    m: String(pair.m),
    interval: m.say("interval", { low, high }),
    "other-interval": m.say("interval", { low: otherLow, high: otherHigh }),
  };
  return m.asked([m.named("symptom", found.sign)], wrong.map((key) => m.named("symptom", key)), `mode:${pair.mode}`, slots);
}

function techniqueFor(m, right, wrong) {
  const modes = m.material.modes[m.topic];
  const able = Object.keys(modes).filter((key) => modes[key][right].length && modes[key][wrong].length >= CHOICES - 1);
  if (!able.length) return null;
  const mode = m.chance.pick(able);
  const chosen = m.chance.pick(modes[mode][right]);
  const keys = m.few(modes[mode][wrong]);
  const [name, ...others] = [chosen, ...keys].map((key) => m.named("technique", key));
  const { about } = m.material;
  const ours = oursSaid(m, modes[mode].ours, [chosen, ...keys]);
  const slots = { mode: m.named("mode", mode), right: name, others: others.join(", "), ours, what: about.mode[mode], how: about.technique[chosen] };
  return m.asked([name], others, `mode:${mode}`, slots);
}

// What each of these found on leaks of that mode, of those it was used on; empty where none was used.
function oursSaid(m, did, techniques) {
  const told = techniques.filter((key) => did[key]).map((key) => m.say("one", { name: m.named("technique", key), a: String(did[key][0]), n: String(did[key][1]) }));
  return told.length ? m.say("ours", { list: told.join("; ") }) : "";
}

export const askFindsMode = (m) => techniqueFor(m, "good", "poor");
export const askMissesMode = (m) => techniqueFor(m, "poor", "good");
