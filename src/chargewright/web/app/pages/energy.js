// Battery and energy: seven questions, each a short form and its answer. The fields are the options
// of the command of the same name.
import { html, useEffect, useState } from "../vendor/ui.js";
import { get, post, seg } from "../core/api.js";
import { classes, items, meters } from "../core/known.js";
import { t, word } from "../core/i18n.js";
import { link, route } from "../core/router.js";
import { remember, settings } from "../core/settings.js";
import { LENGTH, TEMPERATURE, typed } from "../core/units.js";
import { Choice, Text, Tick } from "../parts/fields.js";
import { Page, Waits } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { wordsOf } from "../parts/toast.js";
import { ANSWERS } from "./energy_answers.js";
import { rideSamples } from "./energy_ride.js";
import { CHEMISTRIES, STANDARDS } from "./new.js";

// one list per tool: first what is usually asked, then what may be added
const TOOLS = {
  battery: [["chemistry", "ah", "rested", "rest_hours", "temp"], ["cca", "standard", "age", "meter", "charged", "load_test_v", "load_test_a", "cranking", "cranking_a", "milliohm", "shown_cca", "gave_ah", "gravity"]],
  charge: [["chemistry", "ah", "rested", "temp", "charger_a"], ["cca", "standard", "age", "charger_v", "swollen", "leaking"]],
  storage: [["machine", "chemistry", "ah", "soc", "temp", "disconnected"], ["cca", "standard", "age", "drain_ma", "coldest"]],
  drain: [["machine", "shown_ma"], ["meter_u", "burden", "fuses"]],
  budget: [["machine", "cruise", "loads"], ["wire_a", "wire_m", "measured"]],
  ride: [["machine", "ride_idle", "ride_town", "ride_cruise", "days", "rides", "temp"], ["extra_a", "drain_ma"]],
  "choose-battery": [["machine", "chemistry", "coldest", "stands"], ["drain_ma", "regulated_low", "regulated_high"]],
};
const START = { standard: "en", soc: "100", temp: null, days: "30", rides: "2", ride_idle: "2", ride_town: "8", ride_cruise: "5", stands: "14", shown_ma: "" };
const UNIT = { ah: "Ah", cca: "A", rested: "V", rest_hours: "h", charger_a: "A", charger_v: "V", soc: "%", drain_ma: "mA", shown_ma: "mA", meter_u: "mA", burden: "Ω", cruise: "rpm", wire_a: "A",
  load_test_v: "V", load_test_a: "A", cranking: "V", cranking_a: "A", milliohm: "mΩ", shown_cca: "A", gave_ah: "Ah", extra_a: "A", ride_idle: "min", ride_town: "min", ride_cruise: "min", regulated_low: "V", regulated_high: "V" };
const TICKS = new Set(["charged", "swollen", "leaking", "disconnected"]);
const WARM = new Set(["temp", "coldest"]);

export function EnergyPage() {
  const tool = route.value.parts[1];
  if (!TOOLS[tool]) {
    return html`<${Page} title=${t("menu.energy")} back=${link("menu")}><ul class="list menu">
      ${Object.keys(TOOLS).map((one) => html`<li key=${one}><a href=${link("energy", one)}><span class="row"><${Icon} name="battery" /><span class="grow"><strong>${t(`energy.${one}`)}</strong><br /><span class="small soft">${t(`energy.${one}.under`)}</span></span></span></a></li>`)}</ul></${Page}>`;
  }
  return html`<${Tool} key=${tool} tool=${tool} />`;
}

function Tool({ tool }) {
  const { last } = settings.value;
  const [form, setForm] = useState({ ...START, machine: last.machine ?? "", chemistry: last.chemistry || (tool === "choose-battery" ? "agm" : ""), standard: last.standard ?? "en", ah: last.ah ?? "" });
  const [found, setFound] = useState(null);
  const [busy, setBusy] = useState(false);
  const [problem, setProblem] = useState("");
  const set = (name, value) => setForm((held) => ({ ...held, [name]: value }));
  useEffect(() => { if (!form.machine && classes().length) set("machine", classes()[0].id); }, [classes().length]);
  useEffect(() => {
    if (tool !== "budget" || !form.machine) return;
    get(`/classes/${seg(form.machine)}/loads`).then((found) => set("loads", linesOf(items(found.loads ?? found)))).catch(() => {});
  }, [tool, form.machine]);
  const ask = async (event) => {
    event.preventDefault();
    setBusy(true);
    setProblem("");
    remember({ ah: form.ah, chemistry: form.chemistry });
    try {
      setFound(await post(`/energy/${tool}`, bodyOf(tool, form)));
    } catch (error) {
      setFound(null);
      setProblem(wordsOf(error));
    }
    setBusy(false);
  };
  const Answer = ANSWERS[tool];
  const [usual, more] = TOOLS[tool];
  const field = (name) => html`<${Field} key=${name} name=${name} value=${form[name]} onChange=${(v) => set(name, v)} />`;
  return html`<${Page} title=${t(`energy.${tool}`)} under=${t(`energy.${tool}.under`)} back=${link("energy")}><div class="sides-by-side">
    <form class="card stack" onSubmit=${ask}><div class="grid2">${usual.map(field)}</div>
      <details><summary>${t("energy.more")}</summary><div class="grid2">${more.map(field)}</div></details>
      <button class="main" id="ask" disabled=${busy}>${busy ? t("wait.reckoning") : t("energy.ask")}</button></form>
    <div class="stack" aria-live="polite">${problem && html`<p class="card bad" role="alert">${problem}</p>`}${busy && !found && html`<${Waits} words=${t("wait.reckoning")} />`}${found && html`<${Answer} found=${found} />`}
      <p class="small soft">${t("care.maker")} ${t("care.battery")}</p></div></div></${Page}>`;
}

