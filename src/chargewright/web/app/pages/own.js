// A reading of one's own: any dial position between any two points in any state.
import { html, useEffect, useState } from "../vendor/ui.js";
import { t, word } from "../core/i18n.js";
import { jobOf } from "../core/jobs.js";
import { points } from "../core/known.js";
import { go, link, route } from "../core/router.js";
import { typed } from "../core/units.js";
import { Sheet } from "../parts/dialog.js";
import { Page, Waits } from "../parts/frame.js";
import { Choice, Tick } from "../parts/fields.js";
import { Pad } from "../parts/pad.js";
import { Picture } from "../parts/picture.js";
import { Probes, StateChips, circuitPath } from "../parts/step.js";
import { stageNow } from "./bench.js";
import { complain } from "../parts/toast.js";

const FUNCTIONS = ["dc_v", "ac_v", "ohm", "diode", "dc_a", "clamp_a"];
const SPEEDS = ["off", "cranking", "idle", "mid", "high", "rpm"];
const START = { function: "dc_v", plus: "battery_pos", minus: "battery_neg", engine: "off", rpm: "", lights_on: false, key_on: false, plug_in: true, battery_in: true, hot: false };

export function OwnPage() {
  const [, id] = route.value.parts;
  const job = jobOf(id);
  const [form, setForm] = useState(START);
  const [open, setOpen] = useState(false);
  const set = (fields) => setForm({ ...form, ...fields });
  useEffect(() => { if (!job.page.value) job.load(); }, [id]);
  const page = job.page.value;
  if (!page) return html`<${Page} title=${t("own.title")} back=${link("job", id)}><${Waits} /></${Page}>`;
  const state = stateOf(form);
  const places = points(page.card.machine.class).map((one) => [one.id ?? one.word ?? one.point ?? one, word("point", one.id ?? one.word ?? one.point ?? one, one.title)]);
  const send = async (text) => {
    setOpen(false);
    const body = { function: form.function, plus: form.plus, minus: form.minus, state, text, stage: stageNow(job) };
    await job.record(body, { title: `${word("function", form.function)}, ${word("point", form.plus)} – ${word("point", form.minus)}`, text }).catch(complain);
    go("job", id, "check");
  };
  return html`<${Page} title=${t("own.title")} back=${link("job", id, "plan")}><form class="stack" onSubmit=${(e) => { e.preventDefault(); setOpen(true); }}>
    <${Choice} label=${t("step.dial")} value=${form.function} options=${FUNCTIONS.map((one) => [one, word("function", one)])} onChange=${(v) => set({ function: v })} />
    <div class="grid2"><${Choice} label=${t("probe.red")} value=${form.plus} options=${places} onChange=${(v) => set({ plus: v })} />
      <${Choice} label=${t("probe.black")} value=${form.minus} options=${places} onChange=${(v) => set({ minus: v })} /></div>
    <${Picture} path=${circuitPath(id, { ...form, check: null })} missing=${html``} />
    <${Choice} label=${t("own.engine")} value=${form.engine} options=${SPEEDS.map((one) => [one, t(`own.${one}`)])} onChange=${(v) => set({ engine: v })} />
    ${form.engine === "rpm" && html`<label class="field">${t("own.rpm_is")}<input inputmode="numeric" value=${form.rpm} onInput=${(e) => set({ rpm: e.target.value })} /></label>`}
    <div class="grid2"><${Tick} label=${t("state.key_on")} value=${form.key_on || state.engine !== "off"} onChange=${(v) => set({ key_on: v })} />
      <${Tick} label=${t("state.lights_on")} value=${form.lights_on} onChange=${(v) => set({ lights_on: v })} />
      <${Tick} label=${t("state.plug_out")} value=${!form.plug_in} onChange=${(v) => set({ plug_in: !v })} />
      <${Tick} label=${t("state.battery_out")} value=${!form.battery_in} onChange=${(v) => set({ battery_in: !v })} />
      <${Tick} label=${t("state.hot")} value=${form.hot} onChange=${(v) => set({ hot: v })} /></div>
    <button class="main">${t("bench.read")}</button>
    <p class="small soft">${t("own.refused")}</p>
    ${open && html`<${Sheet} title=${word("function", form.function)} id="pad" onClose=${() => setOpen(false)}><${Probes} step=${form} /><${StateChips} state=${{ ...state, rpm: Number(state.rpm) || null }} />
      <${Pad} func=${form.function} unit=${form.function === "ohm" ? "ohm" : "V"} onEnter=${send} /></${Sheet}>`}
  </form></${Page}>`;
}

function stateOf(form) {
  const running = !["off", "cranking"].includes(form.engine);
  const rpm = form.engine === "rpm" ? typed(form.rpm) : running ? form.engine : undefined;
  const state = {
    engine: running ? "running" : form.engine,
    key_on: form.key_on || form.engine !== "off",
    lights_on: form.lights_on,
    plug_in: form.plug_in,
    battery_in: form.battery_in,
    warmth: form.hot ? "hot" : "cold",
  };
  return rpm === undefined || rpm === null ? state : { ...state, rpm };
}
