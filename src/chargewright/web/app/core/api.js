// Calls to the service. Two ways to fail: it answered no (ApiError), or it could not be reached.
import { settings } from "./settings.js";

const BASE = "/api/v1";

export class ApiError extends Error {
  constructor(status, error) {
    super(error?.message || `HTTP ${status}`);
    this.status = status;
    this.code = error?.code || "http";
    this.field = error?.field;
    this.detail = error || {};
  }
}

export class Unreachable extends Error {}

/** Call the service; the answer's JSON, or null where there is none. */
export async function call(method, path, body, { timeoutMs = 40000, type, fetched } = {}) {
  const halt = new AbortController();
  const clock = setTimeout(() => halt.abort(), timeoutMs);
  const raw = body instanceof Blob;
  const headers = { Accept: "application/json", "Accept-Language": settings.value.language };
  if (body !== undefined) headers["Content-Type"] = type || (raw ? body.type : "application/json");
  let answer;
  try {
    answer = await fetch(BASE + path, {
      method,
      headers,
      body: body === undefined ? undefined : raw ? body : JSON.stringify(body),
      signal: halt.signal,
      credentials: "same-origin",
    });
  } catch (error) {
    throw new Unreachable(String(error));
  } finally {
    clearTimeout(clock);
  }
  fetched?.(answer);
  if (answer.status === 204) return null;
  const text = await answer.text();
  let found = null;
  try {
    found = text ? JSON.parse(text) : null;
  } catch {
    if (answer.ok) throw new ApiError(answer.status, { message: text.slice(0, 200) });
  }
  if (answer.ok) return found;
  // a proxy's or a dying server's page is no answer of ours: the same as not reached
  if (answer.status >= 502 && !found?.error) throw new Unreachable(`HTTP ${answer.status}`);
  throw new ApiError(answer.status, found?.error);
}

export const get = (path, options) => call("GET", path, undefined, options);
export const post = (path, body, options) => call("POST", path, body, options);
export const put = (path, body, options) => call("PUT", path, body, options);
export const patch = (path, body, options) => call("PATCH", path, body, options);
export const remove = (path, options) => call("DELETE", path, undefined, options);

export const url = (path) => BASE + path;
export const seg = encodeURIComponent;

/** Return an id no other phone makes; works on plain http, where randomUUID is missing. */
export function freshId(prefix = "m") {
  const bytes = crypto.getRandomValues(new Uint8Array(8));
  return prefix + Array.from(bytes, (b) => (b % 36).toString(36)).join("") + Date.now().toString(36).slice(-4);
}
