// The job at work: the frame with its tabs; on a wide screen the check stays at the left.
import { html, useEffect, useState } from "../vendor/ui.js";
import { t, word } from "../core/i18n.js";
import { jobOf } from "../core/jobs.js";
import { loadQueue, ofJob, queue } from "../core/queue.js";
import { link, route } from "../core/router.js";
import { Page, Waits } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { wordsOf } from "../parts/toast.js";
import { Unsent } from "./unsent.js";
import { Bench } from "./bench.js";
import { Causes } from "./causes.js";
import { Readings } from "./readings.js";
import { Plan } from "./plan.js";
import { Card } from "./card.js";

const TABS = [
  ["check", "check", Bench], ["causes", "causes", Causes], ["readings", "readings", Readings], ["plan", "plan", Plan], ["card", "report", Card],
];
const WIDE = matchMedia("(min-width: 1000px)");

export function JobPage() {
  const [, id, tab = "check", more] = route.value.parts;
  const job = jobOf(id);
  const [wide, setWide] = useState(WIDE.matches);
  useEffect(() => {
    loadQueue();
    job.load();
    return job.listen();
  }, [id]);
  useEffect(() => {
    const turned = () => setWide(WIDE.matches);
    WIDE.addEventListener("change", turned);
    return () => WIDE.removeEventListener("change", turned);
  }, []);
  const page = job.page.value;
  if (!page) {
    return html`<${Page} title=${t("job.title")} back=${link("jobs")}>
      ${job.trouble.value ? html`<div class="card bad"><p>${wordsOf(job.trouble.value)}</p></div>` : html`<${Waits} />`}</${Page}>`;
  }
  const shown = wide && tab === "check" ? "causes" : tab;
  const View = TABS.find(([name]) => name === shown)?.[2] ?? Bench;
  const { card } = page;
  const name = card.title || card.machine.label || card.id;
  return html`<${Page} title=${name} under=${card.title && card.machine.label ? card.machine.label : word("class", card.machine.class, page.machine?.title ?? card.machine.class)} back=${link("jobs")}>
    <div class="stack">${queue.value.length > 0 && html`<${Unsent} entries=${ofJob(id)} />`}
    ${job.since.value.length > 0 && html`<${Since} job=${job} />`}
    ${card.invented && html`<p class="small soft">${t("job.invented")}</p>`}
    <div class=${wide ? "bench-and-more" : ""}>
      ${wide && html`<div class="stack"><${Bench} job=${job} more=${tab === "check" ? more : undefined} wide=${true} /></div>`}
      <div class="stack" key=${shown}>${wide && html`<${Tabs} id=${id} shown=${shown} wide=${true} />`}<${View} job=${job} more=${more} wide=${wide} /></div>
    </div></div>
    ${!wide && html`<${Tabs} id=${id} shown=${shown} />`}
  </${Page}>`;
}

/** A reading typed without network met others: both count, and both are shown. */
function Since({ job }) {
  const what = job.since.value.map((one) => `${word("check", one.check, one.check ?? one.function)} ${one.shown?.text ?? t(one.sign ? "look.yes" : "look.no")}`).join("; ");
  return html`<div class="card open row apart" role="status"><p class="grow">${t("unsent.since", { what })}</p><button onClick=${() => { job.since.value = []; }}>${t("do.close")}</button></div>`;
}

function Tabs({ id, shown, wide }) {
  const tabs = wide ? TABS.slice(1) : TABS;
  return html`<nav class=${wide ? "side-tabs" : "tabs"} aria-label=${t("job.tabs")}>${tabs.map(([name, icon]) => html`
    <a key=${name} href=${link("job", id, name)} aria-current=${name === shown ? "page" : undefined}><${Icon} name=${icon} />${t(`tab.${name}`)}</a>`)}</nav>`;
}

export const causeWords = (one) => word("cause", one.id ?? one.cause, one.title);
