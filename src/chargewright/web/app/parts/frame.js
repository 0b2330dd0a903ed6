// The bar at the top of every page, and what it tells about the line to the service.
import { html, useEffect, useRef, useState } from "../vendor/ui.js";
import { t } from "../core/i18n.js";
import { link } from "../core/router.js";
import { queue, reached, unsent, troubled } from "../core/queue.js";
import { Icon } from "./icons.js";

export function Page({ title, under, back, actions, children, wide }) {
  const main = useRef();
  useEffect(() => {
    document.title = `${title} · Chargewright`;
  }, [title]);
  useEffect(() => main.current?.focus({ preventScroll: true }), []);
  return html`<header class="top">
      ${back
        ? html`<a class="button" href=${back} aria-label=${t("top.back")}><${Icon} name="back" /></a>`
        : html`<a class="button" href=${link("menu")} aria-label=${t("top.menu")}><${Icon} name="menu" /></a>`}
      <h1>${title}${under && html`<small>${under}</small>`}</h1>
      <${LineState} />
      ${actions}
    </header>
    <main tabindex="-1" ref=${main} class=${wide ? "wide" : ""}>${children}</main>`;
}

function LineState() {
  const waiting = unsent.value.length;
  if (reached.value && !queue.value.length) return null;
  const words = !reached.value ? t("line.off") : "";
  return html`<a class="button line-state" id="line-state" href=${link("unsent")}
      aria-label=${`${words} ${t("line.waiting", { n: waiting + troubled.value.length })}`}>
    <${Icon} name=${reached.value ? "send" : "cut"} />${waiting + troubled.value.length || ""}</a>`;
}

const LONG_MS = 4000;

/** Say that something is under way; `long` is added when it takes longer than usual. */
export function Waits({ words, long }) {
  const [late, setLate] = useState(false);
  useEffect(() => {
    const clock = setTimeout(() => setLate(true), LONG_MS);
    return () => clearTimeout(clock);
  }, []);
  return html`<div class="card soft" role="status"><p>${words ?? t("wait.loading")}</p>${late && long && html`<p class="small">${long}</p>`}</div>`;
}

export function Care({ children, title }) {
  return html`<div class="card care stack tight">${title && html`<h3 class="row"><${Icon} name="care" />${title}</h3>`}${children}</div>`;
}
