// The page of a SCORM 1.2 package: the whole list, told to the system's API object.
import { Player, loadContents } from "./player.mjs";
import { ScormRecorder, apiOf } from "./scorm12.mjs";

const page = document.querySelector("[data-player]");
const told = page.querySelector("[data-told]");

try {
  const api = apiOf(window);
  if (!api) throw new Error("no API");
  const contents = await loadContents();
  await new Player(page, { contents, items: contents.items, recorder: new ScormRecorder(api) }).start();
} catch {
  told.textContent = page.querySelector('template[data-say="no-system"]').content.textContent;
  page.dataset.ready = "";
}
