// The number pad: large keys for gloves, units at hand, and the bands with the reading in them.
// A keyboard works too: digits, comma or point, minus, Backspace, Enter.
import { html, useEffect, useRef, useState } from "../vendor/ui.js";
import { decimal, t } from "../core/i18n.js";
import { UNITS, UNIT_SIGNS, blank, pressed, textOf, valueOf } from "../core/typing.js";
import { Bands } from "./bands.js";
import { Icon } from "./icons.js";

const KEYS = ["7", "8", "9", "back", "4", "5", "6", "-", "1", "2", "3", "to", "0", ".", "OL", "about"];
const TYPED = { ",": ".", Backspace: "back", Delete: "clear", "~": "about", ">": "over", "<": "under" };

export function Pad({ func, expected, unit, start, onEnter, busy, label }) {
  const units = UNITS[func] ?? ["V"];
  const [pad, setPad] = useState(() => blank(start ?? units[0]));
  const box = useRef();
  const press = (key) => setPad((held) => pressed(held, key));
  const text = textOf(pad);
  const enter = () => text && !busy && onEnter(text);
  const onKey = (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Enter" && event.target.tagName !== "BUTTON") { event.preventDefault(); enter(); return; }
    const key = TYPED[event.key] ?? event.key;
    if (/^[\d.\-]$/.test(key) || TYPED[event.key]) { event.preventDefault(); press(key); }
  };
  useEffect(() => box.current?.focus({ preventScroll: true }), []);
  return html`<div class="pad stack" onKeyDown=${onKey}>
    <div class="display" tabindex="0" autofocus=${true} ref=${box} role="textbox" aria-readonly="true" aria-label=${label ?? t("pad.label")}
      aria-describedby="pad-hint"><output aria-live="polite">${shown(pad) || html`<span class="soft">${t("pad.empty")}</span>`}</output></div>
    <p id="pad-hint" class="hidden">${t("pad.hint")}</p>
    <div class="keys">${KEYS.map((key) => html`<button key=${key} type="button" class=${/^\d$/.test(key) ? "digit" : "other"} data-key=${key}
        aria-pressed=${key === "OL" ? String(pad.special === "OL") : key === "about" ? String(pad.head === "about") : undefined}
        aria-label=${t(`pad.key.${key}`) === `pad.key.${key}` ? undefined : t(`pad.key.${key}`)} onClick=${() => press(key)}>${face(key)}</button>`)}</div>
    <div class="segments" role="group" aria-label=${t("pad.unit")}>
      ${units.map((one) => html`<button type="button" key=${one} data-unit=${one} aria-pressed=${String(pad.unit === one)}
        onClick=${() => setPad({ ...pad, unit: one })}>${UNIT_SIGNS[one]}</button>`)}
      ${["over", "under"].map((head) => html`<button type="button" key=${head} class="other" aria-pressed=${String(pad.head === head)} aria-label=${t(`pad.key.${head}`)}
        onClick=${() => press(head)}>${head === "over" ? ">" : "<"}</button>`)}
      ${(func === "ohm" || func === "diode") && html`<button type="button" class="other" aria-pressed=${String(pad.special === "beep")} onClick=${() => press("beep")}>${t("pad.beep")}</button>`}
    </div>
    <button type="button" class="main enter" id="pad-enter" disabled=${!text || busy} onClick=${enter}><${Icon} name="good" />${busy ? t("pad.busy") : t("pad.enter")}</button>
    ${expected?.length > 0 && html`<div class="card stack tight"><h3>${t("bands.title")}</h3><${Bands} bands=${expected} unit=${unit} value=${valueOf(pad)} /></div>`}
  </div>`;
}

function face(key) {
  if (key === "back") return "⌫";
  if (key === "-") return "±";
  if (key === ".") return decimal();
  if (key === "to") return t("pad.face.to");
  return key === "about" ? "≈" : key;
}

function shown(pad) {
  if (pad.special) return pad.special === "OL" ? "OL" : t("pad.beep");
  if (!pad.figure) return "";
  const head = { about: "≈ ", over: "> ", under: "< " }[pad.head] ?? "";
  const figure = pad.figure.replace(" to ", " … ");
  return `${head}${figure.replaceAll(".", decimal())} ${UNIT_SIGNS[pad.unit]}`;
}
