// The bar at the top of every page, and what it tells about the line to the service.
import { html, useEffect, useRef } from "../vendor/ui.js";
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

export function Waits({ words }) {
  return html`<p class="card soft" role="status">${words ?? t("wait.loading")}</p>`;
}

export function Care({ children, title }) {
  return html`<div class="card care stack tight">${title && html`<h3 class="row"><${Icon} name="care" />${title}</h3>`}${children}</div>`;
}