function Field({ name, value, onChange }) {
  const label = t(`field.${name}`);
  if (name === "machine") return html`<${Choice} label=${t("new.machine")} value=${value} options=${classes().map((one) => [one.id, word("class", one.id, one.title)])} onChange=${onChange} />`;
  if (name === "chemistry") return html`<${Choice} label=${label} value=${value} none=${t("new.unknown")} options=${CHEMISTRIES.map((one) => [one, word("chemistry", one)])} onChange=${onChange} />`;
  if (name === "standard") return html`<${Choice} label=${label} value=${value} options=${STANDARDS.map((one) => [one, one.toUpperCase()])} onChange=${onChange} />`;
  if (name === "meter") return html`<${Choice} label=${t("new.meter")} value=${value} none=${t("new.unknown")} options=${meters().map((one) => [one.id, word("meter", one.id, one.title)])} onChange=${onChange} />`;
  if (TICKS.has(name)) return html`<${Tick} label=${label} value=${value} onChange=${onChange} />`;
  if (name === "loads" || name === "fuses" || name === "measured") return html`<label class="field">${label}<textarea placeholder=${t(`field.${name}.like`)} value=${value ?? ""} onInput=${(e) => onChange(e.target.value)}></textarea></label>`;
  const unit = WARM.has(name) ? TEMPERATURE.unit : name === "wire_m" ? LENGTH.unit : UNIT[name];
  return html`<${Text} label=${label} unit=${unit} numeric=${name !== "gravity"} value=${value} onInput=${onChange} />`;
}

const lines = (text) => String(text ?? "").split("\n").map((one) => one.trim()).filter(Boolean);

export function bodyOf(tool, form) {
  const names = TOOLS[tool].flat();
  const body = {};
  for (const name of names) {
    const value = form[name];
    if (value === undefined || value === null || value === "" || value === false) continue;
    if (TICKS.has(name)) body[name] = true;
    else if (["machine", "chemistry", "standard", "meter"].includes(name)) body[name] = value;
    else if (WARM.has(name)) body[name] = TEMPERATURE.read(typed(value));
    else if (typed(value) !== null && !/^(ride_|wire_|load_test_|regulated_)/.test(name)) body[name] = typed(value);
  }
  const pair = (name, a, b) => { if (typed(a) !== null && typed(b) !== null) body[name] = [typed(a), typed(b)]; };
  if (!names.includes("cca") || body.cca === undefined) if (tool !== "battery" || body.shown_cca === undefined) delete body.standard;
  if (body.soc !== undefined) body.soc /= 100;
  if (tool === "battery") {
    pair("load_test", form.load_test_v ?? "", form.load_test_a ?? "");
    if (form.gravity) body.gravity = String(form.gravity).split(/[\s;]+/).map(typed).filter((v) => v !== null);
  }
  if (tool === "drain" && lines(form.fuses).length) body.fuses = lines(form.fuses).map((one) => one.replace(/\s*[:=]\s*/, "="));
  if (tool === "budget") {
    if (typed(form.wire_a ?? "") !== null && typed(form.wire_m ?? "") !== null) body.wire = [typed(form.wire_a), LENGTH.read(typed(form.wire_m))];
    if (lines(form.measured).length) body.measured = lines(form.measured).map((one) => one.split(/[\s;]+/).map(typed));
    if (lines(form.loads).length) body.loads = lines(form.loads).map(loadOf);
  }
  if (tool === "choose-battery") pair("regulated", form.regulated_low ?? "", form.regulated_high ?? "");
  if (tool === "ride") body.samples = rideSamples(form, classes().find((one) => one.id === form.machine));
  return body;
}

/** Loads as lines that ``loadOf`` reads back. */
export const linesOf = (loads) => loads.map((one) => `${one.name} ${one.watts ?? one.amps} ${one.watts === undefined || one.watts === null ? "A" : "W"}${(one.duty ?? 1) === 1 ? "" : ` ${one.duty}`}`).join("\n");

/** "heated grips 36 W 0.6" as one load: name, watts or amperes, share of the time it is on. */
export function loadOf(line) {
  const [, name, value, unit, duty] = /^(.*?)\s+([\d.,]+)\s*([wWaA])(?:\s+([\d.,]+))?$/.exec(line) ?? [];
  if (!name) return { name: line, watts: null };
  const load = { name, [unit.toLowerCase() === "w" ? "watts" : "amps"]: typed(value) };
  return duty ? { ...load, duty: typed(duty) } : load;
}

