// Changes made at the bench, first kept on the phone, then sent in order; nothing leaves the drawer
// before the service has said that it is on its disk.
import { signal, computed } from "../vendor/ui.js";
import { ApiError, Unreachable, call, post, seg } from "./api.js";
import { keep, kept } from "./keep.js";

const DRAWER = "queue";
const RETRY_MS = 4000;
const heard = []; // called with (entry, answer) after each change that arrived

export const queue = signal([]); // {key, job, method, path, body, label, kind, state, problem}
export const reached = signal(true); // did the last call get through?
export const unsent = computed(() => queue.value.filter((entry) => entry.state === "waiting"));
export const troubled = computed(() => queue.value.filter((entry) => entry.state === "asks"));

let sending = null;
let loaded = null;

export const onArrival = (listener) => heard.push(listener);
export const ofJob = (job) => queue.value.filter((entry) => entry.job === job);

async function write(entries) {
  queue.value = entries;
  await keep(DRAWER, entries);
}

export function loadQueue() {
  loaded ??= kept(DRAWER, []).then((entries) => {
    queue.value = entries;
    if (entries.length) flush();
    addEventListener("online", flush);
    setInterval(() => unsent.value.length && flush(), RETRY_MS);
  });
  return loaded;
}

/** Keep a change on the phone and try to send it. Resolves when it is safe in either place. */
export async function submit(entry) {
  await loadQueue();
  await write([...queue.value, { state: "waiting", madeAt: new Date().toISOString(), ...entry }]);
  return flush();
}

export async function withdraw(key) {
  await write(queue.value.filter((entry) => entry.key !== key));
}

/** Answer a question the service had: send it again with other fields. */
export async function answer(key, fields) {
  await write(queue.value.map((entry) => entry.key === key
    ? { ...entry, state: "waiting", problem: null, asked: true, body: { ...entry.body, ...fields } }
    : entry));
  return flush();
}

export function flush() {
  sending ??= sendAll().finally(() => { sending = null; });
  return sending;
}

async function sendAll() {
  const stuck = new Set(); // a job whose earlier change waits for an answer keeps its order
  for (;;) {
    const next = queue.value.find((entry) => entry.state === "waiting" && !stuck.has(entry.key));
    if (!next) return;
    try {
      await sendOne(next);
      reached.value = true;
    } catch (error) {
      if (error instanceof Unreachable || error.status === 503 || error.status === 401) {
        reached.value = !(error instanceof Unreachable);
        return;
      }
      if (!(error instanceof ApiError)) throw error;
      reached.value = true;
      stuck.add(next.key);
      await mark(next.key, { state: "asks", problem: { code: error.code, text: error.message, detail: error.detail } });
    }
  }
}

async function sendOne(entry) {
  // after a repair the fault no longer says what is likely: a sound reading would look like a slip
  if (entry.kind === "reading" && !entry.asked && entry.body.stage !== "after_repair") {
    const found = await post(`/jobs/${seg(entry.job)}/readings/question`, entry.body, { timeoutMs: 8000 });
    if (found?.meant) {
      const problem = { code: "slip", text: found.question, detail: found };
      await mark(entry.key, { state: "asks", problem });
      return;
    }
    await mark(entry.key, { asked: true });
  }
  const found = await call(entry.method, entry.path, entry.body, { timeoutMs: 20000 });
  await withdraw(entry.key);
  for (const listener of heard) listener(entry, found);
}

async function mark(key, fields) {
  await write(queue.value.map((entry) => (entry.key === key ? { ...entry, ...fields } : entry)));
}
