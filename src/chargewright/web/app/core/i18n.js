// Every word of the pages comes from one catalogue per language; English fills what one lacks. What
// the service says in English (titles, how-to, cautions) has a second catalogue, keyed by that text.
import { signal } from "../vendor/ui.js";
import { settings } from "./settings.js";

export const LANGUAGES = { en: "English", de: "Deutsch" };
const catalogues = signal({});
const spoken = signal({}); // language -> {trade words by id, texts of the service by their English}
const patterns = new Map(); // language -> [[expression, text]] for texts with a {value}

async function load(language) {
  if (catalogues.value[language]) return;
  const ours = fetch(`/app/texts/${language}.json`).then((answer) => answer.json());
  const theirs = language === "en" ? {} : fetch(`/app/texts/said/${language}.json`).then((answer) => answer.json()).catch(() => ({}));
  spoken.value = { ...spoken.value, [language]: await theirs };
  catalogues.value = { ...catalogues.value, [language]: await ours };
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

/** Return a trade word by its id, or what the service calls it where no catalogue has it. */
export function word(group, id, otherwise = id) {
  const key = `${group}.${id}`;
  return catalogues.value[settings.value.language]?.[key] ?? spoken.value[settings.value.language]?.[key]
    ?? catalogues.value.en?.[key] ?? otherwise;
}

/** Return what an ending of several repairs is called: each by its id, joined. */
export function ending(id, otherwise) {
  const parts = id.split("+").map((one) => word("repair", one, ""));
  return parts.every(Boolean) ? parts.join(t("decision.and")) : otherwise;
}

const SENTENCE = /(?<=[.!?])\s+(?=[A-Z])/;
const CHANGING = /(?<!°)\b[ABC]\b(?=[ ,.]|$)|(?<![\w.])-?\d+(?:\.\d+)?(?=\s|$|[.,;:)%])/g; // lead letters and figures

/** Return what the service says in the chosen language, sentence by sentence. */
export function said(text) {
  const known = spoken.value[settings.value.language];
  if (!text || !known) return text;
  return known[text] ?? text.split(SENTENCE).map((one) => sentence(one, known)).join(" ");
}

function sentence(text, known) {
  if (known[text]) return known[text];
  const [head, rest] = text.startsWith("A ") ? ["A ", text.slice(2)] : ["", text];
  const values = rest.match(CHANGING) ?? [];
  const found = known[head + rest.replace(CHANGING, "#")];
  if (found) return found.replace(/#/g, () => values.shift() ?? "#");
  for (const [form, words] of formsOf(known)) {
    const match = form.exec(text);
    if (match) return words.replace(/\{(\w+)\}/g, (whole, name) => filled(match.groups[name], known));
  }
  return text;
}

/** Return what stands in a place of a text: a text of its own, or a figure with its unit. */
const filled = (value, known) => known[value] ?? value.replace(/\bohm\b/, "Ω").replace(" to ", " bis ").replace(" times", "-mal");

function formsOf(known) {
  const language = settings.value.language;
  if (!patterns.has(language)) {
    const escaped = (key) => key.replace(/[.*+?^$()|[\]\\]/g, "\\$&").replace(/\{(\w+)\}/g, "(?<$1>.+?)");
    patterns.set(language, Object.entries(known).filter(([key]) => key.includes("{value}"))
      .map(([key, words]) => [new RegExp(`^${escaped(key)}$`), words]));
  }
  return patterns.get(language);
}
