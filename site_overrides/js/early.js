// Runs before the page is drawn, so that a kept choice of light or dark does not flash and an answer has its room.
try {
  const theme = localStorage.getItem("leaklore-theme");
  if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
} catch {
  // storage refused: as the device says
}
if (location.protocol !== "file:") {
  document.documentElement.dataset.asked = /[?&](?:q|did)=/.test(location.search) ? "yes" : "no";
} else {
  const more = document.createElement("script");
  more.src = new URL("from_file.js", document.currentScript.src).href;
  document.head.append(more);
}
