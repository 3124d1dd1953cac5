// The register of systems, as the form needs it: options to type into, and what a system is. It comes after the form.
import { searchable } from "./pick.mjs";

export class RegisterOfSystems {
  // `load(path)` fetches a data file; `nameOf(kind, key)` and `say(key, slots)` give the words.
  constructor({ load, nameOf, say }) {
    Object.assign(this, { load, nameOf, say, file: null, broken: false, options: [] });
  }

  async fetch() {
    try {
      const { keys, rows } = (await this.load("systems.json")).systems;
      this.file = { systems: rows.map((row) => Object.fromEntries(keys.map((key, i) => [key, row[i]]))) };
    } catch {
      this.broken = true;
      return;
    }
    this.byNumber = new Map(this.file.systems.map((one) => [one.system, one]));
    this.options = searchable(
      this.file.systems.map((one) => ({
        key: one.system,
        name: `${one.system} ${one.site_name}, ${one.name}`,
        also: [one.system.replace(/^S-0*/, ""), one.site],
        more: [this.kind(one), one.refrigerant, one.removed && this.say("register-removed", { when: one.removed })].filter(Boolean).join(", "),
      })),
    );
  }

  kind(one) {
    return one.kind && this.nameOf("equipment_kinds", one.kind);
  }

  // The system with this number; undefined where there is none, or nothing is known yet.
  system(number) {
    return this.byNumber?.get(number);
  }

  name(number) {
    const found = this.system(number);
    return found ? `${number}: ${found.site_name}, ${found.name}` : number;
  }

  // A line on the system: what it is, or why nothing is known of it.
  told(number, charges) {
    if (number === undefined) return this.broken ? this.say("register-broken") : "";
    if (this.broken) return this.say("register-broken");
    if (!this.file) return this.say("register-loading");
    const one = this.system(number);
    if (!one) return this.say("no-system", { number });
    const what = [one.setting && this.nameOf("settings", one.setting), this.kind(one), one.refrigerant, charges[number], one.installed];
    return this.say("register", { where: one.branch, what: what.filter(Boolean).join(", ") });
  }
}
