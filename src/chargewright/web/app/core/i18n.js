// Every word of the pages comes from one catalogue per language; English fills what one lacks. What
// the service says in English (how-to, cautions, reasons) is found there by that text, as
// texts/speech.py of the service finds it.
import { signal } from "../vendor/ui.js";
import { settings } from "./settings.js";

const ENGLISH = "en";
const catalogues = signal({}); // language -> { app, titles, said, figures }
const forms = new Map(); // language -> [[expression, text]] for texts with places to fill

export const languages = () => catalogues.value[ENGLISH]?.languages ?? {};

async function load(language) {
  if (catalogues.value[language]) return;
  const answer = await fetch(`/app/texts/${language}.json`);
  catalogues.value = { ...catalogues.value, [language]: await answer.json() };
}

export async function loadTexts() {
  await load(ENGLISH);
  const { language } = settings.value;
  if (!(language in languages())) settings.value = { ...settings.value, language: ENGLISH };
  else await load(language);
  installedAs();
}

export async function speak(language) {
  await load(language);
  settings.value = { ...settings.value, language };
  installedAs();
}

/** The name and description under which a phone installs the app, in its language. */
function installedAs() {
  document.querySelector("link[rel=manifest]")?.setAttribute("href", `/app/texts/${settings.value.language}.webmanifest`);
}

const spoken = () => catalogues.value[settings.value.language] ?? catalogues.value[ENGLISH];

/** Return a text with its {names} filled in. A key that is missing shows itself. */
export function t(key, fill = {}) {
  const text = spoken()?.app[key] ?? catalogues.value[ENGLISH]?.app[key] ?? key;
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in fill ? String(fill[name]) : whole));
}

/** Return a trade word by its id, or what the service calls it where no catalogue has it. */
export function word(group, id, otherwise = id) {
  const key = `${group}.${id}`;
  const own = spoken();
  return own?.app[key] ?? own?.titles[key] ?? catalogues.value[ENGLISH]?.app[key] ?? otherwise;
}

/** Return what an ending of several repairs is called: each by its id, joined. */
export function ending(id, otherwise) {
  const parts = id.split("+").map((one) => word("repair", one, ""));
  return parts.every(Boolean) ? parts.join(t("decision.and")) : otherwise;
}

const SENTENCE = /(?<=[.!?])\s+(?=[A-Z])/;
const CHANGING = /(?<!°)\b[ABC]\b(?=[ ,.]|$)|(?<![\w.])-?\d+(?:\.\d+)?(?=\s|$|[.,;:)%])/g; // lead letters and figures
const PLACE = /\{(\w+)\}/g;

/** Return what the service says in the chosen language, sentence by sentence. */
export function said(text) {
  if (!text || settings.value.language === ENGLISH) return text;
  const known = spoken().said;
  return known[text] ?? text.split(SENTENCE).map((one) => sentence(one, known)).join(" ");
}

function sentence(text, known) {
  const found = known[text] ?? numbered(text, known) ?? both(text, known) ?? listed(text, known);
  if (found) return found;
  for (const [form, words] of formsOf(known)) {
    const match = form.exec(text);
    if (match) return words.replace(PLACE, (whole, name) => filled(match.groups[name]));
  }
  return text;
}

function numbered(text, known) {
  const [head, rest] = text.startsWith("A ") ? ["A ", text.slice(2)] : ["", text]; // an article is no lead
  const values = rest.match(CHANGING);
  return values && known[head + rest.replace(CHANGING, "#")]?.replace(/#/g, () => figured(values.shift()));
}

/** Return two known texts joined by "and", as the titles of a pair of repairs are. */
function both(text, known) {
  const parts = text.split(" and ");
  for (let place = 1; place < parts.length; place += 1) {
    const [first, second] = [parts.slice(0, place), parts.slice(place)].map((one) => known[one.join(" and ")]);
    if (first && second) return `${first}${figured(" and ")}${second}`;
  }
  return null;
}

/** Return a list of known texts, as the title of a reading of one's own is one. */
function listed(text, known) {
  const parts = text.split(", ");
  const told = [];
  for (let start = 0, end; start < parts.length && parts.length > 1; start = end) {
    let found = null;
    for (end = parts.length; end > start; end -= 1) { // a test point's name has commas too
      found = whole(parts.slice(start, end).join(", "), known);
      if (found) break;
    }
    if (!found) return null;
    told.push(found);
  }
  return told.length ? told.join(", ") : null;
}

/** Return a text that is known with everything in its places; null for any other. */
function whole(text, known) {
  if (known[text]) return known[text];
  for (const [form, words] of formsOf(known)) {
    const groups = form.exec(text)?.groups;
    if (groups && Object.values(groups).every((one) => known[one] || /^-?\d+(\.\d+)?$/.test(one))) return words.replace(PLACE, (_, name) => filled(groups[name]));
  }
  return null;
}

/** Return what stands in a place of a text: a text of its own, or a figure; what is quoted was typed and stays. */
function filled(value) {
  if (/^['"]/.test(value)) return value;
  const words = said(value);
  return words === value && /\d|^\w?ohm$/.test(value) ? figured(value) : words;
}

const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");

/** Return the texts with places, the most particular first; a place named n holds one word. */
function formsOf(known) {
  const { language } = settings.value;
  if (!forms.has(language)) {
    const size = (key) => key.replace(PLACE, "").length;
    const keys = Object.keys(known).filter((key) => /\{\w+\}/.test(key)).sort((a, b) => size(b) - size(a) || (a < b ? -1 : 1));
    const made = (key) => key.split(PLACE).map((part, index) => (index % 2 ? `(?<${part}>${/^n\d*$/.test(part) ? "\\S+" : ".+?"})` : escaped(part))).join("");
    forms.set(language, keys.map((key) => [new RegExp(`^${made(key)}$`), known[key]]));
  }
  return forms.get(language);
}

/** Return a figure the service wrote ("8.8 to 11.1 V", "22.0 kohm") as this language writes it. */
export function figured(text) {
  const { words, decimal, percent } = spoken()?.figures ?? {};
  if (!words) return text;
  const known = Object.keys(words).sort((a, b) => b.length - a.length || (a < b ? -1 : 1)).map(escaped).join("|");
  return text.replace(new RegExp(`(?<![A-Za-z])(?:${known})(?![A-Za-z])`, "g"), (found) => words[found])
    .replace(/(?<![\w.])(-?\d+)\.(\d+)(?!\w*\.\w)/g, `$1${decimal}$2`).replace(/(?<=\d)%/g, percent);
}

/** Return the sign that parts whole and broken figures. */
export const decimal = () => spoken()?.figures?.decimal ?? ".";
