// Answers when the box does not: with the offline page and the files it is drawn with. Nothing else is kept, no state and
// no answer of the box, so that nothing old is ever shown as the present.

const KEPT = "sumlight-offline";
const PAGE = `/offline?language=${new URL(location.href).searchParams.get("language") || "en"}`;
const FILES = ["/static/sumlight.css", "/static/offline.js", "/static/icon.svg"];
let fresh = null;

// Once in a worker's life, so that an update of the box brings its own page along.
async function keep() {
  const kept = await caches.open(KEPT);
  await kept.addAll([PAGE, ...FILES]);
  for (const request of await kept.keys()) {
    const { pathname, search } = new URL(request.url);
    if (![PAGE, ...FILES].includes(pathname + search)) await kept.delete(request);
  }
}

async function open(event) {
  try {
    const answer = await fetch(event.request);
    fresh ||= keep().catch(() => { fresh = null; });
    event.waitUntil(fresh);
    return answer;
  } catch (error) {
    return (await caches.match(PAGE)) || Promise.reject(error);
  }
}

async function file(request) {
  try {
    return await fetch(request);
  } catch (error) {
    return (await caches.match(request)) || Promise.reject(error);
  }
}

addEventListener("install", (event) => event.waitUntil(keep().then(() => skipWaiting())));
addEventListener("activate", (event) => event.waitUntil(clients.claim()));
addEventListener("fetch", (event) => {
  const { pathname, search } = new URL(event.request.url);
  if (event.request.mode === "navigate") event.respondWith(open(event));
  else if (event.request.method === "GET" && FILES.includes(pathname + search)) event.respondWith(file(event.request));
});
