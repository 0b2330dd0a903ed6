// The job card: what is known of the machine, notes, photos, what was done, reports.
import { html, useEffect, useRef, useState } from "../vendor/ui.js";
import { freshId, get, put, remove, seg, url } from "../core/api.js";
import { causeTitle, items, meters, repairTitle } from "../core/known.js";
import { t, word } from "../core/i18n.js";
import { link } from "../core/router.js";
import { TEMPERATURE, distance, figures, temperature, typed, when } from "../core/units.js";
import { Choice, Text, Tick } from "../parts/fields.js";
import { Icon } from "../parts/icons.js";
import { complain, say } from "../parts/toast.js";
import { Confirm, RepairButton, Reports } from "./decision.js";

export function Card({ job }) {
  const page = job.page.value;
  const { card } = page;
  const found = job.assessed.value?.assessment;
  return html`
    <section class="card stack tight" aria-labelledby="head"><h2 id="head">${t("card.title")}</h2><${Head} card=${card} page=${page} />
      ${card.machine.label && html`<a class="button" href=${link("machine", card.machine.label)}><${Icon} name="wave" />${t("card.history")}</a>`}</section>
    <${Reports} job=${job} />
    <${Notes} job=${job} />
    <${Photos} job=${job} />
    <${Setup} job=${job} />
    <section class="card stack tight"><h2>${t("card.done")}</h2>
      ${(card.repairs ?? []).map((one) => html`<p key=${one.at}>${one.repair ? repairTitle(card.machine.class, one.repair) : causeTitle(card.machine.class, one.cause)} <span class="small soft">${when(one.at)} ${one.note ?? ""}</span></p>`)}
      ${(card.done ?? []).map((one) => html`<p key=${one.at}>${word("check", one.act, one.act)} <span class="small soft">${when(one.at)} ${one.note ?? ""}</span></p>`)}
      ${found && html`<${RepairButton} job=${job} assessment=${found} plain=${true} /><${Confirm} job=${job} assessment=${found} />`}</section>`;
}

