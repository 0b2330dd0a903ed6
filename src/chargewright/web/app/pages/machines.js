// A machine over the years: its jobs, and the same check on it each time.
import { html, useEffect, useState } from "../vendor/ui.js";
import { get } from "../core/api.js";
import { items } from "../core/known.js";
import { t, word } from "../core/i18n.js";
import { link, route } from "../core/router.js";
import { day, quantity, when, written } from "../core/units.js";
import { Chart } from "../parts/chart.js";
import { Page, Waits } from "../parts/frame.js";
import { complain } from "../parts/toast.js";

export function MachinesPage() {
  const [found, setFound] = useState(null);
  const [text, setText] = useState("");
  useEffect(() => {
    const pause = setTimeout(() => get(`/machines?search=${encodeURIComponent(text)}`).then((a) => setFound(items(a))).catch((e) => { setFound([]); complain(e); }), 150);
    return () => clearTimeout(pause);
  }, [text]);
  return html`<${Page} title=${t("menu.machines")} back=${link("menu")}><div class="stack">
    <label><span class="hidden">${t("machines.search")}</span><input type="search" placeholder=${t("machines.search")} value=${text} onInput=${(e) => setText(e.target.value)} /></label>
    ${found === null ? html`<${Waits} />` : found.length === 0 && html`<p class="card">${t("machines.none")}</p>`}
    <ul class="list">${(found ?? []).map((one) => { const label = one.label ?? one.machine ?? one; return html`<li key=${label}><a href=${link("machine", label)}><strong>${label}</strong><span class="small soft">${one.jobs !== undefined ? t("machines.jobs", { n: one.jobs }) : ""}</span></a></li>`; })}</ul>
  </div></${Page}>`;
}

export function MachinePage() {
  const label = route.value.parts[1];
  const [tracks, setTracks] = useState(null);
  const [jobs, setJobs] = useState([]);
  useEffect(() => {
    get(`/history?machine=${encodeURIComponent(label)}`).then((found) => setTracks(items(found.tracks ?? found))).catch((e) => { setTracks([]); complain(e); });
    get(`/jobs?machine=${encodeURIComponent(label)}`).then((found) => setJobs(items(found))).catch(() => {});
  }, [label]);
  return html`<${Page} title=${label} under=${t("machine.under")} back=${link("machines")}><div class="stack">
    <section class="card stack tight"><h2>${t("machine.jobs")}</h2><ul class="list">${jobs.map((one) => html`<li key=${one.id}><a href=${link("job", one.id)}><span>${one.title || one.id}</span><span class="small soft">${when(one.updated)}</span></a></li>`)}</ul></section>
    ${tracks === null ? html`<${Waits} />` : tracks.length === 0 && html`<p class="card">${t("machine.none")}</p>`}
    <div class="grid2">${(tracks ?? []).map((track, index) => html`<${Track} key=${index} track=${track} />`)}</div>
  </div></${Page}>`;
}

function Track({ track }) {
  const all = track.points ?? track.readings ?? track.entries ?? [];
  const numbers = all.filter((one) => typeof one.value === "number");
  const unit = track.unit ?? all[0]?.unit ?? "";
  const title = word("check", track.check, track.title ?? track.check);
  return html`<section class="card stack tight"><h3>${title}</h3>
    ${new Set(numbers.map((one) => day(one.at))).size > 1 && html`<${Chart} title=${title} yUnit=${unit === "ohm" ? "Ω" : unit} curves=${[{ title, dots: true, x: numbers.map((one) => Date.parse(one.at)), y: numbers.map((one) => one.value) }]} xText=${numbers.map((one) => day(one.at))} />`}
    <table><tbody>${all.map((one, index) => html`<tr key=${index}><td class="small">${day(one.at)}</td><td class="figure">${written(one.text) ?? quantity(one.value, unit)}</td><td class="small soft">${one.stage === "after_repair" ? t("stage.after_repair") : ""}</td></tr>`)}</tbody></table></section>`;
}
