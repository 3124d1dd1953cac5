// SCORM 1.2 run-time for one sharable content object that holds a whole list. From memory of the ADL run-time
// environment of SCORM 1.2: finding the API, LMSInitialize ... LMSFinish, cmi.core, cmi.suspend_data (4096 signs).
import { pointsOf } from "./player.mjs";

const PARENTS = 500; // windows looked through before giving up
const SUSPEND = 4096;
const HOUR = 3600;

// The system's API object in this window's parents or in those of its opener; null where there is none.
export function apiOf(start) {
  for (const first of [start, start.opener]) {
    let at = first;
    for (let i = 0; at && i < PARENTS; i += 1) {
      try {
        if (at.API) return at.API;
      } catch {
        break; // another host's window
      }
      if (at.parent === at) break;
      at = at.parent;
    }
  }
  return null;
}

// HHHH:MM:SS.SS, as CMITimespan has it.
export function timespan(ms) {
  const hundredths = Math.min(Math.round(ms / 10), 9999 * HOUR * 100);
  const two = (n) => String(n).padStart(2, "0");
  const seconds = Math.floor(hundredths / 100);
  return `${String(Math.floor(seconds / HOUR)).padStart(4, "0")}:${two(Math.floor((seconds % HOUR) / 60))}:${two(seconds % 60)}.${two(hundredths % 100)}`;
}

// "1|MARK|0:,3:7/9": which items are done, with points; MARK tells whether they are the same items.
export function suspended(contents, done) {
  const parts = contents.items.flatMap(({ key }, i) => (done.has(key) ? [`${i}:${done.get(key).of ? `${done.get(key).score}/${done.get(key).of}` : ""}`] : []));
  const text = `1|${contents.mark}|${parts.join()}`;
  return text.length <= SUSPEND ? text : `1|${contents.mark}|`;
}

export function resumed(contents, text) {
  const done = new Map();
  const [version, mark, rest] = String(text ?? "").split("|");
  if (version !== "1" || mark !== contents.mark || !rest) return done;
  for (const part of rest.split(",")) {
    const found = /^(\d{1,4}):(?:(\d{1,4})\/(\d{1,4}))?$/.exec(part);
    const item = found && contents.items[Number(found[1])];
    if (item) done.set(item.key, { score: found[2] ? Number(found[2]) : null, of: found[3] ? Number(found[3]) : null });
  }
  return done;
}

export class ScormRecorder {
  constructor(api, now = Date.now) {
    Object.assign(this, { api, now });
  }

  // False where the system refuses; it is told and the course goes on.
  set(name, value) {
    const kept = String(this.api.LMSSetValue(name, String(value))) === "true";
    if (!kept) this.broken?.("not-sent", { why: this.why() });
    return kept;
  }

  commit() {
    if (String(this.api.LMSCommit("")) !== "true") this.broken?.("not-sent", { why: this.why() });
  }

  why() {
    const code = String(this.api.LMSGetLastError());
    return code === "0" ? "no reason given" : `${code} ${this.api.LMSGetErrorString(code)}`.trim();
  }

  async start(contents) {
    this.contents = contents;
    if (String(this.api.LMSInitialize("")) !== "true") throw new Error(this.why());
    this.begun = this.now();
    this.normal = !["browse", "review"].includes(String(this.api.LMSGetValue("cmi.core.lesson_mode")));
    const asked = String(this.api.LMSGetValue("cmi.student_data.mastery_score"));
    this.mastery = /^\d+(\.\d+)?$/.test(asked) ? Number(asked) : contents.mastery;
    const done = resumed(contents, this.api.LMSGetValue("cmi.suspend_data"));
    const status = String(this.api.LMSGetValue("cmi.core.lesson_status"));
    if (this.normal && (status === "not attempted" || status === "")) {
      this.set("cmi.core.lesson_status", "incomplete");
      this.commit();
    }
    return { done, said: this.normal ? null : "only-looking" };
  }

  // Passed or failed by the points of all exercises once everything is done; completed where nothing is scored.
  status(done) {
    if (!this.contents.items.every(({ key }) => done.has(key))) return "incomplete";
    const points = pointsOf(this.contents.items, done);
    return !points ? "completed" : (100 * points.score) / points.of >= this.mastery ? "passed" : "failed";
  }

  done(done) {
    if (!this.normal) return;
    const status = this.status(done);
    const points = pointsOf(this.contents.items, done);
    // before the end no score: beside a mastery score a system may make a half-read course passed or failed of it
    if (points && status !== "incomplete") {
      this.set("cmi.core.score.min", 0);
      this.set("cmi.core.score.max", 100);
      this.set("cmi.core.score.raw", Math.round((1000 * points.score) / points.of) / 10);
    }
    this.set("cmi.core.lesson_status", status);
    this.set("cmi.suspend_data", suspended(this.contents, done));
    this.commit();
  }

  finish(done) {
    this.set("cmi.core.session_time", timespan(this.now() - this.begun));
    this.set("cmi.core.exit", this.status(done) === "incomplete" ? "suspend" : "");
    this.commit();
    this.api.LMSFinish("");
    return null;
  }
}
