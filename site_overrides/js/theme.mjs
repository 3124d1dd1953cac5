// Light, dark or as the device says; kept on this device where storage is allowed.
const WORDS = { auto: "As device", light: "Light", dark: "Dark" };
const NEXT = { auto: "light", light: "dark", dark: "auto" };

function stored() {
  try {
    return localStorage.getItem("leaklore-theme") ?? "auto";
  } catch {
    return "auto";
  }
}

function keep(theme) {
  try {
    localStorage.setItem("leaklore-theme", theme);
  } catch {
    // storage refused: the choice lasts for this page
  }
}

export function themeSwitch(document) {
  const button = document.querySelector("[data-theme-switch]");
  const word = button?.querySelector("[data-theme-word]");
  const words = { ...WORDS, ...button?.dataset }; // another language brings its own
  let theme = stored() in WORDS ? stored() : "auto";
  const show = () => {
    if (theme === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = theme;
    if (word) word.textContent = words[theme];
  };
  show();
  if (!button) return;
  button.hidden = false;
  button.addEventListener("click", () => {
    theme = NEXT[theme];
    keep(theme);
    show();
  });
}
