// In a package, folders have no index, and only some pages are there: links that a script makes to a page are led to
// its file, or become plain text where the page is not part of the course.

const TOP = new URL("../../", import.meta.url);
const pages = fetch(new URL("contents.json", TOP)).then((reply) => reply.json()).then((contents) => new Set(contents.pages));

document.addEventListener("click", async (event) => {
  const link = event.target instanceof Element ? event.target.closest("a[href]") : null;
  const to = link && !link.getAttribute("href").startsWith("#") ? new URL(link.href) : null;
  if (!to || !to.href.startsWith(TOP.href) || !(to.pathname.endsWith("/") || to.search)) return;
  event.preventDefault();
  if (to.pathname.endsWith("/")) to.pathname += "index.html";
  const reached = await pages.catch(() => new Set());
  if (reached.has(decodeURIComponent(to.pathname.slice(TOP.pathname.length) + to.search))) location.assign(to);
  else link.replaceWith(`${link.textContent} (not part of this course)`);
});
