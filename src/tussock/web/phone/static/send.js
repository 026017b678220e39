// Talks to the server. An entry keeps its identity from the moment it is kept, and the server takes each identity
// once: sending again after a lost answer changes nothing.

import { entries, keepThing, markEntry, thing, tidy } from "./keep.js";

let token = null;
let sending = null;

/** What the server said when it did not do what was asked: `status` 0 means that there was no answer at all. */
export class Refused extends Error {
  constructor(status, words) {
    super(words);
    this.status = status;
  }
}

async function ask(path, options = {}, again = true) {
  const unsafe = options.method && options.method !== "GET";
  if (unsafe && !token) token = (await ask("/api/session")).token;
  const headers = { Accept: "application/json", ...options.headers };
  if (unsafe) headers["X-Tussock-Token"] = token;
  let answer;
  try {
    answer = await fetch(path, { ...options, headers, credentials: "same-origin", cache: "no-store" });
  } catch {
    throw new Refused(0, "no connection");
  }
  if (answer.status === 403 && unsafe && again) { // the session is a new one since the token was given
    token = null;
    return ask(path, options, false);
  }
  const body = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Refused(answer.status, body?.error?.message ?? `the server answered ${answer.status}`);
  return body;
}

/** The programmes, and the choices of one; what was seen last while there is no connection. */
export async function seen(path) {
  try {
    const body = await ask(path);
    await keepThing(path, body);
    return body;
  } catch (error) {
    const last = await thing(path);
    if (last) return last;
    throw error;
  }
}

async function sendOne(entry) {
  const place = `/api/programmes/${entry.programme}/entries/${entry.id}`;
  const send = (method, what) => ask(place, { method, body: JSON.stringify(what), headers: { "Content-Type": "application/json" } });
  if (entry.amends) return send("PATCH", { fields: entry.fields }); // the server has it, and could not take it as it was
  const files = [];
  for (const photo of entry.photos) {
    const query = new URLSearchParams({ name: photo.name });
    const stored = await ask(`/api/files?${query}`, { method: "POST", body: photo.blob, headers: { "Content-Type": photo.blob.type } });
    files.push({ digest: stored.digest, name: photo.name });
  }
  return send("PUT", { part: entry.part, fields: entry.fields, files });
}

async function sendWaiting(changed) {
  for (const entry of (await entries()).filter((e) => e.state === "waiting")) {
    try {
      const taken = await sendOne(entry);
      const problem = taken.version ? "" : taken.problem;
      await markEntry(entry.id, { state: problem ? "refused" : "sent", amends: Boolean(problem), name: taken.name, version: taken.version, photos: [], problem });
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      // what is wrong with the entry itself waits for its driver; anything else is tried again later
      const wrong = [400, 404, 413, 415, 422].includes(error.status);
      await markEntry(entry.id, { state: wrong ? "refused" : "waiting", problem: error.message });
      if (!wrong) return error;
    } finally {
      await changed();
    }
  }
  await tidy();
  return null;
}

/** Send all that waits, one sender at a time in all pages of this phone; returns why it stopped, or null. */
export function send(changed) {
  sending ??= (navigator.locks ? navigator.locks.request("tussock-send", () => sendWaiting(changed)) : sendWaiting(changed))
    .finally(() => { sending = null; });
  return sending;
}
