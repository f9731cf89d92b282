/* Keeps the tablet's page and its files, so that it opens without a signal. Nothing about a family
   goes through here: that lies in IndexedDB, and is asked for by the page itself.
   The server puts one line before this: self.SHELL = {version, page, files}. */
const { version, page, files } = self.SHELL;
const PREFIX = "tablet-";
const NAME = PREFIX + version;
const KEPT = new Set(files);

async function fill() {
  const cache = await caches.open(NAME);
  await Promise.all(
    files.map(async (file) => {
      const response = await fetch(file, { cache: "reload", credentials: "same-origin" });
      // A half shell would open to half a page: rather none, and the one before stays.
      if (!response.ok || response.redirected) throw new Error(`${file}: ${response.status}`);
      await cache.put(file, response);
    }),
  );
}

async function clear() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith(PREFIX) && name !== NAME);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function kept(request, path) {
  const cache = await caches.open(NAME);
  return (await cache.match(path)) ?? fetch(request);
}

self.addEventListener("install", (event) => event.waitUntil(fill().then(() => self.skipWaiting())));
self.addEventListener("activate", (event) => event.waitUntil(clear()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    if (pathname === page) event.respondWith(kept(request, page));
  } else if (KEPT.has(pathname)) event.respondWith(kept(request, pathname));
});
