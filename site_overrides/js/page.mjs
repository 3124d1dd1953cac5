// Wakes what a page has: theme switch, filter of a list, printing for the customer.
import { themeSwitch } from "./theme.mjs";
import { wakeFilter } from "./filter.mjs";
import { wakePrint } from "./print.mjs";

themeSwitch(document);
for (const form of document.querySelectorAll("form[data-filter]")) wakeFilter(form);
for (const form of document.querySelectorAll("form.filter")) {
  form.addEventListener("reset", () => setTimeout(() => form.querySelector("input").focus()));
}
wakePrint(document);
