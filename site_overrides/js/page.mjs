// Wakes what a page has: theme switch, filter of a list, printing for the customer, a page of the work bench.
import { themeSwitch } from "./theme.mjs";
import { wakeFilter } from "./filter.mjs";
import { wakePrint } from "./print.mjs";
import { keepWorker } from "./keep/register.mjs";

themeSwitch(document);
for (const form of document.querySelectorAll("form[data-filter]")) wakeFilter(form);
for (const form of document.querySelectorAll("form.filter")) {
  form.addEventListener("reset", () => setTimeout(() => form.querySelector("input").focus()));
}
wakePrint(document);
keepWorker(document);
for (const bench of document.querySelectorAll("[data-bench]")) import("./bench/wake.mjs").then(({ wakeBench }) => wakeBench(bench));
