// The jobs this phone has open: the card, what it means, and the line to the service that keeps
// both up to date on every phone of the workshop.
import { signal } from "../vendor/ui.js";
import { ApiError, Unreachable, freshId, get, remove, seg } from "./api.js";
import { keep, kept } from "./keep.js";
import { onArrival, ofJob, reached, submit, withdraw } from "./queue.js";

const open = new Map(); // id -> Job

class Job {
  constructor(id) {
    this.id = id;
    this.page = signal(null); // JobPage of the service
    this.assessed = signal(null); // Assessed of the service
    this.trouble = signal(null); // why there is no page
    this.live = signal(false);
    this.before = signal({}); // cause -> share before the last change, for the bars
    this.since = signal([]); // readings of others that one sent late has met
  }

  get path() { return `/jobs/${seg(this.id)}`; }
  get revision() { return this.page.value?.revision ?? 0; }

  async load() {
    try {
      this.page.value = await get(this.path);
      this.trouble.value = null;
      reached.value = true;
      keep(`page:${this.id}`, this.page.value);
      await this.assess();
    } catch (error) {
      await this.fallBack(error);
    }
  }

  async fallBack(error) {
    if (error instanceof Unreachable) {
      reached.value = false;
      this.page.value ??= await kept(`page:${this.id}`);
      this.assessed.value ??= await kept(`assessed:${this.id}`);
    }
    if (!this.page.value || error instanceof ApiError) this.trouble.value = error;
  }

  async assess() {
    const found = await get(`${this.path}/assessment?revision=${this.revision}&wait_s=25`);
    if (found && (found.assessment || found.error)) this.take(found);
    else if (this.listeners) setTimeout(() => this.assess().catch(() => {}), 500);
  }

  take(found) {
    const held = this.assessed.value;
    if (held && found.revision < held.revision) return;
    if (held?.assessment && found.assessment && found.revision > held.revision) {
      if (held.partly !== found.revision) this.before.value = sharesOf(held.assessment);
    }
    this.assessed.value = found;
    keep(`assessed:${this.id}`, found);
  }

  /** What can be said at once, before the next check has been worked out. */
  glimpse({ revision, glance }) {
    const held = this.assessed.value;
    if (!glance || !held?.assessment || revision <= held.revision) return;
    this.before.value = sharesOf(held.assessment);
    this.assessed.value = { ...held, partly: revision, assessment: { ...held.assessment, ...glance } };
  }

  listen() {
    this.listeners = (this.listeners ?? 0) + 1;
    if (!this.source) this.connect();
    return () => {
      this.listeners -= 1;
      if (!this.listeners) {
        this.source?.close();
        this.source = null;
        this.live.value = false;
      }
    };
  }

  connect() {
    const source = new EventSource(`/api/v1${this.path}/events`);
    this.source = source;
    source.onopen = () => { this.live.value = true; reached.value = true; };
    source.onerror = () => {
      this.live.value = false;
      if (source.readyState === EventSource.CLOSED) this.reconnect(source);
    };
    source.addEventListener("job", (event) => this.changed(JSON.parse(event.data)));
    source.addEventListener("glance", (event) => this.glimpse(JSON.parse(event.data)));
    source.addEventListener("assessment", (event) => this.take(JSON.parse(event.data)));
    source.addEventListener("removed", () => { this.trouble.value = new ApiError(404, {}); });
  }

  reconnect(source) {
    if (this.source !== source || !this.listeners) return;
    this.source = null;
    setTimeout(() => this.listeners && !this.source && this.connect(), 3000);
  }

  async changed({ revision }) {
    if (revision === this.revision) return;
    try {
      this.page.value = await get(this.path);
      keep(`page:${this.id}`, this.page.value);
    } catch {
      // the line is down; the next event or load brings it
    }
  }

  change(method, path, body, more = {}) {
    const key = more.key ?? freshId("c");
    return submit({ key, job: this.id, method, path: this.path + path, body, ...more });
  }

  record(body, label) {
    const id = freshId("r");
    const reading = { id, at: new Date().toISOString(), seen_revision: this.revision, ...body };
    return this.change("POST", "/readings", reading, { key: id, kind: "reading", label })
      .then(() => id);
  }

  /** Take the last reading back: from the phone when it has not left it, else from the card. */
  async undo() {
    const waiting = ofJob(this.id).filter((entry) => entry.kind === "reading").at(-1);
    if (waiting) return withdraw(waiting.key);
    const last = this.page.value?.card.readings?.at(-1);
    if (!last) return null;
    await remove(`${this.path}/readings/${seg(last.id)}`);
    return this.load();
  }
}

const sharesOf = (assessment) => Object.fromEntries(assessment.causes.map((one) => [one.id, one.share]));

export function jobOf(id) {
  if (!open.has(id)) open.set(id, new Job(id));
  return open.get(id);
}

onArrival((entry, found) => {
  const job = open.get(entry.job);
  if (!job) return;
  if (found?.since?.length) job.since.value = [...job.since.value, ...found.since];
  job.load();
});

/** Return the check a reading answers; the assessment names readings only by id and English title. */
export const checkOf = (job, id) => jobOf(job).page.value?.card.readings?.find((one) => one.id === id)?.check;
