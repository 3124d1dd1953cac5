// Days, months and years as a record writes them; as text they stand in the order of the calendar.

const DAY = /^[0-9]{4}-[0-9]{2}-[0-9]{2}$/;

function monthLength(year, month) {
  if (month === 2) return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28;
  return [4, 6, 9, 11].includes(month) ? 30 : 31;
}

// Is it a day that exists, written YYYY-MM-DD?
export function isDay(text) {
  if (!DAY.test(text)) return false;
  const [year, month, day] = text.split("-").map(Number);
  return year >= 1 && month >= 1 && month <= 12 && day >= 1 && day <= monthLength(year, month);
}

// Is it a year, a month or a day that exists?
export const isPartialDay = (text) => ["-01-01", "-01", ""].some((rest) => isDay(text + rest));

// First day that a year, a month or a day can mean.
export const firstDay = (written) => (written + "-01-01").slice(0, 10);

// Last day that it can mean.
export function lastDay(written) {
  if (written.length === 10) return written;
  const month = written.length === 7 ? written : `${written}-12`;
  return `${month}-${monthLength(...month.split("-").map(Number))}`;
}
