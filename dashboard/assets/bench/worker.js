// Keeps a copy of the bench's page, so that it opens while the server cannot be reached. What comes
// from the server is always preferred; nothing but the bench is kept.
const KEPT = "peelcheck-bench-2";
const FILES = ["main", "cards", "dom", "last", "numbers", "pictures", "queue", "scanner", "sender", "standing", "work"];
const PAGE = [
  "/bench", "/bench/lists", "/assets/base.css", "/assets/bench/bench.css", "/assets/early.js", "/assets/shell.js",
  "/assets/peel.svg", "/assets/fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2",
  ...FILES.map((name) => `/assets/bench/${name}.js`),
];

addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(PAGE)).then(() => skipWaiting()));
});

addEventListener("activate", (event) => event.waitUntil(clients.claim()));

addEventListener("fetch", (event) => {
  const path = new URL(event.request.url).pathname;
  if (event.request.method === "GET" && PAGE.includes(path)) { event.respondWith(newest(event.request, path)); }
});

async function newest(request, path) {
  const cache = await caches.open(KEPT);
  try {
    const response = await fetch(request);
    if (response.ok) { await cache.put(path, response.clone()); return response; }
    return response.status >= 500 ? (await cache.match(path)) || response : response;
  } catch (error) {
    const kept = await cache.match(path);
    if (kept) { return kept; }
    throw error;
  }
}
