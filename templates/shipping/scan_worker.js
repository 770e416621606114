// Keeps the scan page on the phone, so that it opens without a network. It touches nothing outside this page.
const KEEP = "scan-{{ version }}";
const SHELL = "{{ shell }}";
const FILES = {{ files|safe }};

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEEP).then((cache) => cache.addAll([SHELL, ...FILES].map((file) => new Request(file, { cache: "reload" })))));
});

// The page of before goes only when the new one takes over; the scans are in the phone's store, not here.
self.addEventListener("activate", (event) => {
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((name) => name.startsWith("scan-") && name !== KEEP).map((name) => caches.delete(name)))).then(() => self.clients.claim()));
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (request.mode === "navigate") {
    if (address.pathname === SHELL) event.respondWith(kept(SHELL, request));
    return;
  }
  if (FILES.includes(address.pathname)) event.respondWith(kept(address.pathname, request));
});

async function kept(file, request) {
  const cache = await caches.open(KEEP);
  return (await cache.match(file)) || fetch(request);
}
