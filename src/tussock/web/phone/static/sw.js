// Keeps the page itself on the phone, so that it opens without a connection. Entries are not its business.
// The server writes the version, a hash of all files of the page, into this file: a new one is fetched whole.

const VERSION = "{version}";
const SHELL = {shell};

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(VERSION)
      .then((cache) => cache.addAll(SHELL.map((path) => new Request(path, { cache: "reload" }))))
      .then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter((n) => n.startsWith("drive-log-") && n !== VERSION).map((n) => caches.delete(n))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  const path = url.pathname === "/phone/" ? "/phone" : url.pathname;
  if (!SHELL.includes(path)) return;
  event.respondWith(caches.match(path, { ignoreSearch: true }).then((kept) => kept ?? fetch(event.request)));
});
