// A new job in under a minute: four taps and a name; what was chosen last time is chosen already.
import { html, useEffect, useState } from "../vendor/ui.js";
import { freshId, post } from "../core/api.js";
import { complaints, machines, meters } from "../core/known.js";
import { t, word } from "../core/i18n.js";
import { go, link } from "../core/router.js";
import { remember, settings } from "../core/settings.js";
import { DISTANCE, TEMPERATURE, typed } from "../core/units.js";
import { Choice, Segments, Text, Tick } from "../parts/fields.js";
import { Page } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { complain } from "../parts/toast.js";

export const CHEMISTRIES = ["flooded", "agm", "gel", "lifepo4"];
export const STANDARDS = ["en", "sae", "din", "iec", "jis", "mca"];

export function NewPage() {
  const { last } = settings.value;
  const [id] = useState(() => freshId("j"));
  const [busy, setBusy] = useState(false);
  const [form, setForm] = useState({ machine: last.machine ?? "", label: "", complaint: "", words: "", chemistry: last.chemistry ?? "", ah: "", cca: "", standard: last.standard ?? "en", age: "",
    meter: last.meter ?? "", nulled: last.nulled ?? false, ambient: last.ambient ?? TEMPERATURE.show(20), km: "" });
  const set = (fields) => setForm((held) => ({ ...held, ...fields }));
  // looked at when it is set, not when it is drawn: a choice made in between must stand
  const fill = (name, first) => first && setForm((held) => (held[name] ? held : { ...held, [name]: first }));
  useEffect(() => { fill("machine", machines()[0]?.[0]); }, [machines().length]);
  useEffect(() => { fill("meter", meters()[0]?.id); }, [meters().length]);
  const begin = async (event) => {
    event.preventDefault();
    if (busy || !form.machine) return;
    setBusy(true);
    const { machine, chemistry, standard, meter, nulled, ambient } = form;
    remember({ machine, chemistry, standard, meter, nulled, ambient });
    try {
      await post("/jobs", bodyOf(id, form));
      go("job", id);
    } catch (error) {
      complain(error);
      setBusy(false);
    }
  };
  return html`<${Page} title=${t("new.heading")} back=${link("jobs")}><form class="stack" onSubmit=${begin}>
    <section class="card stack">
      <${Choice} label=${t("new.machine")} value=${form.machine} options=${machines()} onChange=${(v) => set({ machine: v })} />
      <${Text} label=${t("new.label")} hint=${t("new.label_hint")} value=${form.label} onInput=${(v) => set({ label: v })} id="label" maxlength="200" />
    </section>
    <section class="card stack"><fieldset><legend>${t("new.complaint")}</legend><div class="grid2 complaints">
      ${complaints().map((one) => html`<button type="button" key=${one.id} data-complaint=${one.id} aria-pressed=${String(form.complaint === one.id)}
        onClick=${() => set({ complaint: form.complaint === one.id ? "" : one.id })}>${word("complaint", one.id, one.title)}</button>`)}</div></fieldset></section>
    <section class="card stack">
      <${Segments} label=${t("new.battery")} value=${form.chemistry} options=${[["", t("new.unknown")], ...CHEMISTRIES.map((one) => [one, word("chemistry", one)])]} onChange=${(v) => set({ chemistry: v })} />
      <${Choice} label=${t("new.meter")} value=${form.meter} options=${meters().map((one) => [one.id, word("meter", one.id, one.title)])} onChange=${(v) => set({ meter: v })} />
      <${Tick} label=${t("new.nulled")} value=${form.nulled} onChange=${(v) => set({ nulled: v })} />
    </section>
    <button class="main enter" id="begin" disabled=${busy || !form.machine}><${Icon} name="good" />${t("new.begin")}</button>
    <details class="card"><summary>${t("new.more")}</summary><div class="stack">
      <label class="field">${t("new.words")}<textarea value=${form.words} onInput=${(e) => set({ words: e.target.value })}></textarea></label>
      <div class="grid2">
        <${Text} label=${t("new.ah")} unit="Ah" numeric=${true} value=${form.ah} onInput=${(v) => set({ ah: v })} />
        <${Text} label=${t("new.cca")} unit="A" numeric=${true} value=${form.cca} onInput=${(v) => set({ cca: v })} />
        <${Choice} label=${t("new.standard")} value=${form.standard} options=${STANDARDS.map((one) => [one, one.toUpperCase()])} onChange=${(v) => set({ standard: v })} />
        <${Text} label=${t("new.age")} numeric=${true} value=${form.age} onInput=${(v) => set({ age: v })} />
        <${Text} label=${t("new.ambient")} unit=${TEMPERATURE.unit} numeric=${true} value=${form.ambient} onInput=${(v) => set({ ambient: v })} />
        <${Text} label=${t("new.mileage")} unit=${DISTANCE.unit} numeric=${true} value=${form.km} onInput=${(v) => set({ km: v })} />
      </div><a href=${link("workshop", "sheets")}>${t("new.own_sheet")}</a></div></details>
  </form></${Page}>`;
}

function bodyOf(id, form) {
  const body = { id, label: form.label.trim() };
  if (form.complaint || form.words) body.complaint = { kind: form.complaint || null, text: form.words };
  if (form.machine.startsWith("sheet:")) body.sheet = form.machine.slice(6);
  else body.class = form.machine;
  const battery = {};
  const put = (name, value) => { if (value !== null && value !== "") battery[name] = value; };
  put("chemistry", form.chemistry);
  put("capacity_ah", typed(form.ah));
  if (typed(form.cca) !== null) { put("cca_a", typed(form.cca)); put("cca_standard", form.standard); }
  put("age_years", typed(form.age));
  if (Object.keys(battery).length) body.battery = battery;
  if (form.meter) body.meter = { card: form.meter, leads_nulled: form.nulled };
  const ambient = typed(form.ambient);
  if (ambient !== null) body.ambient_c = Math.round(TEMPERATURE.read(ambient) * 10) / 10;
  const km = typed(form.km);
  if (km !== null) body.mileage_km = Math.round(DISTANCE.read(km));
  return body;
}
