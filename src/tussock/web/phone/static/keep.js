// What the phone keeps: entries until they are sent and after, and the last choices of each programme.
// Everything goes through IndexedDB, whose transactions are whole or not at all: an entry that was kept is there
// after the page, the browser or the battery has gone.

const NAME = "tussock-drive-log";
let opened = null;

function open() {
  opened ??= new Promise((done, failed) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("entries", { keyPath: "id" });
      request.result.createObjectStore("things");
    };
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  return opened;
}

async function within(stores, mode, work) {
  const database = await open();
  return new Promise((done, failed) => {
    const options = mode === "readwrite" ? { durability: "strict" } : {};
    const transaction = database.transaction(stores, mode, options);
    const request = work(transaction);
    transaction.oncomplete = () => done(request?.result);
    transaction.onerror = transaction.onabort = () => failed(transaction.error);
  });
}

/** An identity of 128 random bits as a UUID; crypto.randomUUID exists on secure pages only. */
export function newId() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** Keep an entry; the draft that it was goes in the same step. */
export function keepEntry(entry) {
  return within(["entries", "things"], "readwrite", (t) => {
    t.objectStore("things").delete("draft");
    return t.objectStore("entries").put(entry);
  });
}

/** Change fields of a kept entry, whatever another page of this phone did to it meanwhile. */
export function markEntry(id, fields) {
  return within(["entries"], "readwrite", (t) => {
    const store = t.objectStore("entries");
    const request = store.get(id);
    request.onsuccess = () => request.result && store.put({ ...request.result, ...fields });
    return request;
  });
}

/** All entries, oldest first. */
export async function entries() {
  const all = await within(["entries"], "readonly", (t) => t.objectStore("entries").getAll());
  return all.sort((a, b) => a.kept - b.kept);
}

/** Drop what was sent long ago: the newest `most` sent ones stay in the list. */
export async function tidy(most = 40) {
  const sent = (await entries()).filter((e) => e.state === "sent");
  const old = sent.slice(0, Math.max(0, sent.length - most));
  if (old.length) await within(["entries"], "readwrite", (t) => { old.forEach((e) => t.objectStore("entries").delete(e.id)); });
}

export const keepThing = (key, value) => within(["things"], "readwrite", (t) => t.objectStore("things").put(value, key));
export const thing = (key) => within(["things"], "readonly", (t) => t.objectStore("things").get(key));
