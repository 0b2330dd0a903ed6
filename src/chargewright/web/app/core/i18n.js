// Every word of the pages comes from one catalogue per language; English fills what one lacks.
import { signal } from "../vendor/ui.js";
import { settings } from "./settings.js";

export const LANGUAGES = { en: "English", de: "Deutsch" };
const catalogues = signal({});

async function load(language) {
  if (catalogues.value[language]) return;
  const answer = await fetch(`/app/texts/${language}.json`);
  catalogues.value = { ...catalogues.value, [language]: await answer.json() };
}

export async function loadTexts() {
  await load("en");
  if (settings.value.language !== "en") await load(settings.value.language);
}

export async function speak(language) {
  await load(language);
  settings.value = { ...settings.value, language };
}

/** Return a text with its {names} filled in. A key that is missing shows itself. */
export function t(key, fill = {}) {
  const text = wording(key) ?? key;
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in fill ? String(fill[name]) : whole));
}

function wording(key) {
  return catalogues.value[settings.value.language]?.[key] ?? catalogues.value.en?.[key];
}

/** Return a trade word by its id, or what the server calls it where the catalogue has none. */
export function word(group, id, otherwise = id) {
  return wording(`${group}.${id}`) ?? otherwise;
}
