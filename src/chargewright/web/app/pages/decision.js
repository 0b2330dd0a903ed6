// The decision, the repair that follows, its proof, and what it was in the end.
import { html, useState } from "../vendor/ui.js";
import { seg, url } from "../core/api.js";
import { ending, languages, said, t, word } from "../core/i18n.js";
import { checkOf } from "../core/jobs.js";
import { causeTitle, repairTitle } from "../core/known.js";
import { link } from "../core/router.js";
import { settings } from "../core/settings.js";
import { minutes, percent, quantity, written } from "../core/units.js";
import { Sheet } from "../parts/dialog.js";
import { Segments } from "../parts/fields.js";
import { Icon } from "../parts/icons.js";
import { complain } from "../parts/toast.js";

export function Decision({ job, found, early }) {
  const { stage } = found.bench;
  const assessment = found.assessment;
  if (!assessment) return null;
  const { decision } = assessment;
  const repaired = job.page.value.card.repairs ?? [];
  if (stage === "prove" || stage === "proved") return html`<${Proof} job=${job} assessment=${assessment} bench=${found.bench} />`;
  const look = decision.kind === "repair" ? "bad" : decision.kind === "nothing_wrong_found" ? "good" : "open";
  return html`<section class=${`card key stack decision ${look}`} aria-label=${t("decision.title")}>
    ${!early && html`<p class="small soft strong">${t("decision.title")}</p>`}
    <h2 id=${early ? undefined : "decision"}>${word("decision", early ? "early" : decision.kind)}${decision.kind === "repair" || early ? html` <span>${ending(decision.ending, decision.title)}</span>` : ""}</h2>
    ${decision.cure !== null && html`<div><p>${t("decision.cure", { share: percent(decision.cure) })}</p>
      <span class="bar" aria-hidden="true"><i style=${{ "--share": decision.cure }}></i></span></div>`}
    <p class="small">${t("decision.cost", { end: minutes(decision.end_min) })} ${Math.abs(decision.go_on_min - decision.end_min) > 0.05 ? t("decision.go_on", { on: minutes(decision.go_on_min) }) : ""}</p>
    ${assessment.would_decide.length > 0 && html`<div><h3>${t("decision.would")}</h3><ul>${assessment.would_decide.map((one) => html`<li key=${one}>${said(one)}</li>`)}</ul></div>`}
    ${assessment.proof.length > 0 && html`<div class="small"><p>${t("decision.proof")}</p>
      <ul>${assessment.proof.map((one) => html`<li>${word("check", one.check, one.title)}</li>`)}</ul></div>`}
    ${decision.kind === "charge_and_test_again" && html`<button class="main" onClick=${() => charged(job)}><${Icon} name="battery" />${t("decision.charged")}</button>`}
    ${(decision.kind === "repair" || early) && html`<${RepairButton} job=${job} assessment=${assessment} early=${early} />`}
    ${!early && assessment.steps.length > 0 && html`<a class="button" href=${link("job", job.id, "plan")}>${t("decision.measure_on")}</a>`}
    ${!early && repaired.length === 0 && decision.kind !== "repair" && html`<${RepairButton} job=${job} assessment=${assessment} plain=${true} />`}
  </section>`;
}

const charged = (job) => job.change("POST", "/acts", { act: "charge_battery", at: new Date().toISOString() },
  { label: { title: t("decision.charged"), text: "" } }).catch(complain);

export function RepairButton({ job, assessment, plain, early }) {
  const [open, setOpen] = useState(false);
  return html`<button class=${plain ? "" : "main"} id=${plain || early ? undefined : "repair"} onClick=${() => setOpen(true)}><${Icon} name="wrench" />${t("repair.enter")}</button>
    ${open && html`<${RepairSheet} job=${job} assessment=${assessment} onClose=${() => setOpen(false)} />`}`;
}

