// Starts the worker that keeps the site on this device, tells of a newer library, and how old this one is.
const OLD = 30; // days after which a library is called old
const DAY = 86_400_000; // ms
const SAYS = {
  old: "It is more than 30 days old: look for a newer one where there is signal.",
  newer: "A newer library is ready.",
  use: "Use it",
};

// another language brings its own words
const says = (age) => ({ ...SAYS, ...age?.dataset });

export function keepWorker(document) {
  const age = document.querySelector("[data-age]");
  const built = age && Date.parse(age.querySelector("time").dateTime);
  if (age && Date.now() - built > OLD * DAY) {
    age.dataset.age = "old";
    age.querySelector("time").nextSibling.after(` ${says(age).old} `);
  }
  // the manifest lies at the site's root; under live reload there is none, and nothing is kept
  const manifest = document.querySelector("link[rel=manifest]");
  if (!manifest || !isSecureContext || !("serviceWorker" in navigator) || !("DecompressionStream" in window)) return;
  const root = manifest.href.replace(/[^/]*$/, "");
  navigator.serviceWorker
    .register(`${root}worker.js`, { scope: root, updateViaCache: "none" })
    .then((at) => {
      watchNewer(document, at);
      return at.update(); // the browser looks by itself, but only when the worker is idle
    })
    .catch(() => {}); // refused or no signal: the site works as it would without
}

function watchNewer(document, at) {
  // the region is there before its words, so that they are read out
  const region = Object.assign(document.createElement("div"), { className: "newer" });
  region.setAttribute("role", "status");
  document.querySelector("header").after(region);
  const words = says(document.querySelector("[data-age]"));
  const line = Object.assign(document.createElement("p"), { className: "newer__line", textContent: `${words.newer} `, hidden: true });
  line.dataset.newer = "";
  const use = Object.assign(document.createElement("button"), { className: "button", textContent: words.use });
  use.dataset.useNew = "";
  line.append(use);
  region.append(line);
  const show = () => {
    if (at.waiting && at.active) line.hidden = false;
  };
  show();
  at.addEventListener("updatefound", () => at.installing?.addEventListener("statechange", show));
  at.installing?.addEventListener("statechange", show);
  use.addEventListener("click", () => {
    if (!at.waiting) return location.reload();
    at.waiting.addEventListener("statechange", (event) => {
      if (event.target.state === "activated") location.reload();
    });
    at.waiting.postMessage({ ask: "use-new" });
  });
}
