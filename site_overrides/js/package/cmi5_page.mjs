// Launch page of a cmi5 package: one item, named by ?item=, told to the endpoint of the launch.
import { Player, loadContents } from "./player.mjs";
import { Cmi5Recorder, LaunchFault, launchOf, narrow } from "./cmi5.mjs";

const page = document.querySelector("[data-player]");
const say = (key) => page.querySelector(`template[data-say="${key}"]`).content.textContent;
const told = page.querySelector("[data-told]");

try {
  const contents = await loadContents();
  const wanted = new URL(location.href).searchParams.get("item");
  const items = contents.items.filter(({ key }) => key === wanted);
  if (!items.length) throw new LaunchFault("item");
  const launch = launchOf(location.href);
  narrow(document, launch);
  await new Player(page, { contents, items, recorder: new Cmi5Recorder(launch) }).start();
} catch (fault) {
  told.textContent = fault instanceof LaunchFault ? say(fault.message === "token" ? "no-token" : "no-launch").replace("{what}", fault.message) : say("no-system");
  page.dataset.ready = "";
}
