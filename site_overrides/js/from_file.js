// For a site that is opened from a folder or a share: browsers load no modules there, and a folder has no front page.
{
  const root = new URL("../", document.currentScript.src).href;
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (link?.href.startsWith(root) && link.pathname.endsWith("/")) link.pathname += "index.html";
  }, true);

  const say = () => {
    const words = document.querySelector("[data-age]")?.dataset ?? {}; // another language brings its own
    const told = document.createElement("aside");
    told.className = "banner";
    const title = document.createElement("h2");
    title.className = "banner__title";
    title.textContent = words.file ?? "Opened as a file";
    const text = document.createElement("p");
    text.textContent = words.fileTells ?? "Guide, cases, patterns and sheets can be read. The search, the form, exercises, your own values "
      + "on the work bench and keeping it on a phone need this site on a web server.";
    told.append(title, text);
    document.querySelector("main")?.before(told);
  };
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", say);
  else say();
}
