// A draft as one ZIP, and its way out of this phone: given on where the phone can, else saved as a file.
import { giveFile } from "../give.mjs";

// The record's text with the draft's name below its first line: by it whoever takes it in knows a draft that comes again.
export function markedDraft(yaml, name) {
  const [first, ...rest] = yaml.split("\n");
  return [first, `# from: ${name}`, ...rest].join("\n");
}

// `photo(file)` gives what is kept of a photo; `zip(files, day)` packs.
export async function packedDraft(record, name, yaml, { photo, zip, day }) {
  const files = [{ name: "case.yaml", bytes: new TextEncoder().encode(yaml) }];
  for (const { file } of record.photos ?? []) {
    const kept = await photo(file);
    if (kept) files.push({ name: `photos/${file}`, bytes: new Uint8Array(await kept.blob.arrayBuffer()) });
  }
  return new File([zip(files, day)], `${name}.zip`, { type: "application/zip" });
}

export function passOn(file, share, title) {
  return giveFile(file, share ? [{ files: [file], title }] : []);
}
