// What has not reached the service yet, and what it asks about; nothing here is ever lost silently.
import { html } from "../vendor/ui.js";
import { t } from "../core/i18n.js";
import { go, link } from "../core/router.js";
import { answer, flush, queue, reached, withdraw } from "../core/queue.js";
import { when, written } from "../core/units.js";
import { Page } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { complain } from "../parts/toast.js";

export function UnsentPage() {
  return html`<${Page} title=${t("unsent.title")} back=${link("jobs")}>
    <div class="stack"><p>${t(reached.value ? "line.on" : "line.off")}</p>
      ${queue.value.length === 0 && html`<p class="card">${t("unsent.none")}</p>`}
      <${Unsent} entries=${queue.value} jobs=${true} />
      ${queue.value.length > 0 && html`<button onClick=${flush}><${Icon} name="send" />${t("unsent.now")}</button>`}</div>
  </${Page}>`;
}

export function Unsent({ entries, jobs }) {
  return html`<ul class="list unsent">${entries.map((entry) => entry.state !== "asks" && !jobs ? html`<li key=${entry.key} class="sending" data-state=${entry.state}><${Icon} name="send" /><span class="grow">${entry.label?.title}<br /><span class="small">${t("unsent.waits")}</span></span><strong class="figure">${written(entry.label?.text)}</strong></li>` : html`<li key=${entry.key} class=${`card stack tight ${entry.state === "asks" ? "bad" : "open"}`} data-state=${entry.state}>
    <p class="row apart"><span class="row"><${Icon} name=${entry.state === "asks" ? "open" : "send"} /><span>${entry.label?.title}</span></span>
      <strong class="figure">${written(entry.label?.text)}</strong></p>
    <p class="small soft">${jobs ? `${entry.job} · ` : ""}${when(entry.madeAt)} · ${t(entry.state === "asks" ? "unsent.asks" : "unsent.waits")}</p>
    ${entry.problem && html`<${Problem} entry=${entry} />`}
  </li>`)}</ul>`;
}

function Problem({ entry }) {
  const { code, text, detail } = entry.problem;
  const away = () => withdraw(entry.key).catch(complain);
  if (code === "slip") return html`<${Slip} entry=${entry} detail=${detail} />`;
  if (code === "conflict") {
    return html`<p>${text}</p>
      ${detail.here && html`<dl class="sides"><div><dt>${t("conflict.here")}</dt><dd>${sideWords(detail.here)}</dd></div><div><dt>${t("conflict.yours")}</dt><dd>${sideWords(detail.yours)}</dd></div></dl>`}
      <div class="row">${entry.kind === "reading" && html`<button onClick=${() => answer(entry.key, { stage: "after_repair" })}>${t("conflict.after")}</button>
        <button onClick=${() => answer(entry.key, { confirmed: true })}>${t("conflict.before")}</button>`}
        <button onClick=${away}>${t("unsent.drop")}</button></div>`;
  }
  return html`<p>${text}</p><div class="row">
    ${entry.body?.check && html`<button class="main" onClick=${() => retype(entry)}>${t("unsent.retype")}</button>`}
    <button onClick=${() => answer(entry.key, {})}>${t("unsent.again")}</button><button onClick=${away}>${t("unsent.drop")}</button></div>`;
}

function retype(entry) {
  withdraw(entry.key);
  go("job", entry.job, "check", entry.body.check);
}

/** "1.42 or 14.2?": the reading is asked about, never corrected silently. */
function Slip({ entry, detail }) {
  const meant = detail.meant?.text || meantText(detail.meant);
  const asTyped = detail.reading?.shown?.text || entry.body.text;
  return html`<div class="stack tight slip" role="alert"><p class="strong">${t("slip.question", { meant, typed: asTyped })}</p>
    <div class="grid2"><button class="main" data-slip="meant" onClick=${() => answer(entry.key, { text: meant })}>${meant}</button>
      <button data-slip="typed" onClick=${() => answer(entry.key, {})}>${t("slip.typed", { typed: asTyped })}</button></div>
    <button class="plain" onClick=${() => retype(entry)}>${t("slip.neither")}</button></div>`;
}

/** Return a figure of the service as it would be typed. */
function meantText(shown) {
  if (!shown) return "";
  const places = shown.lsd ? Math.max(0, Math.round(-Math.log10(shown.lsd))) : 3;
  const head = { about: "about ", at_least: ">", at_most: "<" }[shown.qualifier] ?? "";
  const end = shown.value_max !== null && shown.value_max !== undefined ? ` to ${shown.value_max.toFixed(places)}` : "";
  return `${head}${shown.value.toFixed(places)}${end} ${shown.unit}`;
}

function sideWords(side) {
  if (side === null || typeof side !== "object") return String(side ?? "–");
  return side.shown?.text ?? side.text ?? (side.sign !== undefined && side.sign !== null ? t(side.sign ? "look.yes" : "look.no") : JSON.stringify(side));
}
