// Icons of our own, drawn on a 24 grid with one stroke. They stand beside words, never alone.
import { html } from "../vendor/ui.js";

const PATHS = {
  back: "M15 5l-7 7 7 7",
  menu: "M4 7h16M4 12h16M4 17h16",
  check: "M5 20l6-9 M15 4l4 4-7 7-4 1 1-4z",
  causes: "M4 6h14M4 12h9M4 18h5",
  readings: "M5 4h14v16H5zM8 9h8M8 13h8M8 17h4",
  plan: "M6 5v14M6 7h9l3 2.5-3 2.5H6M6 14h6",
  more: "M5 12h.01M12 12h.01M19 12h.01",
  good: "M4 12l5 6L20 6",
  bad: "M6 6l12 12M18 6L6 18",
  open: "M8 9a4 4 0 1 1 5.5 3.7c-1 .5-1.5 1.1-1.5 2.3M12 19h.01",
  care: "M12 4l9 16H3zM12 10v4M12 17h.01",
  clock: "M12 4a8 8 0 1 0 0 16 8 8 0 0 0 0-16zM12 8v4l3 2",
  undo: "M9 6L4 11l5 5M4 11h10a6 6 0 0 1 0 9h-2",
  add: "M12 5v14M5 12h14",
  find: "M10.5 4a6.5 6.5 0 1 0 0 13 6.5 6.5 0 0 0 0-13zM15.5 15.5L21 21",
  link: "M4 12h6M14 12h6M10 8v8M14 8v8",
  cut: "M4 12h5M15 12h5M9 8v8M15 8v8M8 20L16 4",
  photo: "M4 8h4l2-3h4l2 3h4v11H4zM12 10a3.5 3.5 0 1 0 0 7 3.5 3.5 0 0 0 0-7z",
  report: "M6 3h9l4 4v14H6zM14 3v5h5M9 12h7M9 16h7",
  phone: "M7 3h10v18H7zM11 18h2",
  send: "M12 16V5M7 10l5-5 5 5M5 20h14",
  wrench: "M14 7a4 4 0 0 1 5-4l-2.5 3 1 2 2 .5L22 6a4 4 0 0 1-6 4L8 20l-3-3 9-8z",
  battery: "M3 8h18v11H3zM7 8V5h3v3M14 8V5h3v3M6 12h3M16 12h3M17.500 10.500v3",
  wave: "M3 12c2-8 4-8 6 0s4 8 6 0 4-8 6 0",
  scooter: "M5 17a2 2 0 1 0 0 .01M19 17a2 2 0 1 0 0 .01M7 17h9l2-9h-3",
};

export function Icon({ name }) {
  return html`<svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false" fill="none"
    stroke="currentColor" stroke-width="2.4" stroke-linecap="round" stroke-linejoin="round"><path d=${PATHS[name]} /></svg>`;
}
