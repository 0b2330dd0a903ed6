// What a workshop keeps of its own: spec sheets from manuals, its meters, its prices, lists of loads.
import { html, useEffect, useState } from "../vendor/ui.js";
import { freshId, get, put, remove, seg } from "../core/api.js";
import { classes, items, refresh } from "../core/known.js";
import { t, word } from "../core/i18n.js";
import { go, link, route } from "../core/router.js";
import { typed } from "../core/units.js";
import { Choice, Text } from "../parts/fields.js";
import { Page, Waits } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { complain, say, wordsOf } from "../parts/toast.js";
import { linesOf, loadOf } from "./energy.js";

const KINDS = ["sheets", "meters", "prices", "loads"];

export function WorkshopPage() {
  const [, kind, name] = route.value.parts;
  if (!KINDS.includes(kind)) {
    return html`<${Page} title=${t("menu.workshop")} back=${link("menu")}><ul class="list menu">${KINDS.map((one) => html`<li key=${one}><a href=${link("workshop", one)}>
      <span class="row"><${Icon} name="wrench" /><span class="grow"><strong>${t(`workshop.${one}`)}</strong><br /><span class="small soft">${t(`workshop.${one}.under`)}</span></span></span></a></li>`)}</ul></${Page}>`;
  }
  if (kind === "prices") return html`<${Prices} />`;
  return name ? html`<${Paper} key=${name} kind=${kind} name=${name} />` : html`<${Papers} kind=${kind} />`;
}

function Papers({ kind }) {
  const [found, setFound] = useState(null);
  useEffect(() => { get(`/${kind}`).then((a) => setFound(items(a))).catch((e) => { setFound([]); complain(e); }); }, [kind]);
  return html`<${Page} title=${t(`workshop.${kind}`)} under=${t(`workshop.${kind}.under`)} back=${link("workshop")}><div class="stack">
    <a class="button main" href=${link("workshop", kind, freshId(kind[0]))}><${Icon} name="add" />${t(`workshop.${kind}.new`)}</a>
    ${found === null ? html`<${Waits} />` : found.length === 0 && html`<p class="card">${t("workshop.none")}</p>`}
    <ul class="list">${(found ?? []).map((one) => { const id = one.id ?? one.name; const shipped = one.own === false || one.shipped === true; return html`<li key=${id}><a href=${link("workshop", kind, id)}><span><strong>${word(kind === "meters" ? "meter" : kind, id, one.title ?? one.document?.title ?? id)}</strong></span><span class="small soft">${shipped ? t("workshop.shipped") : ""}</span></a></li>`; })}</ul>
  </div></${Page}>`;
}

const FORMS = { sheets: Sheet, meters: Meter, loads: Loads };
const EMPTY = { sheets: { title: "", class: "", spec: {} }, meters: null, loads: { title: "", loads: [] } };

/** One paper: read it, change it, put it back; another phone's change in between is shown, not lost. */
function Paper({ kind, name }) {
  const [held, setHeld] = useState(null);
  const [other, setOther] = useState(null);
  const [problem, setProblem] = useState("");
  useEffect(() => {
    get(`/${kind}/${seg(name)}`).then((found) => setHeld({ document: found.document ?? found, seen: found.revision ?? 0, own: found.own ?? found.revision !== undefined }))
      .catch(() => setHeld({ document: EMPTY[kind], seen: 0, own: true, fresh: true }));
  }, [kind, name]);
  const save = async (document, seen = held.seen) => {
    setProblem("");
    try {
      await put(`/${kind}/${seg(name)}`, { document, seen });
      await refresh(`/${kind}`);
      say(t("workshop.kept"));
      go("workshop", kind);
    } catch (error) {
      if (error.code === "conflict") setOther({ ...error.detail, mine: document });
      else setProblem(wordsOf(error));
    }
  };
  const away = () => remove(`/${kind}/${seg(name)}`).then(() => refresh(`/${kind}`)).then(() => go("workshop", kind)).catch(complain);
  if (!held) return html`<${Page} title=${t(`workshop.${kind}`)} back=${link("workshop", kind)}><${Waits} /></${Page}>`;
  const Form = FORMS[kind];
  return html`<${Page} title=${(kind === "meters" && word("meter", name, "")) || held.document?.title || t(`workshop.${kind}.new`)} back=${link("workshop", kind)}><div class="stack">
    ${problem && html`<p class="card bad" role="alert">${problem}</p>`}
    ${other && html`<section class="card bad stack tight" role="alert"><h2>${t("conflict.title")}</h2><pre class="small">${JSON.stringify(other.here, null, 1)}</pre>
      <div class="row"><button onClick=${() => save(other.mine, other.revision)}>${t("conflict.keep_mine")}</button><button onClick=${() => go("workshop", kind)}>${t("conflict.keep_theirs")}</button></div></section>`}
    <${Form} document=${held.document} name=${name} onSave=${save} />
    ${held.own && !held.fresh && html`<button onClick=${away}>${t("workshop.remove")}</button>`}</div></${Page}>`;
}

