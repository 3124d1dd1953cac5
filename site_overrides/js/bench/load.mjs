// Fetches what the bench computes with. Relative addresses only, so it works on any host and without signal once kept.
export class Unreachable extends Error {}

// `missing`: what to give where the server has no such file; without it that is an error.
export async function load(root, name, version, { missing } = {}) {
  let answer;
  try {
    answer = await fetch(`${root}data/${name}.json`);
  } catch {
    throw new Unreachable("The figures could not be loaded: no connection, or this page was opened as a file.");
  }
  if (answer.status === 404 && missing !== undefined) return missing;
  if (!answer.ok) throw new Unreachable(`The figures could not be loaded: the server answered ${answer.status}.`);
  let content;
  try {
    content = await answer.json();
  } catch {
    throw new Unreachable("The figures came in pieces. Load the page again.");
  }
  if (content.version !== version) {
    throw new Unreachable("This page and its figures are of different editions. Load the page again; if that does not help, clear what this device keeps of the site.");
  }
  return content;
}

// The record of a table { keys, rows } whose first value is this; null where there is none.
export function recordOf({ keys, rows }, first) {
  const row = rows.find((one) => one[0] === first);
  return row ? Object.fromEntries(keys.map((key, i) => [key, row[i]])) : null;
}
