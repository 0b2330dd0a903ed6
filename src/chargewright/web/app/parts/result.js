// What one reading means: its verdict against each limit, and which causes it moved.
import { html } from "../vendor/ui.js";
import { said, t, word } from "../core/i18n.js";
import { seg } from "../core/api.js";
import { checkOf } from "../core/jobs.js";
import { settings } from "../core/settings.js";
import { figures, percent, quantity, written } from "../core/units.js";
import { Bands } from "./bands.js";
import { Icon } from "./icons.js";
import { Picture } from "./picture.js";

const LOOKS = { inside: "good", outside: "bad", undecided: "open" };

export const lookOf = (verdict) => LOOKS[verdict.outcome] ?? "open";

export function worst(reading) {
  const order = ["outside", "undecided", "inside"];
  return [...(reading.verdicts ?? [])].sort((a, b) => order.indexOf(a.outcome) - order.indexOf(b.outcome))[0];
}

export function Mark({ verdict }) {
  const look = lookOf(verdict);
  return html`<span class=${`mark ${look}`}><${Icon} name=${look} />${t(`verdict.${verdict.outcome}`)}</span>`;
}

export function limitWords({ low, high, unit }) {
  if (low !== null && high !== null) return t("limit.between", { low: quantity(low, unit), high: quantity(high, unit) });
  return low !== null ? t("limit.least", { low: quantity(low, unit) }) : t("limit.most", { high: quantity(high, unit) });
}

export function readingText(reading) {
  if (reading.seen === true || reading.seen === false) return t(reading.seen ? "look.yes" : "look.no");
  return written(reading.text);
}

export function Verdict({ verdict, job, reading, index }) {
  const p = verdict.p_inside;
  return html`<div class="stack tight">
    <p class="row"><${Mark} verdict=${verdict} /><span>${limitWords(verdict.limit)}</span></p>
    <p class="small">${p === null ? t("verdict.p_open") : t("verdict.p", { p: percent(p) })}
      ${verdict.u ? ` · ${t("verdict.u", { u: quantity(verdict.u, verdict.limit.unit, 2) })}` : ""} · ${sourceWords(verdict.limit.source)}</p>
    <${Picture} path=${`/jobs/${seg(job)}/readings/${seg(reading.id)}/picture.svg?limit=${index}&language=${settings.value.language}`} missing=${html`<${Chance} p=${p} />`} />
    ${verdict.would_decide.length > 0 && html`<div class="small"><p class="strong">${t("verdict.decide")}</p><ul>
      ${verdict.would_decide.map((one) => html`<li key=${one}>${said(one)}</li>`)}</ul></div>`}
  </div>`;
}

const sourceWords = (source) => word("source", source?.kind, source?.kind ?? "");

function Chance({ p }) {
  if (p === null) return null;
  return html`<span class="chance" role="img" aria-label=${t("verdict.p", { p: percent(p) })}>
    <i style=${{ "--share": p }}>${p > 0.2 ? t("verdict.inside") : ""}</i><b>${p < 0.8 ? t("verdict.outside") : ""}</b></span>`;
}

/** The causes that a reading moved most, its odds factor as a bar to either side. */
export function Moved({ reading }) {
  const says = [...(reading.evidence?.says ?? [])]
    .sort((a, b) => Math.abs(Math.log(b.odds_factor)) - Math.abs(Math.log(a.odds_factor)))
    .filter((one) => Math.abs(Math.log(one.odds_factor)) > 0.1).slice(0, 4);
  if (!says.length) return html`<p class="small soft">${t("moved.none")}</p>`;
  return html`<ul class="moved">${says.map(({ cause, title, odds_factor: factor }) => {
    const up = factor >= 1;
    const size = Math.min(1, Math.abs(Math.log10(factor)) / 2);
    return html`<li key=${cause}><span>${word("cause", cause, title)}</span>
      <span class="figure strong small">${t(up ? "moved.up" : "moved.down", { n: figures(up ? factor : 1 / factor, factor > 99 || factor < 0.01 ? 3 : 2) })}</span>
      <span class="tilt" aria-hidden="true"><i class=${up ? "up" : "down"} style=${{ "--share": size }}></i></span></li>`;
  })}</ul>`;
}

export function Result({ reading, job, open, meta, children }) {
  const verdict = worst(reading);
  const look = verdict ? lookOf(verdict) : "none";
  return html`<section class=${`card stack tight result ${look}`} aria-labelledby=${`result-${reading.id}`}>
    <div class="row apart"><h3 id=${`result-${reading.id}`} class="grow">${word("check", checkOf(job, reading.id), reading.title)}</h3>
      <strong class="figure reading">${readingText(reading)}</strong></div>
    ${verdict ? html`<p class="row"><${Mark} verdict=${verdict} /><span class="small">${limitWords(verdict.limit)}${verdict.p_inside !== null ? ` · ${t("result.within", { p: percent(verdict.p_inside) })}` : ""}</span></p>`
      : html`<p class="small soft">${reading.function === "look" ? "" : t("verdict.none")}</p>`}
    ${reading.evidence?.doubt > 0.2 && html`<p class="mark open"><${Icon} name="care" />${t("result.doubt", { share: percent(reading.evidence.doubt) })}</p>`}
    <div class="foot"><details open=${open}><summary>${t("result.more")}</summary><div class="stack">
      ${(reading.verdicts ?? []).map((one, index) => html`<${Verdict} key=${one.limit.id + index} verdict=${one} job=${job} reading=${reading} index=${index} />`)}
      <div class="stack tight"><h3>${t("moved.title")}</h3><${Moved} reading=${reading} /></div>
      ${reading.evidence?.expected?.length > 0 && html`<div class="stack tight"><h3>${t("bands.after")}</h3>
        <${Bands} bands=${reading.evidence.expected} unit=${reading.unit} value=${shownValue(reading)} /></div>`}
      ${reading.evidence?.sentence && html`<p class="small">${said(reading.evidence.sentence)}</p>`}
    </div></details>${children}</div>
    ${meta && html`<p class="small soft">${meta}</p>`}
  </section>`;
}

function shownValue(reading) {
  if (!reading.shown) return null;
  return reading.shown.kind === "overload" ? "OL" : reading.shown.value;
}