function RepairSheet({ job, assessment, onClose }) {
  const options = repairsOf(assessment);
  const [chosen, setChosen] = useState(() => assessment.decision.ending.split("+").filter((id) => options.has(id)));
  const [note, setNote] = useState("");
  const toggle = (id) => setChosen(chosen.includes(id) ? chosen.filter((one) => one !== id) : [...chosen, id]);
  const save = async () => {
    for (const id of chosen) {
      const { cause, title } = options.get(id);
      const body = { repair: id, cause, at: new Date().toISOString(), note };
      await job.change("POST", "/repairs", body, { label: { title: t("repair.enter"), text: title } }).catch(complain);
    }
    onClose();
    scrollTo({ top: 0 });
  };
  return html`<${Sheet} title=${t("repair.what")} id="repair-sheet" onClose=${onClose}>
    <fieldset class="stack tight"><legend class="hidden">${t("repair.what")}</legend>
      ${[...options].map(([id, one]) => html`<label class="tick" key=${id}><input type="checkbox" checked=${chosen.includes(id)} onChange=${() => toggle(id)} />
        <span>${word("repair", id, one.title)}</span></label>`)}</fieldset>
    <label class="field">${t("repair.note")}<textarea value=${note} onInput=${(e) => setNote(e.target.value)}></textarea></label>
    <button class="main" id="repair-save" disabled=${!chosen.length} onClick=${save}><${Icon} name="good" />${t("repair.save")}</button>
  </${Sheet}>`;
}

/** Repairs that mend the causes still believed in, the likeliest first. */
function repairsOf(assessment) {
  const found = new Map();
  for (const cause of assessment.causes) {
    if (cause.repair && cause.repair.id !== "nothing" && !found.has(cause.repair.id)) {
      found.set(cause.repair.id, { title: cause.repair.title, cause: cause.id });
    }
  }
  return found;
}

/** What the last repair has left, by the readings after it; nothing while it is being proved. */
export function Unproved({ job, found }) {
  const one = found.assessment?.unproved;
  const { stage } = found.bench ?? {};
  if (!one || stage === "prove" || stage === "proved") return null;
  return html`<section class="card stack" aria-labelledby="unproved">
    <h2 id="unproved">${t("unproved.title")}</h2>
    <ul>${one.repairs.map((id) => html`<li key=${id}>${repairTitle(job.page.value.card.machine.class, id)}</li>`)}</ul>
    ${one.outside.map((out) => html`<p class="small" key=${out.reading}>${t("unproved.reads", { title: word("check", checkOf(job.id, out.reading), out.title), text: written(out.text), low: quantity(out.low, out.unit), high: quantity(out.high, out.unit) })}</p>`)}
    <p>${t("prove.left", { share: percent(found.assessment.remaining) })}</p>
    <div class="row"><button onClick=${() => takeBack(job)}><${Icon} name="undo" />${t("repair.back")}</button></div>
  </section>`;
}

function Proof({ job, assessment, bench }) {
  const { card } = job.page.value;
  const { stage, proved: sure, outside } = bench;
  const left = bench.repaired ? assessment.remaining : null;
  const bad = assessment.readings.filter((one) => (outside ?? []).includes(one.id));
  return html`<section class=${`card key stack decision ${sure ? "good" : "open"}`} aria-labelledby="proof">
    <h2 id="proof">${t(sure ? "prove.done" : stage === "proved" ? "prove.doubt" : "prove.todo")}</h2>
    <ul>${(card.repairs ?? []).map((one) => html`<li key=${one.at}>${one.repair ? repairTitle(card.machine.class, one.repair) : causeTitle(card.machine.class, one.cause)}${one.note ? ` – ${one.note}` : ""}</li>`)}</ul>
    ${!bench.repaired && html`<p class="small">${t("prove.other")}</p>`}
    ${bad.map((one) => html`<p class="mark bad" key=${one.id}><${Icon} name="bad" />${t("prove.outside", { title: word("check", checkOf(job.id, one.id), one.title), text: written(one.text) })}</p>`)}
    ${left !== null && html`<div><p>${t("prove.left", { share: percent(left) })}</p><span class="bar" aria-hidden="true"><i style=${{ "--share": left }}></i></span></div>`}
    ${stage === "proved" && html`<${Confirm} job=${job} assessment=${assessment} /><${Reports} job=${job} />`}
    ${stage === "proved" && !sure && html`<a class="button" href=${link("job", job.id, "plan")}>${t("decision.measure_on")}</a>`}
    <div class="row"><button onClick=${() => takeBack(job)}><${Icon} name="undo" />${t("repair.back")}</button></div>
  </section>`;
}

