// What a check would show under each leading cause, as bands on one scale, with the reading dropped
// in while it is being typed.
import { html } from "../vendor/ui.js";
import { t, word } from "../core/i18n.js";
import { percent, quantity, written } from "../core/units.js";

const DECADES = 40; // a scale wider than this is drawn by decades

function scaleOf(values) {
  let low = Math.min(...values);
  let high = Math.max(...values);
  if (low > 0 && high / low > DECADES) {
    const [a, b] = [Math.log(low / 1.3), Math.log(high * 1.3)];
    return { at: (v) => (v <= 0 ? 0 : clip((Math.log(v) - a) / (b - a))), low, high };
  }
  const room = Math.max((high - low) * 0.12, Math.abs(high) * 0.01, 1e-9);
  low -= room;
  high += room;
  return { at: (v) => clip((v - low) / (high - low)), low, high };
}

const clip = (share) => Math.min(1, Math.max(0, share));

/** Bands of one check. `value` is what was read or is being typed: a number, "OL" or null. */
export function Bands({ bands, unit, value = null, limit }) {
  const rows = bands ?? [];
  if (!rows.length) return null;
  if (rows[0].sign !== null && rows[0].sign !== undefined) return html`<${Signs} rows=${rows} />`;
  const figuresAll = rows.flatMap((r) => [r.low, r.high]).filter((v) => v !== null);
  if (limit) figuresAll.push(...[limit.low, limit.high].filter((v) => v !== null && v !== undefined));
  const known = typeof value === "number";
  if (!figuresAll.length) figuresAll.push(0, 1);
  const span = Math.max(...figuresAll) - Math.min(...figuresAll) || Math.abs(figuresAll[0]) || 1;
  // a slip of the decimal point must not squeeze the bands together
  if (known && value > Math.min(...figuresAll) - span && value < Math.max(...figuresAll) + span) figuresAll.push(value);
  const scale = scaleOf(figuresAll);
  const open = rows.some((row) => row.overload);
  return html`<div class=${open ? "bands with-ol" : "bands"}>
    <ul>${rows.map((row) => html`<li key=${row.cause}>
      <span class="row apart small"><span>${word("cause", row.cause, row.title)}</span><span class="figure strong">${written(row.text)}</span></span>
      <span class="band" aria-hidden="true">
        ${row.low !== null && html`<i style=${{ left: `${scale.at(row.low) * 100}%`, right: `${(1 - scale.at(row.high)) * 100}%` }}></i>
          <b style=${{ left: `${scale.at(row.middle) * 100}%` }}></b>`}
        ${known && html`<u style=${{ left: `${scale.at(value) * 100}%` }}></u>`}
      </span>
      ${open && html`<span class=${`ol ${row.overload ? "" : "none"} ${value === "OL" ? "hit" : ""}`} aria-hidden="true">
        ${!row.overload ? "" : row.overload > 0.995 ? "OL" : `OL ${percent(row.overload)}`}</span>`}
    </li>`)}</ul>
    <p class="scale small soft figure" aria-hidden="true"><span>${quantity(scale.low, unit)}</span>
      ${known && html`<span class="strong here">▲ ${quantity(value, unit, 4)}</span>`}<span>${quantity(scale.high, unit)}</span></p>
  </div>`;
}

function Signs({ rows }) {
  return html`<ul class="bars">${rows.map((row) => html`<li key=${row.cause}>
    <span class="row apart small"><span>${word("cause", row.cause, row.title)}</span>
      <span class="figure strong">${t("bands.seen", { share: percent(row.sign) })}</span></span>
    <span class="bar" aria-hidden="true"><i style=${{ "--share": row.sign }}></i></span></li>`)}</ul>`;
}

