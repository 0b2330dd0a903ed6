// What would it read? Choose a machine and what is wrong with it, slide the speed, see every check.
import { html, useEffect, useState } from "../vendor/ui.js";
import { get, post, seg } from "../core/api.js";
import { classOf, items, machines, meters } from "../core/known.js";
import { said, t, word } from "../core/i18n.js";
import { link, route } from "../core/router.js";
import { settings } from "../core/settings.js";
import { Chart } from "../parts/chart.js";
import { Choice, Tick } from "../parts/fields.js";
import { Page, Waits } from "../parts/frame.js";
import { written } from "../core/units.js";
import { complain } from "../parts/toast.js";

const SHOWN = 14;

export function WouldPage() {
  const { query } = route.value;
  const [form, setForm] = useState({ machine: query.class ?? settings.value.last.machine ?? "", cause: query.cause ?? "", severity: 0.5, rpm: 3000, lights: true, meter: settings.value.last.meter ?? "trms-6000" });
  const [causes, setCauses] = useState([]);
  const [found, setFound] = useState(null);
  const [busy, setBusy] = useState(false);
  const [search, setSearch] = useState("");
  const set = (fields) => setForm((held) => ({ ...held, ...fields }));
  const machine = form.machine || machines()[0]?.[0];
  const kind = machine && classOf(machine);
  useEffect(() => { if (kind) get(`/causes?class=${seg(kind)}`).then((a) => setCauses(items(a))).catch(complain); }, [kind]);
  useEffect(() => {
    if (!kind) return undefined;
    let wanted = true;
    const pause = setTimeout(async () => {
      setBusy(true);
      const body = { ...(machine === kind ? { class: kind } : { sheet: machine.slice(6) }), rpm: form.rpm, lights_on: form.lights, meter: form.meter };
      try {
        const one = await post("/simulate", { ...body, cause: form.cause || null, severity: form.cause ? form.severity : null });
        if (wanted) setFound(one);
      } catch (error) { if (wanted) complain(error); }
      if (wanted) setBusy(false);
    }, 250);
    return () => { wanted = false; clearTimeout(pause); };
  }, [machine, kind, form.cause, form.severity, form.rpm, form.lights, form.meter]);
  const words = search.toLowerCase().split(/\s+/).filter(Boolean);
  const all = (found?.readings ?? []).filter((one) => words.every((w) => `${word("check", one.check, one.title)} ${one.title}`.toLowerCase().includes(w)));
  const changed = form.cause && !words.length ? [...all].sort((a, b) => far(b) - far(a)) : all;
  return html`<${Page} title=${t("menu.would-read")} back=${link("menu")}><div class="sides-by-side">
    <section class="card stack">
      <${Choice} label=${t("new.machine")} value=${machine} options=${machines()} onChange=${(v) => set({ machine: v, cause: "" })} />
      <${Choice} label=${t("would.cause")} value=${form.cause} none=${t("would.sound")} options=${causes.filter((one) => one.id !== "no_fault").map((one) => [one.id, word("cause", one.id, one.title)])} onChange=${(v) => set({ cause: v })} />
      ${form.cause && html`<label class="field">${t("would.severity")}<input type="range" min="0.05" max="0.95" step="0.05" value=${form.severity} onInput=${(e) => set({ severity: Number(e.target.value) })} /><span class="row apart small soft"><span>${t("would.slight")}</span><span>${t("would.severe")}</span></span></label>`}
      <label class="field">${t("would.rpm")} <output class="figure">${form.rpm}</output><input type="range" id="rpm" min="800" max="9000" step="100" value=${form.rpm} onInput=${(e) => set({ rpm: Number(e.target.value) })} /></label>
      <${Tick} label=${t("state.lights_on")} value=${form.lights} onChange=${(v) => set({ lights: v })} />
      <${Choice} label=${t("new.meter")} value=${form.meter} options=${meters().map((one) => [one.id, word("meter", one.id, one.title)])} onChange=${(v) => set({ meter: v })} />
    </section>
    <div class="stack" aria-busy=${String(busy)}>
      ${!found ? html`<${Waits} words=${t("wait.reckoning")} />` : html`
        <${Waves} waves=${found.waveforms} />
        <section class="card stack"><h2>${t("would.readings")}</h2>
          <label><span class="hidden">${t("plan.search")}</span><input type="search" placeholder=${t("plan.search")} value=${search} onInput=${(e) => setSearch(e.target.value)} /></label>
          <table class="would"><thead><tr><th>${t("would.check")}</th><th class="figure">${t("would.reads")}</th>${form.cause && html`<th class="figure">${t("would.sound_one")}</th>`}</tr></thead>
            <tbody>${changed.slice(0, words.length ? 60 : SHOWN).map((one) => html`<tr key=${one.check}><td>${word("check", one.check, one.title)}</td><td class="figure strong">${written(one.text)}</td>${form.cause && html`<td class="figure soft">${written(one.sound_text)}</td>`}</tr>`)}</tbody></table>
          <p class="small soft">${t("plan.hits", { n: all.length })}</p></section>`}
    </div></div></${Page}>`;
}

/** How far a check tells this machine from a sound one: those that tell it surely come first. */
function far(one) {
  if (one.told_apart) return 2;
  return one.text === one.sound_text ? 0 : 1;
}

function Waves({ waves }) {
  const all = items(waves);
  if (!all.length) return null;
  return html`<div class="grid2">${all.map((one, index) => html`<section class="card stack tight" key=${index}><h3>${one.title ? said(one.title) : [one.plus, one.minus].filter(Boolean).map((p) => word("point", p, p)).join(" – ")}</h3>
    <${Chart} title=${said(one.title ?? "")} xUnit="ms" yUnit=${one.unit ?? "V"} curves=${[{ title: "", x: (one.t_s ?? one.t_ms ?? []).map((s) => (one.t_s ? s * 1000 : s)), y: one.v ?? one.values ?? [] }]} /></section>`)}</div>`;
}
