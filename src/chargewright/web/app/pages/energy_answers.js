// Answers of the energy tools: first the sentence that matters, then figures with their span.
import { html } from "../vendor/ui.js";
import { said, t, word } from "../core/i18n.js";
import { figures, fixed, percent, us } from "../core/units.js";
import { Chart } from "../parts/chart.js";

/** An interval as a bar from its lowest to its highest value with the likeliest marked. */
function Span({ name, of, unit, scale = 1, digits = 2, bad }) {
  if (!of || of.best === null || of.best === undefined) return null;
  const say = (v) => figures(v * scale, digits);
  const text = of.low === of.high ? `${say(of.best)} ${unit}` : `${say(of.best)} ${unit} (${say(of.low)} – ${say(of.high)})`;
  return html`<div class="fact"><dt>${name}</dt><dd class=${`figure ${bad ? "worry" : ""}`}>${text}</dd></div>`;
}

const Fact = ({ name, children }) => html`<div class="fact"><dt>${name}</dt><dd>${children}</dd></div>`;
const List = ({ title, of }) => (of?.length ? html`<div><h3>${title}</h3><ul>${of.map((one) => html`<li key=${one}>${said(one)}</li>`)}</ul></div>` : null);
const Head = ({ look, children }) => html`<section class=${`card key ${look}`}><h2>${children}</h2></section>`;

function Share({ name, of }) {
  if (!of) return null;
  return html`<div><p class="row apart"><span>${name}</span><strong class="figure">${percent(of.best)} <span class="soft small">(${percent(of.low)} – ${percent(of.high)})</span></strong></p>
    <span class="band tall" aria-hidden="true"><i style=${{ left: `${of.low * 100}%`, right: `${(1 - of.high) * 100}%` }}></i><b style=${{ left: `${of.best * 100}%` }}></b></span></div>`;
}

function Battery({ found: { charge, health } }) {
  const look = health.verdict === "good" ? "good" : health.verdict === "replace" ? "bad" : "open";
  return html`<${Head} look=${look}>${word("health", health.verdict)}</${Head}>
    <section class="card stack tight">
      ${charge?.refused && html`<p class="strong">${said(charge.refused)}</p>`}
      <${Share} name=${t("energy.soc")} of=${charge?.soc ?? health.soc} />
      <p class="row apart"><span>${t("energy.done")}</span><strong class="figure">${percent(health.done)}</strong></p><span class="bar" aria-hidden="true"><i style=${{ "--share": health.done }}></i></span>
      <dl class="facts"><${Span} name=${t("energy.cranks")} of=${health.cca_a} unit="A (SAE)" digits=${3} /><${Span} name=${t("energy.capacity")} of=${health.capacity_ah} unit="Ah" /></dl>
      <ul class="bars">${health.kinds.filter(([, share]) => share > 0.005).map(([kind, share]) => html`<li key=${kind}><span class="row apart"><span>${word("kind", kind)}</span><span class="figure">${percent(share)}</span></span><span class="bar" aria-hidden="true"><i style=${{ "--share": share }}></i></span></li>`)}</ul>
      <${List} title=${t("energy.next")} of=${health.next_steps} /><${List} title=${t("energy.notes")} of=${charge?.notes} />
    </section>`;
}

function Charge({ found }) {
  if (found.refused.length) return html`<${Head} look="bad">${t("energy.refused")}</${Head}><section class="card"><ul>${found.refused.map((one) => html`<li key=${one}>${said(one)}</li>`)}</ul></section>`;
  return html`<${Head} look="good">${t("energy.charge_at", { a: figures(found.current_a.best, 2), v: fixed(found.limit_v.best, 1), h: figures(found.hours.best, 2) })}</${Head}>
    <section class="card stack tight"><dl class="facts"><${Span} name=${t("energy.current")} of=${found.current_a} unit="A" /><${Span} name=${t("energy.limit")} of=${found.limit_v} unit="V" digits=${4} />
      <${Span} name=${t("energy.float")} of=${found.float_v} unit="V" digits=${4} /><${Span} name=${t("energy.hours")} of=${found.hours} unit="h" /></dl>
      <p><strong>${t("energy.stop")}</strong> ${said(found.stop)}</p><${List} title=${t("energy.next")} of=${found.steps} /></section>
    <section class="card care"><${List} title=${t("energy.never")} of=${found.never} /></section>`;
}

function Storage({ found }) {
  return html`<${Head} look="open">${t("energy.recharge", { n: Math.round(found.recharge_every) })}</${Head}>
    <section class="card stack tight"><dl class="facts"><${Span} name=${t("energy.to_half")} of=${found.to_half} unit=${t("unit.days")} /><${Span} name=${t("energy.to_no_start")} of=${found.to_no_start} unit=${t("unit.days")} />
      <${Span} name=${t("energy.to_freezing")} of=${found.to_freezing} unit=${t("unit.days")} /></dl>
      <p>${t("energy.drain_share", { share: percent(found.drain_share) })}</p><${List} title=${t("energy.next")} of=${found.steps} /></section>`;
}

