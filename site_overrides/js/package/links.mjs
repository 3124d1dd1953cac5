// In a package, folders have no index, and only some pages are there: links that a script makes to a page are led to
// its file, or become plain text where the page is not part of the course.

const TOP = new URL("../../", import.meta.url);
const pages = fetch(new URL("contents.json", TOP)).then((reply) => reply.json()).then((contents) => new Set(contents.pages));

document.addEventListener("click", async (event) => {
  const link = event.target instanceof Element ? event.target.closest("a[href]") : null;
  const to = link ? new URL(link.href) : null;
  if (!to || !to.href.startsWith(TOP.href) || !to.pathname.endsWith("/")) return;
  event.preventDefault();
  to.pathname += "index.html";
  const inside = await pages.catch(() => new Set());
  if (inside.has(decodeURIComponent(to.pathname.slice(TOP.pathname.length)))) location.assign(to);
  else link.replaceWith(`${link.textContent} (not part of this course)`);
});
