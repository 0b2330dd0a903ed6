// A short word at the foot of the page; it goes by itself, and screen readers hear it.
import { html, signal } from "../vendor/ui.js";
import { t } from "../core/i18n.js";
import { Unreachable } from "../core/api.js";

const shown = signal([]);
let number = 0;

export function say(text, { action, label, forMs = 6000 } = {}) {
  const id = ++number;
  shown.value = [...shown.value.slice(-2), { id, text, action, label }];
  setTimeout(() => drop(id), forMs);
}

export const complain = (error) => {
  if (!(error instanceof Unreachable) && !error.status) console.error(error);
  say(wordsOf(error), { forMs: 9000 });
};

export const wordsOf = (error) => (error instanceof Unreachable ? t("line.unreachable") : error.message);

const drop = (id) => { shown.value = shown.value.filter((one) => one.id !== id); };

export function Toasts() {
  return html`<div class="toasts" role="status" aria-live="polite">
    ${shown.value.map((one) => html`<div key=${one.id}>${one.text}
      ${one.action && html`<button onClick=${() => { drop(one.id); one.action(); }}>${one.label}</button>`}</div>`)}
  </div>`;
}
