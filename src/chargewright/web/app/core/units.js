// Figures for people. Inside and on the wire: V, ohm, A, C, km, m; other units convert here only.
import { decimal, figured } from "./i18n.js";
import { settings } from "./settings.js";

const SIGNS = { V: "V", ohm: "Ω", A: "A" };

function comma(text) {
  return text.replace(".", decimal());
}

export function fixed(value, places) {
  return comma(Number(value).toFixed(places));
}

/** Return 0.0000123 with three figures as 0.0000123, never as 1.23e-5. */
export function figures(value, count = 3) {
  if (value === 0 || !Number.isFinite(value)) return comma(String(value));
  const places = Math.max(0, count - 1 - Math.floor(Math.log10(Math.abs(value))));
  return comma(value.toFixed(Math.min(places, 12)));
}

/** Return a figure the service wrote ("8.8 to 11.1 V", "22.0 kohm") as this phone's language writes it. */
export function written(text) {
  return text && figured(text).replace(/ohm$/, "Ω");
}

/** Return a quantity in the multiple a meter would show: 0.461 V as 461 mV. */
export function quantity(value, unit, count = 3) {
  if (value === null || value === undefined) return "–";
  const size = Math.abs(value);
  const [factor, prefix] =
    size !== 0 && size < 0.5 && unit !== "ohm" ? [1e3, "m"]
    : size >= 1e6 ? [1e-6, "M"]
    : size >= 1e3 ? [1e-3, "k"]
    : [1, ""];
  const scaled = value * factor;
  return `${figures(scaled, Math.abs(scaled) >= 1000 ? 4 : count)}\u00a0${prefix}${SIGNS[unit] ?? unit}`;
}

export function percent(share) {
  if (share === null || share === undefined) return "–";
  if (share < 0.01) return "<1\u00a0%"; // nothing here is ever certain
  if (share > 0.99) return ">99\u00a0%";
  return `${Math.round(share * 100)}\u00a0%`;
}

export function minutes(value) {
  if (value === null || value === undefined) return "–";
  if (value >= 90) return `${fixed(value / 60, 1)}\u00a0h`;
  return `${value < 10 && value % 1 ? fixed(value, 1) : Math.round(value)}\u00a0min`;
}

export const us = () => settings.value.units === "us";

export const TEMPERATURE = {
  get unit() { return us() ? "°F" : "°C"; },
  show: (c) => (us() ? c * 1.8 + 32 : c),
  read: (shown) => (us() ? (shown - 32) / 1.8 : shown),
};
export const DISTANCE = {
  get unit() { return us() ? "mi" : "km"; },
  show: (km) => (us() ? km / 1.609344 : km),
  read: (shown) => (us() ? shown * 1.609344 : shown),
};
export const LENGTH = {
  get unit() { return us() ? "ft" : "m"; },
  show: (m) => (us() ? m / 0.3048 : m),
  read: (shown) => (us() ? shown * 0.3048 : shown),
};

export function temperature(c) {
  return `${figures(Math.round(TEMPERATURE.show(c) * 10) / 10, 2)}\u00a0${TEMPERATURE.unit}`;
}

export function distance(km) {
  return `${Math.round(DISTANCE.show(km)).toLocaleString(settings.value.language)}\u00a0${DISTANCE.unit}`;
}

/** Dates as this phone writes them, where it speaks the chosen language. */
function locale() {
  const { language } = settings.value;
  return navigator.languages?.find((one) => one.toLowerCase().startsWith(language)) ?? language;
}

export function when(iso) {
  if (!iso) return "";
  return new Date(iso).toLocaleString(locale(), { dateStyle: "short", timeStyle: "short" });
}

export function day(iso) {
  return iso ? new Date(iso).toLocaleDateString(locale()) : "";
}

/** Return a typed figure as a number, or null. A comma is taken for the decimal point. */
export function typed(text) {
  const plain = String(text).trim().replace(",", ".");
  return plain === "" || Number.isNaN(Number(plain)) ? null : Number(plain);
}
