// Calendar days as "2026-03-01", without clocks and time zones.
import { TradeError } from "./units.mjs";

const DAY = 86_400_000;
const FORM = /^(\d{4})-(\d{2})-(\d{2})$/;

const text = (time) => new Date(time).toISOString().slice(0, 10);

// The same text if it names a day of the calendar.
export function day(field, written) {
  const form = FORM.exec(String(written ?? ""));
  const time = form ? Date.UTC(Number(form[1]), form[2] - 1, Number(form[3])) : NaN;
  if (!form || form[1] < "0100" || text(time) !== written) {
    throw new TradeError(`${field} "${written ?? ""}" is not a day; write it as 2026-03-31`, field);
  }
  return written;
}

export function plusDays(written, days) {
  return text(Date.parse(`${written}T00:00Z`) + Math.trunc(days) * DAY);
}

// The same day of a later month, or that month's last where it is shorter.
export function plusMonths(written, months) {
  const [year, month, date] = written.split("-").map(Number);
  const last = new Date(Date.UTC(year, month + months, 0));
  return text(Date.UTC(last.getUTCFullYear(), last.getUTCMonth(), Math.min(date, last.getUTCDate())));
}

export function yearEnd(year, month, date) {
  return `${String(year).padStart(4, "0")}-${String(month).padStart(2, "0")}-${String(date).padStart(2, "0")}`;
}
