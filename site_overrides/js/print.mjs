// Prints a part of the page alone: data-print on html names it for the style sheets, until it is printed.
export function wakePrint(document) {
  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      document.documentElement.dataset.print = button.dataset.print;
      window.print();
    });
  }
  window.addEventListener("afterprint", () => {
    delete document.documentElement.dataset.print;
  });
}
