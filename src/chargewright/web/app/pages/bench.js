// What to do now: the next check, or the decision, the repair, its proof.
import { html, useEffect, useRef, useState } from "../vendor/ui.js";
import { get, seg } from "../core/api.js";
import { ending, said, t, word } from "../core/i18n.js";
import { ofJob } from "../core/queue.js";
import { go, link } from "../core/router.js";
import { percent, quantity } from "../core/units.js";
import { Sheet } from "../parts/dialog.js";
import { Waits } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { Pad } from "../parts/pad.js";
import { fetchPicture } from "../parts/picture.js";
import { Probes, Step, circuitPath, dialWords } from "../parts/step.js";
import { Result } from "../parts/result.js";
import { complain, say } from "../parts/toast.js";
import { Decision, Unproved } from "./decision.js";

/** The check that was asked for by hand, or null: it comes from the service like any other. */
function useChosen(job, check) {
  const [chosen, setChosen] = useState(null);
  const held = job.assessed.value?.assessment?.steps?.find((step) => step.check === check);
  useEffect(() => {
    setChosen(null);
    if (!check) return;
    get(`${job.path}/steps/${seg(check)}`).then((found) => setChosen(found.step ?? found)).catch((error) => {
      if (held) setChosen(held);
      else { complain(error); go("job", job.id, "check"); }
    });
  }, [job.id, check, job.assessed.value?.revision]);
  return chosen ?? (check ? held ?? null : null);
}

/** Pictures of the checks that may come next, so that they are there when the network is not. */
function usePicturesAhead(job) {
  const others = job.assessed.value?.bench?.others ?? [];
  useEffect(() => {
    const pause = setTimeout(() => others.slice(0, 4).forEach((one) => fetchPicture(circuitPath(job.id, one))), 1500);
    return () => clearTimeout(pause);
  }, [job.id, job.assessed.value?.revision]);
}

export function Bench({ job, more: check, wide }) {
  const chosen = useChosen(job, check);
  usePicturesAhead(job);
  const found = job.assessed.value;
  const page = job.page.value;
  const waiting = ofJob(job.id).some((entry) => entry.state === "waiting");
  const behind = found && page && found.revision < page.revision;
  const bench = found?.bench;
  const lastCard = page?.card.readings?.at(-1);
  const last = found?.assessment?.readings?.find((one) => one.id === lastCard?.id);
  if (!found) return html`<${Waits} words=${t("wait.reckoning")} long=${t("wait.first")} />`;
  const step = check ? chosen : behind && !waiting ? null : nextStep(bench, job);
  const proving = !check && bench?.stage === "prove";
  return html`
    ${found.error && html`<div class="card bad stack"><p>${said(found.error.message)}</p><${UndoButton} job=${job} /></div>`}
    ${last && html`<div aria-live="polite"><h2 class="hidden">${t("bench.last")}</h2>
      <${Result} key=${last.id} reading=${last} job=${job.id} open=${false}><${UndoButton} job=${job} /></${Result}></div>`}
    ${!check && bench && html`<${Unproved} job=${job} found=${found} />`}
    ${!check && bench && bench.stage !== "check" && html`<${Decision} job=${job} found=${{ ...found, bench }} />`}
    ${check && !step && html`<${Waits} />`}
    ${!check && behind && !waiting && html`<${Waits} words=${t("wait.next")} />`}
    ${!check && waiting && !step && html`<p class="card">${t("bench.all_waiting")}</p>`}
    ${step && html`<${AtBench} key=${`${step.check}:${page.revision}`} job=${job} step=${step} wide=${wide} proving=${proving}
      title=${check ? t("bench.chosen") : proving ? t("bench.prove") : t("bench.next")} chosen=${Boolean(check)} />`}
    ${check && html`<a class="button" href=${link("job", job.id, "check")}>${t("bench.back")}</a>`}
    ${!check && bench?.stage === "check" && found.assessment && html`<${EndNow} assessment=${found.assessment} job=${job} />`}
    <p class="small soft">${t("care.maker")}</p>`;
}

/** Return the stage of a reading taken now: of the fault, or of the repair's proof. */
export const stageNow = (job) => ((job.page.value?.card.repairs ?? []).length ? "after_repair" : "fault");

/** Without network the plan already at hand goes on: the best check that has not been answered. */
function nextStep(bench, job) {
  const answered = new Set(ofJob(job.id).map((entry) => entry.body?.check));
  if (!bench?.step) return null;
  const planned = bench.stage === "check" ? [bench.step, ...(bench.others ?? [])] : [bench.step];
  return planned.find((one) => one && !answered.has(one.check)) ?? null;
}

function UndoButton({ job }) {
  return html`<button class="undo" id="undo" onClick=${() => job.undo().then(() => say(t("undo.done"))).catch(complain)}><${Icon} name="undo" />${t("do.undo")}</button>`;
}

function AtBench({ job, step, wide, title, proving, chosen }) {
  const [open, setOpen] = useState(false);
  const [busy, setBusy] = useState(false);
  const top = useRef();
  const look = step.function === "look";
  const act = !step.function;
  const send = async (text) => {
    setBusy(true);
    const body = { check: step.check, text, stage: stageNow(job) };
    setOpen(false);
    await job.record(body, { title: step.title, text }).catch(complain);
    setBusy(false);
    if (chosen) go("job", job.id, "check");
    scrollTo({ top: 0 });
  };
  const proof = proving && proofBand(job, step);
  const enter = act
    ? html`<button class="main" onClick=${() => job.change("POST", "/acts", { act: step.check, at: new Date().toISOString() }, { label: { title: step.title, text: t("act.done") } }).catch(complain)}><${Icon} name="good" />${t("act.done")}</button>`
    : look
      ? html`<div class="row looks"><button class="main grow" data-look="yes" disabled=${busy} onClick=${() => send("yes")}>${t("look.yes")}</button>
          <button class="main grow" data-look="no" disabled=${busy} onClick=${() => send("no")}>${t("look.no")}</button></div>`
      : html`<button class="main enter" id="read" disabled=${busy} onClick=${() => setOpen(true)}><${Icon} name="check" />${t("bench.read")}</button>`;
  return html`<div ref=${top} class="stack"><${Step} step=${step} job=${job.id} title=${title} proof=${proof}>${wide && enter}</${Step}></div>
    ${!wide && html`<div class="bottom">${enter}</div>`}
    ${open && html`<${Sheet} title=${word("check", step.check, step.title)} id="pad" onClose=${() => setOpen(false)}>
      <p class="small row">${dialWords(step)}</p><${Probes} step=${step} />
      <${Pad} func=${step.function} unit=${step.unit} expected=${step.expected} onEnter=${send} busy=${busy} label=${step.title} />
    </${Sheet}>`}`;
}

function proofBand(job, step) {
  const one = job.assessed.value?.assessment?.proof?.find((proof) => proof.check === step.check);
  if (!one || one.low === null) return "";
  return t("prove.band", { low: quantity(one.low, step.unit), high: quantity(one.high, step.unit), left: percent(one.remaining) });
}

function EndNow({ assessment, job }) {
  const { decision } = assessment;
  return html`<details class="card"><summary>${t("end.now")}</summary><div class="stack">
    <p>${t("end.best", { title: ending(decision.ending, decision.title), cure: percent(decision.cure) })}</p>
    <${Decision} job=${job} found=${{ assessment, bench: { stage: "repair" } }} early=${true} />
  </div></details>`;
}

