// Everything else the program does, one tap from anywhere.
import { html, useState, useEffect } from "../vendor/ui.js";
import { get, remove } from "../core/api.js";
import { known } from "../core/known.js";
import { languages, speak, t } from "../core/i18n.js";
import { link } from "../core/router.js";
import { change, settings } from "../core/settings.js";
import { Segments } from "../parts/fields.js";
import { Page } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { complain } from "../parts/toast.js";

const PLACES = [["jobs", "readings"], ["new", "add"], ["machines", "scooter"], ["would-read", "wave"], ["energy", "battery"], ["workshop", "wrench"], ["settings", "phone"], ["unsent", "send"]];

export function MenuPage() {
  return html`<${Page} title=${t("menu.title")} back=${link("jobs")}><ul class="list menu">
    ${PLACES.map(([place, icon]) => html`<li key=${place}><a href=${link(place)}><span class="row"><${Icon} name=${icon} /><span class="grow"><strong>${t(`menu.${place}`)}</strong><br /><span class="small soft">${t(`menu.${place}.under`)}</span></span></span></a></li>`)}
  </ul></${Page}>`;
}

export function SettingsPage() {
  const held = settings.value;
  const service = known("/service").value;
  return html`<${Page} title=${t("settings.title")} back=${link("menu")}><div class="stack">
    <section class="card stack">
      <${Segments} label=${t("settings.theme")} value=${held.theme} options=${["auto", "light", "dark", "sun"].map((one) => [one, t(`theme.${one}`)])} onChange=${(v) => change({ theme: v })} />
      <${Segments} label=${t("settings.language")} value=${held.language} options=${Object.entries(languages())} onChange=${speak} />
      <${Segments} label=${t("settings.units")} value=${held.units} options=${["metric", "us"].map((one) => [one, t(`units.${one}`)])} onChange=${(v) => change({ units: v, last: { ...held.last, ambient: undefined } })} />
    </section>
    <${NextPhone} />
    <section class="card stack tight"><h2>${t("settings.about")}</h2>
      <p>Chargewright ${service?.program ?? service?.version ?? ""}</p><p>${t("app.about")}</p><p>${t("care.maker")}</p>
      <a href="/app/vendor/LICENSES.txt">${t("settings.licences")}</a></section></div></${Page}>`;
}

function NextPhone() {
  const [pair, setPair] = useState(null);
  useEffect(() => { get("/pair").then(setPair).catch(() => setPair({})); }, []);
  if (!pair) return null;
  return html`<section class="card stack tight"><h2>${t("pair.next")}</h2>
    ${pair.code ? html`<p>${t("pair.how")}</p>${(pair.addresses ?? []).map((one) => html`<p class="figure strong" key=${one}>${one}</p>`)}
      <p class="code figure">${pair.code}</p>${pair.qr_svg && html`<img class="qr" alt=${t("pair.qr")} src=${`data:image/svg+xml,${encodeURIComponent(pair.qr_svg)}`} />`}` : html`<p class="soft">${t("pair.local")}</p>`}
    ${pair.code && html`<button onClick=${() => remove("/pair").then(() => location.reload()).catch(complain)}>${t("pair.forget")}</button>`}</section>`;
}
