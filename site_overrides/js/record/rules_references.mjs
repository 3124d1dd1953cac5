// What a record points at exists, as far as a phone can know it: `cases`, the numbers in use, may be missing.
import { say } from "../say.mjs";
import { numbersOf, proseOf } from "./facts.mjs";
import { didYouMean, pathOf, remembering, strip } from "./text.mjs";

// The number begins with the branch's prefix.
function* branchPrefix({ id, branch }, _, { record }) {
  const wanted = record.prefixes[branch];
  if (!wanted || id.startsWith(`${wanted}-`)) return;
  yield {
    pointer: ["branch"],
    message: `branch: ${say('{branch} numbers its cases {prefix}-…, this one is "{id}"', { branch, prefix: wanted, id })}`,
    instead: say("correct the branch or the number"),
    rule: "id/branch",
  };
}

// The system is in the register.
function* system(data, facts, { systems }) {
  const named = data.system;
  if (!named || !systems || facts.system) return;
  const otherwise = say("add it to systems.yaml, or describe it under equipment:");
  yield {
    pointer: ["system"],
    message: `system: ${say('"{value}" is not in the register', { value: named })}`,
    instead: didYouMean(named, numbersOf(systems), otherwise),
    rule: "reference/system",
  };
}

// Setting, kind and refrigerant are known from the register or the record.
function* equipment(data, { equipment: known }) {
  if ("system" in data) return;
  const missing = ["setting", "kind", "refrigerant"].filter((key) => known[key] === null);
  if (!missing.length) return;
  const example = "{setting: residential, kind: ductless-split, refrigerant: R-32}";
  yield {
    pointer: "equipment" in data ? ["equipment"] : [],
    message: `equipment: ${say("{keys} unknown, and no system is named", { keys: missing.join(", ") })}`,
    instead: say("name the system of the register, or write equipment: {example}", { example }),
    rule: "reference/equipment",
  };
}

// A related case exists.
function* related(data, _, { cases }) {
  if (!cases) return;
  for (const [i, other] of (data.related ?? []).entries()) {
    const same = other.case === data.id;
    if (!same && cases.has(other.case)) continue;
    const known = [...cases].filter((number) => number !== data.id);
    yield {
      pointer: ["related", i, "case"],
      message: `related[${i}].case: ${say(same ? '"{value}" is this case' : '"{value}" is no case of this library', { value: other.case })}`,
      instead: didYouMean(other.case, known, say("write the number of a case")),
      rule: "reference/case",
    };
  }
}

// The photo is attached.
function* attached(data, _, { photos }) {
  for (const [i, { file }] of (data.photos ?? []).entries()) {
    if (photos.includes(file)) continue;
    yield {
      pointer: ["photos", i, "file"],
      message: `photos[${i}].file: ${say("there is no {file}", { file: `photos/${data.id}/${file}` })}`,
      instead: didYouMean(file, photos, say("put the picture there or take the entry out")),
      rule: "reference/photo",
    };
  }
}

// The cause's component is a part, not an area.
function* part(_, { causes }, { record }) {
  for (const [i, { component }] of causes.entries()) {
    if (!Object.hasOwn(record.areas, component)) continue;
    const pointer = [...(i ? ["also_found", i - 1] : ["cause"]), "component"];
    yield {
      pointer,
      message: `${pathOf(pointer)}: ${say('"{value}" is an area, not a part that can leak', { value: component })}`,
      instead: say("write a part, such as {parts}", { parts: record.areas[component].join(", ") || "indoor-flare" }),
      rule: "reference/part",
    };
  }
}

// [kind, key] of a reference's target; null if unknown. Whether a case or a system exists is not looked at.
function resolve(target, { patterns, vocabulary, record: { kinds } }) {
  if (patterns.case.test(target)) return ["case", target];
  if (patterns.system.test(target)) return ["system", target];
  const colon = target.indexOf(":");
  if (colon >= 0) {
    const [kind, key] = [target.slice(0, colon), target.slice(colon + 1)];
    return Object.hasOwn(kinds, kind) && vocabulary.has(kinds[kind], key) ? [kind, key] : null;
  }
  const kind = Object.keys(kinds).find((one) => vocabulary.has(kinds[one], target));
  return kind ? [kind, target] : null;
}

// What to write instead of a reference that leads nowhere; null where it leads somewhere or nobody can tell.
function instead(target, world) {
  const hit = resolve(target, world);
  if (!hit) return world.nearKey(target.split(":").at(-1));
  const { systems, cases } = world;
  const there = { case: cases && [...cases], system: systems && numbersOf(systems) }[hit[0]];
  return there && !there.includes(hit[1]) ? didYouMean(target, there, say("write one that exists")) : null;
}

// The key of the guide that is nearest to a word.
export function nearestKey({ kinds }, vocabulary) {
  const known = Object.values(kinds).flatMap((words) => vocabulary.keys(words));
  return remembering((word) => didYouMean(word, known, say("write a key of the guide, a case or a system number")));
}

// A [[reference]] in prose leads somewhere.
function* inProse(data, _, world) {
  for (const [pointer, text] of proseOf(data)) {
    if (!text.includes("[[")) continue;
    for (const hit of text.matchAll(world.patterns.reference)) {
      const target = strip(hit[1]);
      const told = instead(target, world);
      if (told === null) continue;
      yield { pointer, message: `${pathOf(pointer)}: ${say('"{value}" leads nowhere', { value: `[[${target}]]` })}`, instead: told, rule: "reference/prose" };
    }
  }
}

export const REFERENCES = [branchPrefix, system, equipment, related, attached, part, inProse];