function Head({ card, page }) {
  const battery = card.battery ?? {};
  const rows = [
    [t("new.class"), word("class", card.machine.class, page.machine?.title ?? card.machine.class)],
    [t("new.label"), card.machine.label],
    [t("new.complaint"), [card.complaint?.kind && word("complaint", card.complaint.kind), card.complaint?.text].filter(Boolean).join(": ")],
    [t("new.battery"), [battery.chemistry && word("chemistry", battery.chemistry), battery.capacity_ah && `${figures(battery.capacity_ah, 3)} Ah`,
      battery.cca_a && `${battery.cca_a} A (${(battery.cca_standard ?? "").toUpperCase()})`, battery.age_years && t("card.age", { n: battery.age_years })].filter(Boolean).join(", ")],
    [t("new.meter"), word("meter", card.meter?.card, page.meter?.title ?? card.meter?.card ?? "") + (card.meter?.leads_nulled ? `, ${t("card.nulled")}` : "")],
    [t("new.mileage"), card.machine.mileage_km && distance(card.machine.mileage_km)],
    [t("new.ambient"), card.ambient_c !== undefined && card.ambient_c !== null && temperature(card.ambient_c)],
    [t("card.begun"), when(card.created)],
  ];
  return html`<dl class="facts">${rows.filter(([, value]) => value).map(([name, value]) => html`<div key=${name}><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>`;
}

function Notes({ job }) {
  const kept = job.page.value.card.notes ?? "";
  const [text, setText] = useState(kept);
  const [was, setWas] = useState(kept);
  useEffect(() => { if (text === was) setText(kept); setWas(kept); }, [kept]);
  const save = () => job.change("PATCH", "", { notes: { was: kept, now: text } }, { label: { title: t("notes.title"), text: "" } }).then(() => say(t("notes.kept"))).catch(complain);
  return html`<section class="card stack tight"><label class="field">${t("notes.title")}<textarea value=${text} onInput=${(e) => setText(e.target.value)}></textarea></label>
    <button disabled=${text === kept} onClick=${save}>${t("do.save")}</button></section>`;
}

/** Photos are made small on the phone before they leave it: a workshop's network is slow. */
async function smaller(file) {
  const LONGEST = 1600;
  try {
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
    const canvas = Object.assign(document.createElement("canvas"), { width: picture.width * scale, height: picture.height * scale });
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.82));
  } catch {
    return file;
  }
}

function Photos({ job }) {
  const [photos, setPhotos] = useState([]);
  const picker = useRef();
  const load = () => get(`${job.path}/photos`).then((found) => setPhotos(items(found))).catch(() => {});
  useEffect(() => { load(); }, [job.id, job.page.value.revision]);
  const add = async (event) => {
    for (const file of event.target.files) {
      await put(`${job.path}/photos/${freshId("p")}`, await smaller(file), { timeoutMs: 60000 }).catch(complain);
    }
    event.target.value = "";
    load();
  };
  return html`<section class="card stack tight" aria-labelledby="photos"><h2 id="photos">${t("photos.title")}</h2>
    <ul class="photos">${photos.map((one) => html`<li key=${one.id}><a href=${url(`${job.path}/photos/${seg(one.id)}`)} target="_blank" rel="noopener"><img loading="lazy" alt=${one.note || t("photos.one", { id: one.id })} src=${url(`${job.path}/photos/${seg(one.id)}`)} /></a>
      <button class="plain" onClick=${() => remove(`${job.path}/photos/${seg(one.id)}`).then(load).catch(complain)}>${t("photos.remove")}</button></li>`)}</ul>
    <input class="hidden" tabindex="-1" aria-hidden="true" type="file" accept="image/jpeg,image/png,image/webp" multiple ref=${picker} onChange=${add} />
    <button onClick=${() => picker.current.click()}><${Icon} name="photo" />${t("photos.add")}</button></section>`;
}

/** Change what was told at the start; two phones that say different things are both shown. */
function Setup({ job }) {
  const { card } = job.page.value;
  const [form, setForm] = useState(null);
  if (!form) return html`<button onClick=${() => setForm({ label: card.machine.label ?? "", title: card.title ?? "", meter: card.meter?.card ?? "", nulled: Boolean(card.meter?.leads_nulled), ambient: TEMPERATURE.show(card.ambient_c ?? 20) })}>${t("card.change")}</button>`;
  const set = (fields) => setForm({ ...form, ...fields });
  const save = () => {
    const changes = {};
    const differ = (name, was, now) => { if (JSON.stringify(was ?? null) !== JSON.stringify(now ?? null)) changes[name] = { was: was ?? null, now }; };
    differ("title", card.title ?? "", form.title);
    differ("label", card.machine.label ?? null, form.label || null);
    if (form.meter) differ("meter", card.meter, { ...(card.meter ?? {}), card: form.meter, leads_nulled: form.nulled });
    const ambient = typed(form.ambient);
    if (ambient !== null) differ("ambient_c", card.ambient_c ?? 20, Math.round(TEMPERATURE.read(ambient) * 10) / 10);
    if (Object.keys(changes).length) job.change("PATCH", "", changes, { label: { title: t("card.change"), text: "" } }).catch(complain);
    setForm(null);
  };
  return html`<section class="card stack"><h2>${t("card.change")}</h2>
    <${Text} label=${t("new.title_line")} value=${form.title} onInput=${(v) => set({ title: v })} />
    <${Text} label=${t("new.label")} value=${form.label} onInput=${(v) => set({ label: v })} />
    <${Choice} label=${t("new.meter")} value=${form.meter} none=${t("new.unknown")} options=${meters().map((one) => [one.id, word("meter", one.id, one.title)])} onChange=${(v) => set({ meter: v })} />
    <${Tick} label=${t("new.nulled")} value=${form.nulled} onChange=${(v) => set({ nulled: v })} />
    <${Text} label=${t("new.ambient")} unit=${TEMPERATURE.unit} numeric=${true} value=${form.ambient} onInput=${(v) => set({ ambient: v })} />
    <div class="row"><button class="main grow" onClick=${save}>${t("do.save")}</button><button onClick=${() => setForm(null)}>${t("do.cancel")}</button></div></section>`;
}
