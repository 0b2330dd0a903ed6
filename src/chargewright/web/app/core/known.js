// What the service knows and does not change during the day: classes, meters, complaints, checks.
import { signal } from "../vendor/ui.js";
import { get, seg, Unreachable } from "./api.js";
import { word } from "./i18n.js";
import { keep, kept } from "./keep.js";

const asked = new Map(); // path -> signal

/** Return a signal with the answer to a GET, from the network or, without it, from the last time. */
export function known(path) {
  if (!asked.has(path)) {
    asked.set(path, signal(null));
    refresh(path);
  }
  return asked.get(path);
}

export async function refresh(path) {
  const holder = asked.get(path) ?? asked.set(path, signal(null)).get(path);
  try {
    holder.value = await get(path);
    await keep(`known:${path}`, holder.value);
  } catch (error) {
    if (error instanceof Unreachable) holder.value ??= await kept(`known:${path}`);
    if (holder.value === null) setTimeout(() => asked.delete(path), 3000);
  }
  return holder.value;
}

/** Answers come as a list or as an object with one list in it. */
export function items(answer) {
  if (Array.isArray(answer)) return answer;
  if (!answer) return [];
  return Object.values(answer).find(Array.isArray) ?? [];
}

export const classes = () => items(known("/classes").value);
export const meters = () => items(known("/meters").value);
export const complaints = () => items(known("/complaints").value);
export const sheets = () => items(known("/sheets").value);

/** Every machine there is to choose: the classes, then the workshop's own sheets as "sheet:<id>". */
export const machines = () => [...classes().map((one) => [one.id, word("class", one.id, one.title)]), ...sheets().map((one) => [`sheet:${one.id}`, one.title || one.id])];

/** Return the class of a machine chosen so, once it is known. */
export const classOf = (machine) => (machine.startsWith("sheet:") ? sheets().find((one) => `sheet:${one.id}` === machine)?.document.class : machine);
export const causes = (classId) => items(known(`/causes?class=${seg(classId)}`).value);

/** Return what a repair is called; cards keep only its id. */
export function repairTitle(classId, id) {
  const all = causes(classId);
  return word("repair", id, all.find((one) => one.repair?.id === id)?.repair.title ?? (all.length ? id : "…"));
}

export function causeTitle(classId, id) {
  const all = causes(classId);
  return word("cause", id, all.find((one) => one.id === id)?.title ?? (all.length ? id : "…"));
}

export const points = (classId) => items(known(`/points?class=${seg(classId)}`).value);
