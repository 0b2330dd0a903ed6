// Which part it is likely to be, and what moved it: shares now as bars, before the last change as a mark.
import { html } from "../vendor/ui.js";
import { decimal, said, t, word } from "../core/i18n.js";
import { checkOf } from "../core/jobs.js";
import { percent, written } from "../core/units.js";
import { Moved } from "../parts/result.js";
import { Waits } from "../parts/frame.js";

export function Causes({ job }) {
  const found = job.assessed.value?.assessment;
  if (!found) return html`<${Waits} words=${t("wait.reckoning")} />`;
  const before = job.before.value;
  const last = found.readings.at(-1);
  const shown = found.causes.filter((one, index) => index < 4 || one.share >= 0.02);
  const rest = found.causes.filter((one) => !shown.includes(one));
  return html`
    <section class="card stack" aria-labelledby="causes"><h2 id="causes">${t("causes.title")}</h2>
      <ul class="bars">${shown.map((one) => html`<${Cause} key=${one.id} one=${one} before=${before[one.id]} />`)}</ul>
      ${Object.keys(before).length > 0 && html`<p class="small soft"><span class="legend now" aria-hidden="true"></span> ${t("causes.now")} <span class="legend was" aria-hidden="true"></span> ${t("causes.before")}</p>`}
      ${rest.length > 0 && html`<details><summary>${t("causes.rest", { n: rest.length })}</summary><ul class="bars">
        ${rest.map((one) => html`<${Cause} key=${one.id} one=${one} before=${before[one.id]} />`)}</ul></details>`}
    </section>
    <section class="card stack tight" aria-labelledby="parts"><h2 id="parts">${t("causes.parts")}</h2>
      <ul class="bars">${found.components.filter((one) => one.share >= 0.005).map((one) => html`<li key=${one.id}>
        <span class="row apart"><span>${word("component", one.id)}</span><strong class="figure">${percent(one.share)}</strong></span>
        <span class="bar" aria-hidden="true"><i style=${{ "--share": one.share }}></i></span></li>`)}</ul>
      <p class="small soft">${t("causes.sum")}</p></section>
    ${last?.evidence && html`<section class="card stack tight" aria-labelledby="moved"><h2 id="moved">${t("causes.moved")}</h2>
      <p>${word("check", checkOf(job.id, last.id), last.title)}: <strong class="figure">${last.seen === null || last.seen === undefined ? written(last.text) : t(last.seen ? "look.yes" : "look.no")}</strong></p>
      <${Moved} reading=${last} /></section>`}
    ${found.repeat.length > 0 && html`<section class="card open stack tight"><h2>${t("causes.repeat")}</h2><ul>
      ${found.repeat.map((id) => { const one = found.readings.find((r) => r.id === id); return html`<li key=${id}>${one ? `${word("check", checkOf(job.id, id), one.title)}: ${written(one.text)}` : id}</li>`; })}</ul></section>`}
    <details class="card"><summary>${t("causes.why")}</summary><div class="stack tight">${found.explanation.map((one) => html`<p key=${one}>${said(one)}</p>`)}</div></details>`;
}

function Cause({ one, before }) {
  const severity = one.severity;
  return html`<li data-cause=${one.id}>
    <span class="row apart"><span class="strong">${word("cause", one.id, one.title)}</span>
      <span class="figure">${before !== undefined && Math.abs(before - one.share) > 0.004 ? html`<span class="soft small">${percent(before)} → </span>` : ""}<strong>${percent(one.share)}</strong></span></span>
    <span class="bar" aria-hidden="true"><i style=${{ "--share": one.share }}></i>${before !== undefined && html`<b style=${{ "--share": before }}></b>`}</span>
    ${severity?.middle && html`<span class="small soft">${severityWords(severity)}</span>`}
    <span class="small">${one.repair ? word("repair", one.repair.id, one.repair.title) : ""}</span></li>`;
}

/** "0.34 ohm in one contact (0.061 to 0.52 ohm)": what both ends have in common is said once. */
export function severityWords({ low, middle, high }) {
  [low, middle, high] = [low, middle, high].map((one) => said(one).replace(/\bohm\b/, "Ω"));
  if (low === high) return middle;
  const [a, b] = [low.split(" "), high.split(" ")];
  while (a.length > 1 && b.length > 1 && a[0] === b[0]) { a.shift(); b.shift(); }
  while (a.length > 1 && b.length > 1 && a.at(-1) === b.at(-1)) { a.pop(); b.pop(); }
  const ends = [a.join(" "), b.join(" ")];
  // a short that is worse has fewer ohms; people read a span upwards all the same
  const [first, second] = ends.map((one) => Number.parseFloat(one.replace(decimal(), ".")));
  if (first > second) ends.reverse();
  return t("causes.severity", { middle, low: ends[0], high: ends[1] });
}
