// What the number pad has collected, and the text it stands for, in the form the service reads.
export const UNITS = {
  dc_v: ["V", "mV"], ac_v: ["V", "mV"], diode: ["V", "mV"], ohm: ["ohm", "kohm", "Mohm"],
  dc_a: ["A", "mA"], clamp_a: ["A", "mA"],
};
export const UNIT_SIGNS = { V: "V", mV: "mV", ohm: "Ω", kohm: "kΩ", Mohm: "MΩ", A: "A", mA: "mA" };
const FACTORS = { V: 1, mV: 1e-3, ohm: 1, kohm: 1e3, Mohm: 1e6, A: 1, mA: 1e-3 };
const HEADS = { about: "about ", over: ">", under: "<" };
const MOST = 18;

export const blank = (unit) => ({ figure: "", head: "", special: "", unit });

/** Return the pad after one key: a digit, ".", "-", "back", "clear", "to", "OL", "beep" or a head. */
export function pressed(pad, key) {
  if (key === "OL" || key === "beep") return { ...pad, special: pad.special === key ? "" : key, figure: "", head: "" };
  if (key in HEADS) return { ...pad, special: "", head: pad.head === key ? "" : key };
  if (key === "clear") return blank(pad.unit);
  if (key === "back") return pad.special ? { ...pad, special: "" } : { ...pad, figure: pad.figure.replace(/( to |.)$/, "") };
  const plain = { ...pad, special: "" };
  const current = plain.figure.split(" to ").at(-1);
  if (key === "to") return current && !plain.figure.includes(" to ") ? { ...plain, head: "", figure: `${plain.figure} to ` } : plain;
  if (key === "-") {
    const turned = current.startsWith("-") ? current.slice(1) : `-${current}`;
    return { ...plain, figure: plain.figure.slice(0, plain.figure.length - current.length) + turned };
  }
  if (key === "." && current.includes(".")) return plain;
  if (plain.figure.length >= MOST) return plain;
  return { ...plain, figure: plain.figure + (key === "." && !/\d$/.test(current) ? "0." : key) };
}

/** Return the text as it would be typed on the command line, or "" while nothing is there. */
export function textOf(pad) {
  if (pad.special) return pad.special;
  const figure = pad.figure.replace(/ to -?$/, "").replace(/^-$/, "");
  if (!figure) return "";
  return `${HEADS[pad.head] ?? ""}${figure} ${pad.unit}`;
}

/** Return the figure in V, ohm or A for the picture, "OL", or null. */
export function valueOf(pad) {
  if (pad.special) return pad.special === "OL" ? "OL" : 0;
  const first = Number.parseFloat(pad.figure);
  return Number.isNaN(first) ? null : first * FACTORS[pad.unit];
}
