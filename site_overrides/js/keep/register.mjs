// Starts the worker that keeps the site on this device, tells of a newer library, and how old this one is.
const OLD = 30; // days after which a library is called old
const DAY = 86_400_000; // ms

export function keepWorker(document) {
  const age = document.querySelector("[data-age]");
  const built = age && Date.parse(age.querySelector("time").dateTime);
  if (age && Date.now() - built > OLD * DAY) {
    age.dataset.age = "old";
    age.querySelector("[data-old]").hidden = false;
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
  const line = document.querySelector("[data-newer]");
  const show = () => {
    if (at.waiting && at.active) line.hidden = false;
  };
  show();
  at.addEventListener("updatefound", () => at.installing?.addEventListener("statechange", show));
  at.installing?.addEventListener("statechange", show);
  line.querySelector("[data-use-new]").addEventListener("click", () => {
    if (!at.waiting) return location.reload();
    at.waiting.addEventListener("statechange", (event) => {
      if (event.target.state === "activated") location.reload();
    });
    at.waiting.postMessage({ ask: "use-new" });
  });
}