async function takeBack(job) {
  const last = job.page.value.card.repairs?.at(-1);
  if (last) await job.change("DELETE", `/repairs?at=${seg(last.at)}`, undefined, { label: { title: t("repair.back"), text: "" } }).catch(complain);
}

/** What it was in the end: it goes into the record and teaches the workshop's own shares. */
export function Confirm({ job, assessment }) {
  const known = job.page.value.card.confirmed_cause;
  const likely = job.page.value.card.repairs?.find((one) => one.cause)?.cause ?? assessment.causes[0]?.id;
  const [cause, setCause] = useState(known?.cause ?? likely ?? "");
  const [by, setBy] = useState(known?.by ?? (assessment.remaining !== null ? "measured_after_repair" : "fix_reported"));
  const save = () => job.change("PUT", "/confirmed-cause", { cause, by }, { label: { title: t("confirm.title"), text: cause } }).catch(complain);
  if (known) return html`<p class="mark good"><${Icon} name="good" />${t("confirm.known", { cause: causeTitle(job.page.value.card.machine.class, known.cause) })}</p>`;
  return html`<fieldset class="stack tight"><legend>${t("confirm.title")}</legend>
    <label class="field"><span class="hidden">${t("confirm.cause")}</span><select value=${cause} onChange=${(e) => setCause(e.target.value)}>
      ${assessment.causes.map((one) => html`<option key=${one.id} value=${one.id}>${word("cause", one.id, one.title)}</option>`)}</select></label>
    <label class="field"><span class="hidden">${t("confirm.how")}</span><select value=${by} onChange=${(e) => setBy(e.target.value)}>
      ${["measured_after_repair", "fix_reported", "found", "inferred"].map((one) => html`<option key=${one} value=${one}>${t(`confirm.${one}`)}</option>`)}</select></label>
    <button class="main" id="confirm" onClick=${save}>${t("confirm.save")}</button></fieldset>`;
}

export function Reports({ job }) {
  const base = url(`${job.path}/`);
  const paper = settings.value.units === "us" ? "us-letter" : "a4";
  const [language, setLanguage] = useState(settings.value.language); // the reader's may be another than the phone's
  const file = (name, reader) => `${base}${name}?${new URLSearchParams({ reader, paper, language })}`;
  return html`<div class="stack tight reports"><h3>${t("report.title")}</h3>
    <${Segments} label=${t("report.language")} value=${language} options=${Object.entries(languages())} onChange=${setLanguage} />
    <div class="grid2">
      <a class="button main" download href=${file("report.pdf", "customer")}><${Icon} name="report" />${t("report.customer")}</a>
      <a class="button" download href=${file("report.pdf", "workshop")}><${Icon} name="report" />${t("report.technical")}</a>
      <a class="button" target="_blank" rel="noopener" href=${file("report.html", "customer")}>${t("report.customer_html")}</a>
      <a class="button" target="_blank" rel="noopener" href=${file("report.html", "workshop")}>${t("report.technical_html")}</a>
      <a class="button" download href=${`${base}card`}>${t("report.card")}</a>
      <a class="button" download href=${`${base}readings.csv`}>${t("report.csv")}</a>
    </div></div>`;
}

