// Form fields with large targets and their label in reach.
import { html, useLayoutEffect, useRef } from "../vendor/ui.js";

const FITS = 26; // letters of a choice that a phone shows without cutting them off

export function Choice({ label, value, options, onChange, none, hint }) {
  const list = useRef();
  const chosen = options.find(([id]) => id === value)?.[1] ?? "";
  useLayoutEffect(() => { list.current.value = value ?? ""; }); // options may arrive after the value
  return html`<label class="field">${label}<select ref=${list} onChange=${(e) => onChange(e.target.value)}>
    ${none !== undefined && html`<option value="">${none}</option>`}
    ${options.map(([id, words]) => html`<option key=${id} value=${id}>${words}</option>`)}</select>
    ${chosen.length > FITS && html`<span class="small in-full" aria-hidden="true">${chosen}</span>`}
    ${hint && html`<span class="small soft">${hint}</span>`}</label>`;
}

export function Text({ label, value, onInput, hint, unit, numeric, ...more }) {
  const words = unit ? `${label} (${unit})` : label;
  return html`<label class="field">${words}<input value=${value ?? ""} inputmode=${numeric ? "decimal" : undefined} autocomplete="off" onInput=${(e) => onInput(e.target.value)} ...${more} />
    ${hint && html`<span class="small soft">${hint}</span>`}</label>`;
}

export function Tick({ label, value, onChange }) {
  return html`<label class="tick"><input type="checkbox" checked=${Boolean(value)} onChange=${(e) => onChange(e.target.checked)} /><span>${label}</span></label>`;
}

/** One of a few, all seen at once. */
export function Segments({ label, value, options, onChange }) {
  return html`<fieldset><legend>${label}</legend><div class="segments">${options.map(([id, words]) => html`
    <button type="button" key=${id} aria-pressed=${String(id === value)} data-value=${id} onClick=${() => onChange(id)}>${words}</button>`)}</div></fieldset>`;
}
