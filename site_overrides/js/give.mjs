// How a file leaves the page: passed on to another app where the device can, else saved.

const BLOB_LASTS = 60_000; // ms; a slow phone still reads the file after the press

export function saveFile(file) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = file.name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), BLOB_LASTS);
}

// "shared", "kept" where the person thought better of it, or "file". `forms`: what to share, the best first.
export async function giveFile(file, forms) {
  for (const what of forms) {
    if (!navigator.canShare?.(what)) continue;
    try {
      await navigator.share(what);
      return "shared";
    } catch (fault) {
      if (fault.name === "AbortError") return "kept";
    }
  }
  saveFile(file);
  return "file";
}
