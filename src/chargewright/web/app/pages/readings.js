// Every reading of the job, the newest first, each with what it proves; leave one out, or take it back.
import { html, useState } from "../vendor/ui.js";
import { seg } from "../core/api.js";
import { t, word } from "../core/i18n.js";
import { when, written } from "../core/units.js";
import { Sheet } from "../parts/dialog.js";
import { Icon } from "../parts/icons.js";
import { Result } from "../parts/result.js";
import { complain } from "../parts/toast.js";

export function Readings({ job }) {
  const { card } = job.page.value;
  const judged = new Map((job.assessed.value?.assessment?.readings ?? []).map((one) => [one.id, one]));
  const all = [...(card.readings ?? [])].reverse();
  return html`<h2>${t("readings.title", { n: all.length })}</h2>
    ${all.length === 0 && html`<p class="card">${t("readings.none")}</p>`}
    ${all.map((reading) => html`<div key=${reading.id}>
      ${judged.has(reading.id) ? html`<${Result} reading=${judged.get(reading.id)} job=${job.id} meta=${metaOf(reading)}><${Foot} job=${job} reading=${reading} /></${Result}>`
        : html`<${Bare} reading=${reading}><${Foot} job=${job} reading=${reading} /></${Bare}>`}</div>`)}`;
}

const shownText = (reading) => (reading.sign === null || reading.sign === undefined ? written(reading.shown?.text) ?? "–" : t(reading.sign ? "look.yes" : "look.no"));

const metaOf = (reading) => [reading.at && when(reading.at), reading.stage === "after_repair" && t("stage.after_repair"), reading.note].filter(Boolean).join(" · ");

function Bare({ reading, children }) {
  return html`<section class="card stack tight"><div class="row apart"><h3 class="grow">${reading.check ? word("check", reading.check, reading.check) : word("function", reading.function)}</h3>
    <strong class="figure reading">${shownText(reading)}</strong></div>
    ${reading.excluded && html`<p class="small">${t("readings.left_out", { why: reading.excluded })}</p>`}
    <div class="row apart"><p class="small soft">${metaOf(reading)}</p>${children}</div></section>`;
}

function Foot({ job, reading }) {
  const [open, setOpen] = useState(false);
  const [why, setWhy] = useState("");
  const send = (body) => job.change("PATCH", `/readings/${seg(reading.id)}`, body, { label: { title: t("readings.change"), text: reading.id } }).then(() => setOpen(false)).catch(complain);
  const away = () => job.change("DELETE", `/readings/${seg(reading.id)}`, undefined, { label: { title: t("readings.remove"), text: reading.id } }).then(() => setOpen(false)).catch(complain);
  return html`<button class="plain" onClick=${() => setOpen(true)} aria-label=${t("readings.change_one", { id: reading.id })}><${Icon} name="more" /></button>
    ${open && html`<${Sheet} title=${t("readings.change_one", { id: reading.id })} onClose=${() => setOpen(false)}>
      <label class="field">${t("readings.note")}<textarea onInput=${(e) => setWhy(e.target.value)}>${reading.note}</textarea></label>
      <div class="stack tight">
        <button disabled=${!why} onClick=${() => send({ note: why })}>${t("readings.save_note")}</button>
        ${reading.excluded ? html`<button onClick=${() => send({ excluded: null })}>${t("readings.count")}</button>`
          : html`<button onClick=${() => send({ excluded: why || t("readings.doubtful") })}>${t("readings.leave_out")}</button>`}
        <button onClick=${away}><${Icon} name="undo" />${t("readings.remove")}</button></div>
    </${Sheet}>`}`;
}
