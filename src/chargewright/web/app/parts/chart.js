// Two pictures of our own: curves over one axis, and points over the years. Words stand beside them.
import { html } from "../vendor/ui.js";
import { figures } from "../core/units.js";

const W = 360;
const H = 200;
const LEFT = 46;
const BOTTOM = 32;
const TOP = 20;
const COLOURS = ["var(--cw-first)", "var(--cw-second)", "var(--cw-third)", "var(--cw-soft)"];
const DASHES = ["", "8 4", "2 4", "12 3 2 3"];

function ticks(low, high, count = 4) {
  const rough = (high - low) / count || 1;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((one) => one >= rough);
  const first = Math.ceil(low / step) * step;
  return Array.from({ length: Math.floor((high - first) / step + 1e-9) + 1 }, (_, i) => first + i * step);
}

/** Curves: [{title, x[], y[], dots}], a band [{x[], low[], high[]}] and labels of the axes. */
export function Chart({ curves, xUnit, yUnit, title, bands = [], xText, level = [] }) {
  const xs = curves.flatMap((one) => one.x);
  const ys = [...curves.flatMap((one) => one.y), ...bands.flatMap((one) => [...one.low, ...one.high]), ...level.map((one) => one.at)];
  if (!xs.length) return null;
  let [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  if (x1 === x0) { x0 -= 1; x1 += 1; }
  const room = (y1 - y0) * 0.08 || Math.abs(y1) * 0.1 || 1;
  y0 -= room; y1 += room;
  const px = (x) => LEFT + ((x - x0) / (x1 - x0)) * (W - LEFT - 16);
  const py = (y) => TOP + (1 - (y - y0) / (y1 - y0)) * (H - BOTTOM - TOP);
  const line = (x, y) => x.map((one, i) => `${px(one).toFixed(1)},${py(y[i]).toFixed(1)}`).join(" ");
  return html`<figure class="chart"><svg viewBox=${`0 0 ${W} ${H}`} role="img" aria-label=${title}>
      ${ticks(y0, y1).map((y) => html`<g key=${y}><path d=${`M${LEFT} ${py(y)}H${W - 10}`} stroke="var(--cw-grid)" /><text x=${LEFT - 5} y=${py(y) + 4} text-anchor="end" font-size="12" fill="currentColor">${figures(Number(y.toPrecision(6)), 3)}</text></g>`)}
      ${(xText ? [] : ticks(x0, x1)).map((x) => html`<text key=${x} x=${px(x)} y=${H - BOTTOM + 16} text-anchor="middle" font-size="12" fill="currentColor">${figures(Number(x.toPrecision(6)), 3)}</text>`)}
      ${xText && curves[0].x.map((x, i) => html`<text key=${i} x=${px(x)} y=${H - BOTTOM + 16} text-anchor=${i ? (i === curves[0].x.length - 1 ? "end" : "middle") : "start"} font-size="12" fill="currentColor">${i === 0 || i === curves[0].x.length - 1 ? xText[i] : ""}</text>`)}
      <text x=${LEFT - 5} y="11" text-anchor="end" font-size="12" font-weight="700" fill="currentColor">${yUnit}</text>
      ${xUnit && html`<text x=${W - 10} y=${H - 1} text-anchor="end" font-size="12" font-weight="700" fill="currentColor">${xUnit}</text>`}
      ${bands.map((one) => html`<polygon points=${`${line(one.x, one.high)} ${line([...one.x].reverse(), [...one.low].reverse())}`} fill="var(--deep-soft)" />`)}
      ${level.map((one) => html`<path key=${one.at} d=${`M${LEFT} ${py(one.at)}H${W - 10}`} stroke="var(--cw-bad)" stroke-width="2" stroke-dasharray="6 4" />`)}
      ${curves.map((one, i) => html`<g key=${one.title}><polyline points=${line(one.x, one.y)} fill="none" stroke=${COLOURS[i % 4]} stroke-width="2.5" stroke-dasharray=${DASHES[i % 4]} stroke-linejoin="round" />
        ${one.dots && one.x.map((x, k) => html`<circle key=${k} cx=${px(x)} cy=${py(one.y[k])} r="5" fill=${COLOURS[i % 4]} stroke="var(--paper)" stroke-width="1.5" />`)}</g>`)}
    </svg>
    ${curves.length > 1 && html`<figcaption class="row small">${curves.map((one, i) => html`<span key=${one.title} class="row"><svg width="34" height="10" viewBox="0 0 34 10" aria-hidden="true"><path d="M1 5H33" stroke=${COLOURS[i % 4]} stroke-width="3" stroke-dasharray=${DASHES[i % 4]} /></svg>${one.title}</span>`)}</figcaption>`}</figure>`;
}
