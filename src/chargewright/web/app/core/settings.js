// What this phone remembers: theme, language, units, and what was last chosen for a new job.
import { signal, effect } from "../vendor/ui.js";

const KEY = "cw.settings";
const phone = (navigator.language || "en").toLowerCase().split("-")[0]; // English where there is no catalogue
const FRESH = { theme: "auto", language: phone, units: "metric", last: {}, name: "" };

function kept() {
  try {
    return { ...FRESH, ...JSON.parse(localStorage.getItem(KEY) || "{}") };
  } catch {
    return FRESH; // storage switched off: the page works, it only forgets
  }
}

export const settings = signal(kept());

export function change(fields) {
  settings.value = { ...settings.value, ...fields };
}

export function remember(fields) {
  change({ last: { ...settings.value.last, ...fields } });
}

effect(() => {
  const { theme, language } = settings.value;
  document.documentElement.dataset.theme = theme;
  document.documentElement.lang = language;
  try {
    localStorage.setItem(KEY, JSON.stringify(settings.value));
  } catch {
    // storage full or switched off
  }
});