function Drain({ found: { verdict, search } }) {
  const look = verdict.colour === "green" ? "good" : verdict.colour === "red" ? "bad" : "open";
  return html`<${Head} look=${look}>${word("drain", verdict.colour)}</${Head}>
    <section class="card stack tight"><dl class="facts"><${Span} name=${t("energy.true_drain")} of=${verdict.true_ma} unit="mA" /><${Fact} name=${t("energy.limit_ma")}>${figures(verdict.limit_ma, 2)} mA <span class="small soft">${said(verdict.limit_source)}</span></${Fact}></dl>
      ${search && html`<p><strong>${t("energy.pull")}</strong> ${search.pull.join(", ")}</p><p class="small">${t("energy.pull_how")}</p>`}
      <${List} title=${t("energy.notes")} of=${verdict.cautions} /></section>`;
}

function Budget({ found }) {
  const bad = found.cruise.negative > 0.5;
  const worry = found.idle.negative > 0.5;
  const Row = ({ name, at }) => html`<tr><td>${name}<br /><span class="small soft">${Math.round(at.rpm)} rpm</span></td><td class="figure">${figures(at.available_a.best, 2)} A<br /><span class="small soft">${figures(at.available_a.low, 2)} – ${figures(at.available_a.high, 2)}</span></td>
    <td class="figure">${figures(at.load_a, 2)} A</td><td class="figure">${percent(at.negative)}</td></tr>`;
  return html`<${Head} look=${bad ? "bad" : worry ? "open" : "good"}>${t(bad ? "energy.budget_bad" : worry ? "energy.budget_idle" : "energy.budget_good")}</${Head}>
    <section class="card stack tight"><table><thead><tr><th></th><th class="figure">${t("energy.gives")}</th><th class="figure">${t("energy.takes")}</th><th class="figure">${t("energy.short")}</th></tr></thead>
      <tbody><${Row} name=${t("energy.idle")} at=${found.idle} /><${Row} name=${t("energy.cruise")} at=${found.cruise} /></tbody></table>
      <dl class="facts"><${Span} name=${t("energy.even")} of=${found.break_even_rpm} unit="rpm" digits=${3} /><${Span} name=${t("energy.room")} of=${found.headroom_a} unit="A" />
        <${Span} name=${t("energy.heat_shunt")} of=${found.heat?.stator_shunt_w} unit="W" /><${Span} name=${t("energy.heat_series")} of=${found.heat?.stator_series_w} unit="W" />
        ${found.wire && html`<${Fact} name=${t("energy.wire")}>${wire(found.wire)}</${Fact}>`}</dl>
      <${List} title=${t("energy.notes")} of=${found.notes} /></section>`;
}

/** Wire sizes are metric on the wire; the nearest gauge in US units: d = 0.127 mm * 92^((36-n)/39), ASTM B258. */
function wire({ mm2, drop_v: drop, fuse_a: fuse }) {
  const gauge = Math.floor(36 - (39 * Math.log(Math.sqrt((4 * mm2) / Math.PI) / 0.127)) / Math.log(92) + 1e-9);
  return t("energy.wire_is", { size: us() ? `AWG ${gauge}` : `${figures(mm2, 2)} mm²`, drop: fixed(drop, 2), fuse: figures(fuse, 2) });
}

function Ride({ found }) {
  const { days } = found;
  const last = days.at(-1);
  const look = last.starts > 0.98 ? "good" : last.starts > 0.9 ? "open" : "bad";
  const x = days.map((one) => one.day + 1);
  return html`<${Head} look=${look}>${t("energy.starts", { day: last.day + 1, share: percent(last.starts) })}</${Head}>
    <section class="card stack"><h3>${t("energy.soc")}</h3>
      <${Chart} title=${t("energy.soc")} yUnit="%" xUnit=${t("unit.days")} curves=${[{ title: t("energy.soc"), x, y: days.map((one) => one.soc.best * 100) }]} bands=${[{ x, low: days.map((one) => one.soc.low * 100), high: days.map((one) => one.soc.high * 100) }]} />
      <h3>${t("energy.start_chance")}</h3><${Chart} title=${t("energy.start_chance")} yUnit="%" xUnit=${t("unit.days")} curves=${[{ title: t("energy.start_chance"), x, y: days.map((one) => one.starts * 100) }]} />
      ${found.unfit > 0.005 && html`<p class="small">${t("energy.unfit", { share: percent(found.unfit) })}</p>`}</section>`;
}

function Choose({ found: { choice, lithium } }) {
  return html`<${Head} look="good">${t("energy.choose", { cca: Math.round(choice.cca_a.high) })}</${Head}>
    <section class="card stack tight"><dl class="facts"><${Span} name=${t("energy.cca")} of=${choice.cca_a} unit="A (SAE)" digits=${3} /><${Span} name=${t("energy.capacity")} of=${choice.capacity_ah} unit="Ah" /><${Span} name=${t("energy.label_ah")} of=${choice.label_ah} unit="Ah" /></dl>
      <${List} title=${t("energy.notes")} of=${choice.notes} />${lithium && html`<h3>${t("energy.lithium")}: ${said(lithium.fit)}</h3><${List} title=${t("energy.why")} of=${lithium.reasons} />`}</section>`;
}

export const ANSWERS = { battery: Battery, charge: Charge, storage: Storage, drain: Drain, budget: Budget, ride: Ride, "choose-battery": Choose };