// fields of a spec sheet: "range" has a low and a high end, either may be left open
const SPEC = [["stator_ohm", "range", "Ω"], ["ac_v", "range", "V"], ["ac_rpm", "number", "rpm"], ["regulated_v", "range", "V"], ["regulated_rpm", "number", "rpm"], ["rated_a", "number", "A"], ["rated_rpm", "number", "rpm"],
  ["charge_a", "range", "A"], ["charge_rpm", "number", "rpm"], ["drain_limit_ma", "number", "mA"], ["idle_rpm", "number", "rpm"], ["poles", "number", ""]];

const ends = (value) => (Array.isArray(value) ? value : typeof value === "number" ? [value, value] : [value?.min ?? "", value?.max ?? ""]);

function range(low, high) {
  const [a, b] = [typed(low), typed(high)];
  if (a !== null && b !== null) return [a, b];
  if (a !== null) return { min: a };
  return b === null ? null : { max: b };
}

function Sheet({ document, name, onSave }) {
  const spec = document.spec ?? {};
  const [form, setForm] = useState(() => ({ title: document.title ?? "", class: document.class || classes()[0]?.id || "",
    ...Object.fromEntries(SPEC.flatMap(([id, kind]) => (kind === "range" ? [[`${id}.0`, ends(spec[id])[0]], [`${id}.1`, ends(spec[id])[1]]] : [[id, spec[id] ?? ""]]))) }));
  const set = (id, value) => setForm((held) => ({ ...held, [id]: value }));
  useEffect(() => { if (!form.class && classes().length) set("class", classes()[0].id); }, [classes().length]);
  const save = (event) => {
    event.preventDefault();
    const known = new Set(SPEC.map(([id]) => id));
    const kept = Object.fromEntries(Object.entries(spec).filter(([id]) => !known.has(id)));
    for (const [id, kind] of SPEC) {
      const value = kind === "range" ? range(form[`${id}.0`], form[`${id}.1`]) : typed(form[id]);
      if (value !== null) kept[id] = value;
    }
    onSave({ title: form.title || name, class: form.class, spec: kept });
  };
  return html`<form class="card stack" onSubmit=${save}><p class="small soft">${t("sheet.hint")}</p>
    <${Text} label=${t("workshop.name")} value=${form.title} onInput=${(v) => set("title", v)} />
    <${Choice} label=${t("new.machine")} value=${form.class} options=${classes().map((one) => [one.id, word("class", one.id, one.title)])} onChange=${(v) => set("class", v)} />
    <div class="grid2">${SPEC.map(([id, kind, unit]) => kind === "range"
      ? html`<fieldset key=${id}><legend>${t(`sheet.${id}`)}${unit && ` (${unit})`}</legend><div class="two"><input inputmode="decimal" aria-label=${`${t(`sheet.${id}`)} ${t("range.low")}`} placeholder=${t("range.low")} value=${form[`${id}.0`]} onInput=${(e) => set(`${id}.0`, e.target.value)} />
          <input inputmode="decimal" aria-label=${`${t(`sheet.${id}`)} ${t("range.high")}`} placeholder=${t("range.high")} value=${form[`${id}.1`]} onInput=${(e) => set(`${id}.1`, e.target.value)} /></div></fieldset>`
      : html`<${Text} key=${id} label=${t(`sheet.${id}`)} unit=${unit} numeric=${true} value=${form[id]} onInput=${(v) => set(id, v)} />`)}</div>
    <button class="main">${t("do.save")}</button></form>`;
}

