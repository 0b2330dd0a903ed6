// Keeps the app's own files on the phone, so that an installed app opens without network.
// Answers of the service are not kept here: the page keeps what it needs, and says how old it is.
const SHELF = "chargewright-app-1";
// every file of the app; a test holds this list to the folder
const FILES = [
  "/", "/app/core/api.js", "/app/core/early.js", "/app/core/i18n.js", "/app/core/jobs.js", "/app/core/keep.js", "/app/core/known.js",
  "/app/core/queue.js", "/app/core/router.js", "/app/core/settings.js", "/app/core/typing.js", "/app/core/units.js", "/app/css/base.css",
  "/app/css/pages.css", "/app/css/parts.css", "/app/icons/icon.svg", "/app/main.js", "/app/manifest.webmanifest", "/app/pages/bench.js",
  "/app/pages/card.js", "/app/pages/causes.js", "/app/pages/decision.js", "/app/pages/energy.js", "/app/pages/energy_answers.js",
  "/app/pages/energy_ride.js", "/app/pages/job.js", "/app/pages/jobs.js", "/app/pages/machines.js", "/app/pages/menu.js",
  "/app/pages/new.js", "/app/pages/own.js", "/app/pages/pair.js", "/app/pages/plan.js", "/app/pages/readings.js", "/app/pages/unsent.js",
  "/app/pages/workshop.js", "/app/pages/would.js", "/app/parts/bands.js", "/app/parts/chart.js", "/app/parts/dialog.js",
  "/app/parts/fields.js", "/app/parts/frame.js", "/app/parts/icons.js", "/app/parts/pad.js", "/app/parts/picture.js",
  "/app/parts/result.js", "/app/parts/step.js", "/app/parts/toast.js", "/app/vendor/ui.js",
];

/** The catalogues are what the service has: English names them all. */
async function fill() {
  const shelf = await caches.open(SHELF);
  const { languages } = await (await fetch("/app/texts/en.json")).json();
  const texts = Object.keys(languages).flatMap((one) => [`/app/texts/${one}.json`, `/app/texts/${one}.webmanifest`]);
  await shelf.addAll([...FILES, ...texts]);
  await self.skipWaiting();
}

self.addEventListener("install", (event) => event.waitUntil(fill()));

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
