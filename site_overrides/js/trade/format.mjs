// Numbers as Python's format() writes them, ties to the even digit: texts of both sides have to be equal.

// [digits, exponent] of a positive number: the value is 0.DIGITS times ten to the exponent, `count` digits.
// A hundred digits from toExponential tell a tie from what lies a hair above it.
function decimal(value, count) {
  const [mantissa, power] = value.toExponential(100).split("e");
  const all = mantissa.replace(".", "");
  let exponent = Number(power) + 1;
  if (count < 0) return ["", exponent];
  const rest = all.slice(count);
  let kept = all.slice(0, count);
  const half = "5".padEnd(rest.length, "0");
  const odd = Number(kept.at(-1) ?? 0) % 2 === 1;
  if (rest > half || (rest === half && odd)) {
    kept = (BigInt(kept || 0) + 1n).toString().padStart(count, "0");
    if (kept.length > count) exponent += 1;
  }
  return [kept, exponent];
}

function special(value) {
  if (Number.isNaN(value)) return "nan";
  return value > 0 ? "inf" : "-inf";
}

// `value:.{digits}g`
export function general(value, digits = 6) {
  const number = Number(value);
  if (!Number.isFinite(number)) return special(number);
  if (number === 0) return Object.is(number, -0) ? "-0" : "0";
  const sign = number < 0 ? "-" : "";
  const [found, exponent] = decimal(Math.abs(number), digits);
  const figures = found.slice(0, digits).replace(/0+$/, "");
  const power = exponent - 1;
  if (power < -4 || power >= digits) {
    const tail = figures.length > 1 ? `.${figures.slice(1)}` : "";
    return `${sign}${figures[0]}${tail}e${power < 0 ? "-" : "+"}${String(Math.abs(power)).padStart(2, "0")}`;
  }
  if (power < 0) return `${sign}0.${"0".repeat(-exponent)}${figures}`;
  const whole = figures.slice(0, exponent).padEnd(exponent, "0");
  const tail = figures.slice(exponent);
  return `${sign}${whole}${tail ? `.${tail}` : ""}`;
}

// `value:.{places}f`
export function fixed(value, places = 0) {
  const number = Number(value);
  if (!Number.isFinite(number)) return special(number);
  const sign = number < 0 || Object.is(number, -0) ? "-" : "";
  let figures = "0";
  if (number !== 0) {
    const size = Math.abs(number);
    const power = Number(size.toExponential(100).split("e")[1]) + 1;
    figures = decimal(size, power + places)[0] || "0";
  }
  const padded = figures.padStart(places + 1, "0");
  const cut = padded.length - places;
  return sign + padded.slice(0, cut) + (places ? `.${padded.slice(cut)}` : "");
}

// `value:,.0f`
export function grouped(value) {
  return fixed(value, 0).replace(/\B(?=(\d{3})+$)/g, ",");
}
