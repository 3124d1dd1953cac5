// A draft as one ZIP, and its way out of this phone: given on where the phone can, else saved as a file.

const LINK_LASTS = 60_000; // ms; a slow phone still reads the file after the press

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

function download(file) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = file.name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), LINK_LASTS);
}

// "shared", "file", or "kept" where the person thought better of it.
export async function passOn(file, share, title) {
  if (share && navigator.canShare?.({ files: [file] })) {
    try {
      await navigator.share({ files: [file], title });
      return "shared";
    } catch (fault) {
      if (fault.name === "AbortError") return "kept";
    }
  }
  download(file);
  return "file";
}