/** A meter of one's own begins as one that ships; percent and counts come from its manual. */
function Meter({ document, name, onSave }) {
  const [base, setBase] = useState(document);
  const [shipped, setShipped] = useState([]);
  const [form, setForm] = useState(null);
  useEffect(() => { get("/meters").then((found) => setShipped(items(found))).catch(complain); }, []);
  useEffect(() => {
    if (base) setForm({ title: document ? base.title : "", cells: Object.fromEntries(Object.entries(base.functions).flatMap(([id, one]) => [[`${id}.percent`, one.percent], [`${id}.counts`, one.counts]])), lead: base.functions.ohm?.lead_ohm ?? "" });
  }, [base]);
  const begin = (id) => get(`/meters/${seg(id)}`).then((found) => setBase(found.document ?? found)).catch(complain);
  if (!base || !form) return html`<section class="card stack"><${Choice} label=${t("meter.like")} value="" none=${t("meter.choose")} options=${shipped.map((one) => [one.id, word("meter", one.id, one.title)])} onChange=${begin} /></section>`;
  const cell = (id, value) => setForm({ ...form, cells: { ...form.cells, [id]: value } });
  const save = (event) => {
    event.preventDefault();
    const functions = Object.fromEntries(Object.entries(base.functions).map(([id, one]) => [id, { ...one, percent: typed(form.cells[`${id}.percent`]) ?? one.percent, counts: typed(form.cells[`${id}.counts`]) ?? one.counts, ...(id === "ohm" && typed(form.lead) !== null ? { lead_ohm: typed(form.lead) } : {}) }]));
    onSave({ ...base, id: name, title: form.title || name, source: t("meter.source"), functions });
  };
  return html`<form class="card stack" onSubmit=${save}><${Text} label=${t("workshop.name")} value=${form.title} onInput=${(v) => setForm({ ...form, title: v })} />
    <table><thead><tr><th>${t("step.dial")}</th><th>${t("meter.percent")}</th><th>${t("meter.counts")}</th></tr></thead><tbody>${Object.keys(base.functions).map((id) => html`<tr key=${id}><td>${word("function", id)}</td>
      ${["percent", "counts"].map((field) => html`<td key=${field}><input inputmode="decimal" aria-label=${`${word("function", id)} ${t(`meter.${field}`)}`} value=${form.cells[`${id}.${field}`]} onInput=${(e) => cell(`${id}.${field}`, e.target.value)} /></td>`)}</tr>`)}</tbody></table>
    <${Text} label=${t("meter.lead")} unit="Ω" numeric=${true} value=${form.lead} onInput=${(v) => setForm({ ...form, lead: v })} /><button class="main">${t("do.save")}</button></form>`;
}

function Loads({ document, name, onSave }) {
  const [title, setTitle] = useState(document.title ?? "");
  const [text, setText] = useState(() => linesOf(document.loads ?? []));
  const save = (event) => {
    event.preventDefault();
    onSave({ title: title || name, loads: text.split("\n").map((one) => one.trim()).filter(Boolean).map(loadOf) });
  };
  return html`<form class="card stack" onSubmit=${save}><${Text} label=${t("workshop.name")} value=${title} onInput=${setTitle} />
    <label class="field">${t("field.loads")}<textarea rows="8" placeholder=${t("field.loads.like")} value=${text} onInput=${(e) => setText(e.target.value)}></textarea></label><button class="main">${t("do.save")}</button></form>`;
}

function Prices() {
  const [held, setHeld] = useState(null);
  const [problem, setProblem] = useState("");
  const load = () => get("/prices").then((found) => setHeld({ document: { ...(found.document ?? found) }, seen: found.revision ?? 0 })).catch(complain);
  useEffect(() => { load(); }, []);
  const numbers = Object.entries(held?.document ?? {}).filter(([, value]) => typeof value === "number");
  const set = (id, value) => setHeld({ ...held, typed: { ...held.typed, [id]: value } });
  const save = async (event) => {
    event.preventDefault();
    const document = Object.fromEntries(numbers.map(([id, value]) => [id, typed(held.typed?.[id] ?? value) ?? value]));
    setProblem("");
    await put("/prices", { document, seen: held.seen }).then(() => { say(t("workshop.kept")); load(); }).catch((error) => setProblem(wordsOf(error)));
  };
  return html`<${Page} title=${t("workshop.prices")} under=${t("workshop.prices.under")} back=${link("workshop")}>${!held ? html`<${Waits} />` : html`<form class="card stack" onSubmit=${save}>
    ${problem && html`<p class="mark bad" role="alert">${problem}</p>`}
    <div class="grid2">${numbers.map(([id, value]) => html`<${Text} key=${id} label=${t(`prices.${id}`)} numeric=${true} value=${held.typed?.[id] ?? value} onInput=${(v) => set(id, v)} />`)}</div>
    <button class="main">${t("do.save")}</button><button type="button" onClick=${() => remove("/prices").then(load).catch(complain)}>${t("prices.back")}</button></form>`}</${Page}>`;
}
