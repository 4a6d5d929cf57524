// On every page: light or dark, the language, words that are told aloud.

export const words = JSON.parse(document.body.dataset.words);

const YEAR = 365 * 24 * 3600;

export function tell(text) {
  document.getElementById("told").textContent = text;
}

function keep(name, value) {
  document.cookie = `${name}=${value}; path=/; max-age=${YEAR}; samesite=strict`;
}

document.getElementById("theme")?.addEventListener("click", () => {
  const page = document.documentElement;
  const dark = page.dataset.theme ? page.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  page.dataset.theme = dark ? "light" : "dark";
  keep("theme", page.dataset.theme);
  document.dispatchEvent(new CustomEvent("theme"));
});

document.getElementById("language")?.addEventListener("change", (event) => {
  keep("language", event.target.value);
  location.reload();
});

// An element with its properties, attributes and content.
export const make = (tag, about = {}, ...inside) => {
  const one = document.createElement(tag);
  for (const [name, value] of Object.entries(about)) {
    if (name in one && name !== "list") one[name] = value;
    else one.setAttribute(name, value);
  }
  one.append(...inside);
  return one;
};
