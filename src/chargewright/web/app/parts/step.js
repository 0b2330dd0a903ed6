// One check for the bench: where the probes go, the dial, how the machine stands, what hurts.
import { html } from "../vendor/ui.js";
import { said, t, word } from "../core/i18n.js";
import { seg } from "../core/api.js";
import { settings } from "../core/settings.js";
import { fixed, minutes } from "../core/units.js";
import { Bands } from "./bands.js";
import { Care } from "./frame.js";
import { Icon } from "./icons.js";
import { Picture } from "./picture.js";

/** The machine's state as short words, only what matters. */
export function stateChips(state) {
  const chips = [];
  if (state.engine === "running") {
    const speed = state.rpm_max ? `${Math.round(state.rpm)}–${Math.round(state.rpm_max)}` : state.rpm && Math.round(Number(state.rpm) || 0);
    chips.push(speed ? t("state.running_at", { rpm: speed }) : t("state.running"));
  } else chips.push(t(`state.${state.engine}`));
  if (state.engine === "off") chips.push(t(state.key_on ? "state.key_on" : "state.key_off"));
  if (state.engine === "running") chips.push(t(state.lights_on ? "state.lights_on" : "state.lights_off"));
  chips.push(t(state.plug_in ? "state.plug_in" : "state.plug_out"));
  if (!state.battery_in) chips.push(t("state.battery_out"));
  if (state.warmth === "hot") chips.push(t("state.hot"));
  if (state.load && state.load !== "none") chips.push(t(`state.${state.load}`));
  if (state.battery_charged) chips.push(t("state.charged"));
  return chips;
}

export function StateChips({ state, dial }) {
  return html`<ul class="chips">${stateChips(state).map((one) => html`<li key=${one}>${said(one)}</li>`)}</ul>`;
}

/** Red and black probe, told by letter and shape as well as by colour. */
export function Probes({ step }) {
  const { function: func, plus, minus } = step;
  const place = (point) => word("point", point, point);
  if (!func || func === "look") return plus ? html`<p>${place(plus)}${minus && minus !== plus ? ` – ${place(minus)}` : ""}</p>` : null;
  if (plus === minus) return html`<p class="strong">${t("probe.both", { place: place(plus) })}</p>`;
  const note = func === "clamp_a" ? t("probe.clamp") : func === "dc_a" ? t("probe.series") : "";
  return html`<dl class="probes">
    <div><dt class="probe plus"><span aria-hidden="true">+</span>${t("probe.red")}</dt><dd>${place(plus)}</dd></div>
    <div><dt class="probe minus"><span aria-hidden="true">−</span>${t("probe.black")}</dt><dd>${place(minus)}</dd></div>
    ${note && html`<div class="note small">${note}</div>`}
  </dl>`;
}

export function dialWords(step) {
  const name = word("function", step.function, step.function);
  const range = /,\s*(.+)$/.exec(step.dial ?? "")?.[1];
  if (!range) return name;
  return `${name}, ${range === "highest range first" ? t("dial.highest") : range.replace(/ range$/, ` ${t("dial.range")}`).replace("ohm", "Ω")}`;
}

const showCare = (event) => event.currentTarget.closest(".step").querySelector(".card.care").scrollIntoView({ block: "center" });

export function Step({ step, job, title, proof, children }) {
  const look = step.function === "look" || !step.function;
  return html`<section class="card key stack step" aria-labelledby="step-title">
    <div class="row apart">
      <p class="small soft strong">${title}</p>
      ${step.minutes !== undefined && html`<p class="row small strong"><${Icon} name="clock" />${minutes(step.minutes)}${step.wait_h ? ` + ${t("step.wait", { h: fixed(step.wait_h, 0) })}` : ""}</p>`}
    </div>
    <h2 id="step-title">${word("check", step.check, step.title)}</h2>
    <div class="dial row"><span class="small soft">${t("step.dial")}</span><strong>${look ? t("step.look") : dialWords(step)}</strong></div>
    <${Probes} step=${step} />
    <${StateChips} state=${step.state} />
    ${step.cautions?.length > 0 && html`<button type="button" class="care-first" onClick=${showCare}><${Icon} name="care" /><span>${t("step.care_first", { first: said(step.cautions[0]) })}${step.cautions.length > 1 ? ` (+${step.cautions.length - 1})` : ""}</span></button>`}
    ${step.function && html`<${Picture} path=${circuitPath(job, step)} alt=${t("step.picture", { title: word("check", step.check, step.title) })} missing=${look ? html`` : undefined} />`}
    ${proof && html`<p class="mark good"><${Icon} name="good" />${proof}</p>`}
    ${children}
    ${step.how && html`<p>${said(step.how)}</p>`}
    ${step.cautions?.length > 0 && html`<${Care} title=${t("step.care")}><ul>${step.cautions.map((one) => html`<li key=${one}>${said(one)}</li>`)}</ul></${Care}>`}
    ${step.expected?.length > 0 && html`<div class="stack tight"><h3>${t(look ? "bands.signs" : "bands.title")}</h3>
      <${Bands} bands=${step.expected} unit=${step.unit} /></div>`}
    ${step.parts?.length > 1 && html`<details><summary>${t("step.minutes")}</summary><table><tbody>
      ${step.parts.map((part) => html`<tr key=${part.what}><td>${said(part.what)}</td><td class="figure">${minutes(part.minutes)}</td></tr>`)}</tbody></table></details>`}
  </section>`;
}

export function circuitPath(job, step) {
  if (step.check) return `/jobs/${seg(job)}/steps/${seg(step.check)}/circuit.svg?language=${settings.value.language}`;
  const query = new URLSearchParams({ function: step.function, plus: step.plus, minus: step.minus, plug_in: step.plug_in !== false, battery_in: step.battery_in !== false, language: settings.value.language });
  return `/jobs/${seg(job)}/circuit.svg?${query}`;
}
