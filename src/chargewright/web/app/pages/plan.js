// The plan ahead and what it costs, and any other check on demand.
import { html, useEffect, useState } from "../vendor/ui.js";
import { get } from "../core/api.js";
import { items } from "../core/known.js";
import { ending, said, t, word } from "../core/i18n.js";
import { keep, kept } from "../core/keep.js";
import { link } from "../core/router.js";
import { minutes } from "../core/units.js";
import { Waits } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";

export function Plan({ job }) {
  const found = job.assessed.value?.assessment;
  if (!found) return html`<${Waits} words=${t("wait.reckoning")} />`;
  const { decision, steps } = found;
  const most = Math.max(decision.end_min ?? 0, ...steps.map((one) => one.total_min ?? 0), 1);
  return html`<section class="card stack" aria-labelledby="plan"><h2 id="plan">${t("plan.title")}</h2>
      <p class="small soft">${t("plan.cost")}</p>
      <ol class="list plan">${steps.map((step, index) => html`<li key=${step.check}><a href=${link("job", job.id, "check", step.check)}>
          <span><strong>${index + 1}. ${word("check", step.check, step.title)}</strong><br /><span class="small soft">${t("plan.this", { min: minutes(step.minutes) })}</span></span>
          <span class="figure strong">${minutes(step.total_min)}</span>
          <span class="bar wide" aria-hidden="true"><i style=${{ "--share": step.total_min / most }}></i></span></a></li>`)}
        <li class="card stack tight"><span class="row apart"><strong class="grow">${t("plan.now", { title: ending(decision.ending, decision.title) })}</strong><span class="figure strong">${minutes(decision.end_min)}</span></span>
          <span class="bar" aria-hidden="true"><i style=${{ "--share": decision.end_min / most }}></i></span></li></ol></section>
    <${Any} job=${job} />
    <a class="button" href=${link("job", job.id, "own")}><${Icon} name="add" />${t("plan.own")}</a>
    <${Covers} job=${job} steps=${steps} />`;
}

/** Search among all checks of this machine. */
export function Any({ job }) {
  const [checks, setChecks] = useState(null);
  const [text, setText] = useState("");
  useEffect(() => {
    get(`${job.path}/checks`).then((found) => { setChecks(items(found)); keep(`checks:${job.id}`, items(found)); })
      .catch(async () => setChecks(await kept(`checks:${job.id}`, [])));
  }, [job.id]);
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  const hits = (checks ?? []).filter((one) => words.every((w) => `${word("check", one.id, one.title)} ${one.title} ${one.id}`.toLowerCase().includes(w)));
  return html`<section class="card stack" aria-labelledby="any"><h2 id="any">${t("plan.any")}</h2>
    <label class="field"><span class="hidden">${t("plan.search")}</span><input type="search" placeholder=${t("plan.search")} value=${text} onInput=${(e) => setText(e.target.value)} /></label>
    ${checks === null && html`<p class="soft">${t("wait.loading")}</p>`}
    <ul class="list">${hits.slice(0, words.length ? 40 : 8).map((one) => html`<li key=${one.id}>${one.refused
      ? html`<div class="card small"><strong>${word("check", one.id, one.title)}</strong><br />${said(one.refused.message ?? one.refused)}</div>`
      : html`<a href=${link("job", job.id, "check", one.id)}><span>${word("check", one.id, one.title)}</span><span class="figure small">${minutes(one.minutes)}</span></a>`}</li>`)}</ul>
    ${checks && html`<p class="small soft">${t("plan.hits", { n: hits.length })}</p>`}</section>`;
}

/** Covers that are open cost nothing any more; one that was closed again costs again. */
function Covers({ job }) {
  const open = job.page.value.card.opened ?? [];
  if (!open.length) return null;
  return html`<details class="card"><summary>${t("covers.title", { n: open.length })}</summary><ul class="list">${open.map((cover) => html`<li key=${cover} class="row apart"><span>${word("cover", cover)}</span>
    <button onClick=${() => job.change("DELETE", `/opened/${cover}`, undefined, { label: { title: t("covers.closed"), text: cover } })}>${t("covers.closed")}</button></li>`)}</ul></details>`;
}
