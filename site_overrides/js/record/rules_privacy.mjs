// Private matter has no field; prose that seems to hold it gets a warning. What looks private comes with the data.
import { say } from "../say.mjs";
import { proseOf } from "./facts.mjs";
import { pathOf } from "./text.mjs";

const DIGIT = /\p{Nd}/gu;

// The sign that ends at `index`; empty at the beginning.
const signBefore = (text, index) => [...text.slice(Math.max(0, index - 2), index)].at(-1) ?? "";

// Matches with no sign of `glued` before them; in place of a look-behind, which phones of 2022 can't read.
function* standing(text, { pattern, glued }) {
  pattern.lastIndex = 0;
  for (let hit = pattern.exec(text); hit; hit = pattern.exec(text)) {
    if (glued?.test(signBefore(text, hit.index))) {
      pattern.lastIndex = hit.index + String.fromCodePoint(text.codePointAt(hit.index)).length;
    } else {
      yield hit[0];
    }
  }
}

// Prose seems to hold a telephone number, an e-mail address or a street address.
function* privateMatter(data, _, { patterns }) {
  for (const [pointer, text] of proseOf(data)) {
    for (const one of patterns.private) {
      if (one.needs && !text.includes(one.needs)) continue;
      for (const hit of standing(text, one)) {
        if (one.digits && (patterns.date.test(hit) || (hit.match(DIGIT) ?? []).length < one.digits)) continue;
        yield {
          pointer,
          message: `${pathOf(pointer)}: ${say('"{value}" looks like {what}', { value: hit, what: one.what })}`,
          instead: say("take it out; nothing private belongs here"),
          rule: "privacy",
          severity: "warning",
        };
      }
    }
  }
}

export const PRIVACY = [privateMatter];
