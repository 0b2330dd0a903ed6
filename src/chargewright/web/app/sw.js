// Keeps the app's own files on the phone, so that an installed app opens without network.
// Answers of the service are not kept here: the page keeps what it needs, and says how old it is.
const SHELF = "chargewright-app-1";
const FIRST = ["/", "/app/main.js", "/app/vendor/ui.js", "/app/texts/en.json", "/app/css/base.css", "/app/css/parts.css", "/app/css/pages.css"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELF).then((shelf) => shelf.addAll(FIRST)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((name) => name !== SHELF).map((name) => caches.delete(name)))).then(() => self.clients.claim()));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname, origin } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  const picture = pathname.startsWith("/api/") && pathname.endsWith(".svg");
  if (pathname !== "/" && !pathname.startsWith("/app/") && !picture) return;
  event.respondWith(fresh(request));
});

/** The network's answer first: a new version of the program must never meet an old page. */
async function fresh(request) {
  const shelf = await caches.open(SHELF);
  try {
    const answer = await fetch(request);
    if (answer.ok) shelf.put(request, answer.clone());
    return answer;
  } catch (error) {
    const held = await shelf.match(request);
    if (held) return held;
    throw error;
  }
}
