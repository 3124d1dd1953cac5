// cmi5 (quartz, 1st edition) for one assignable unit: launch, token, launch data, and statements in their order.
// Source: cmi5_spec.md of AICC/CMI-5_Spec_Current, sections 7 to 11, read for this; xAPI 1.0.3 from memory.

const XAPI = "1.0.3";
const VERBS = "http://adlnet.gov/expapi/verbs/";
const CATEGORY = "https://w3id.org/xapi/cmi5/context/categories/";
const MASTERY = "https://w3id.org/xapi/cmi5/context/extensions/masteryscore";
const OWN_STATE = "leaklore.done";
const JUDGED = new Set(["completed", "passed", "failed"]);

export class LaunchFault extends Error {}

function uuid() {
  if (crypto.randomUUID) return crypto.randomUUID(); // refused where a page is served without https
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// An address of the web, and none that would run here.
const isWeb = (text) => typeof text === "string" && /^https?:\/\//.test(text) && URL.canParse(text);

// { endpoint, fetch, actor, registration, activityId } of the address, or a LaunchFault that names what is missing.
export function launchOf(address) {
  const asked = new URL(address).searchParams;
  const launch = {};
  for (const name of ["endpoint", "fetch", "actor", "registration", "activityId"]) {
    if (!asked.get(name)) throw new LaunchFault(name);
    launch[name] = asked.get(name);
  }
  try {
    launch.actor = JSON.parse(launch.actor);
  } catch {
    throw new LaunchFault("actor");
  }
  for (const name of ["endpoint", "fetch"]) {
    if (!isWeb(launch[name])) throw new LaunchFault(name);
  }
  if (!launch.endpoint.endsWith("/")) launch.endpoint += "/";
  return launch;
}

// From here on only the two hosts of the launch can be reached: a second policy beside the page's, both must allow.
export function narrow(doc, { endpoint, fetch: token }) {
  const policy = doc.createElement("meta");
  policy.httpEquiv = "Content-Security-Policy";
  policy.content = `connect-src 'self' ${new URL(endpoint).origin} ${new URL(token).origin}`;
  doc.head.append(policy);
}

// ISO 8601, hundredths of a second.
export function durationOf(ms) {
  return `PT${(Math.max(0, ms) / 1000).toFixed(2)}S`;
}

export class Cmi5Recorder {
  constructor(launch, now = Date.now) {
    Object.assign(this, { launch, now, waiting: [], sending: Promise.resolve(), before: {}, said: new Set(), took: new Set(), tried: false });
  }

  async start(contents, [item]) {
    const { launch } = this;
    this.item = item;
    const token = await (await fetch(launch.fetch, { method: "POST" })).json();
    if (!token["auth-token"]) throw new LaunchFault("token");
    this.headers = { Authorization: `Basic ${token["auth-token"]}`, "X-Experience-API-Version": XAPI };
    const data = await this.get("activities/state", this.stateOf("LMS.LaunchData"));
    if (!data?.contextTemplate) throw new LaunchFault("LMS.LaunchData");
    await this.get("agents/profile", { profileId: "cmi5LearnerPreferences", agent: JSON.stringify(launch.actor) });
    this.data = data;
    this.normal = data.launchMode === "Normal";
    this.mastery = typeof data.masteryScore === "number" ? data.masteryScore : null;
    const kept = await this.get("activities/state", this.stateOf(OWN_STATE));
    this.before = kept && kept.version === 1 ? kept : { version: 1 };
    this.begun = this.now();
    await this.state("initialized");
    const done = new Map(this.before.done ? [[item.key, this.before.done]] : []);
    return { done, said: this.normal ? null : "only-looking" };
  }

  stateOf(stateId) {
    const { activityId, actor, registration } = this.launch;
    return { stateId, activityId, agent: JSON.stringify(actor), registration };
  }

  address(path, asked) {
    return `${this.launch.endpoint}${path}?${new URLSearchParams(asked)}`;
  }

  // A document, or null where there is none or it may not be read.
  async get(path, asked) {
    const reply = await fetch(this.address(path, asked), { headers: this.headers });
    if (reply.status === 401) throw new LaunchFault("token");
    return reply.ok ? reply.json().catch(() => null) : null;
  }

  context(verb) {
    const context = structuredClone(this.data.contextTemplate);
    context.registration = this.launch.registration;
    const activities = { ...context.contextActivities };
    const own = [{ id: `${CATEGORY}cmi5` }, ...(JUDGED.has(verb) ? [{ id: `${CATEGORY}moveon` }] : [])];
    activities.category = [...(activities.category ?? []), ...own];
    context.contextActivities = activities;
    if (this.mastery !== null && (verb === "passed" || verb === "failed")) context.extensions = { ...context.extensions, [MASTERY]: this.mastery };
    return context;
  }

  statement(verb, result) {
    return {
      id: uuid(),
      actor: this.launch.actor,
      verb: { id: VERBS + verb, display: { "en-US": verb } },
      object: { objectType: "Activity", id: this.launch.activityId },
      ...(result ? { result } : {}),
      context: this.context(verb),
      timestamp: new Date(this.now()).toISOString(),
    };
  }

  // Statements go one batch after another; what is refused or lost waits for the next.
  state(verb, result) {
    this.said.add(verb);
    this.waiting.push(this.statement(verb, result));
    this.sending = this.sending.then(() => this.flush());
    return this.sending;
  }

  async flush() {
    const batch = this.waiting;
    if (!batch.length) return;
    this.waiting = [];
    try {
      const reply = await fetch(`${this.launch.endpoint}statements`, this.sent("POST", batch));
      if (!reply.ok) throw new Error(String(reply.status));
      for (const { verb } of batch) this.took.add(verb.id.slice(VERBS.length));
    } catch (fault) {
      this.waiting = [...batch, ...this.waiting];
      this.broken?.("not-sent", { why: fault.message });
    }
  }

  // Outlives the page: whoever closes the window closes it at any time.
  sent(method, content) {
    return { method, headers: { ...this.headers, "Content-Type": "application/json" }, body: JSON.stringify(content), keepalive: true };
  }

  spent() {
    return durationOf(this.now() - this.begun);
  }

  score({ score, of }) {
    return { scaled: Math.round((score / of) * 10_000) / 10_000, raw: score, min: 0, max: of };
  }

  passes({ score, of }) {
    return score / of >= (this.mastery ?? 0);
  }

  // What later sessions of the registration must not say again: only what the system took. `leaving`: what is on its way
  // is believed to arrive.
  async remember(did, leaving = false) {
    const told = leaving ? this.said : this.took;
    const was = (verb) => Boolean(this.before[verb]) || told.has(verb);
    this.before = { version: 1, done: did, completed: was("completed"), passed: was("passed") };
    await fetch(this.address("activities/state", this.stateOf(OWN_STATE)), this.sent("PUT", this.before)).catch(() => null);
  }

  // Completed once a registration, passed once; failed is said at the end, for within a session only one of both may be.
  done(all) {
    const did = all.get(this.item.key);
    if (!this.normal || !did || this.said.has("terminated")) return;
    this.tried ||= Boolean(did.of);
    if (!this.before.completed && !this.said.has("completed")) this.state("completed", { completion: true, duration: this.spent() });
    if (did.of && !this.before.passed && !this.said.has("passed") && this.passes(did)) {
      this.state("passed", { success: true, score: this.score(did), duration: this.spent() });
    }
    this.sending = this.sending.then(() => this.remember(did));
  }

  last(did) {
    if (this.normal && this.tried && !this.before.passed && !this.said.has("passed") && !this.passes(did)) {
      this.waiting.push(this.statement("failed", { success: false, score: this.score(did), duration: this.spent() }));
    }
    this.waiting.push(this.statement("terminated", { duration: this.spent() }));
    this.said.add("terminated");
  }

  // `leaving`: the page goes away, and nothing that is on its way can be waited for.
  async finish(all, leaving) {
    const did = all.get(this.item.key);
    if (!this.said.has("terminated")) this.last(did);
    if (leaving) {
      if (this.normal && did) this.remember(did, true);
    } else await this.sending;
    await this.flush();
    if (this.waiting.length) throw new LaunchFault("not-told");
    const late = ["completed", "passed"].some((verb) => this.took.has(verb) && !this.before[verb]);
    if (late && !leaving) await this.remember(did);
    return isWeb(this.data.returnURL) ? this.data.returnURL : null;
  }
}
