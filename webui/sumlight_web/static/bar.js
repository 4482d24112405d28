// Keeps the bar up to date on the pages that have no other news of the box, and says so when nothing new arrives.

const POLL_MS = 600;
const ASK_LIMIT_MS = 3000;
const STALE_AFTER_MS = 1500;

const bar = document.getElementById("bar");
const place = bar.querySelector("[data-part=bar]");
const rings = bar.querySelector("[data-part=rings]");
const heard = { at: performance.now(), stale: false };

// The act may be pressed when the server said so, and no press of it is on its way.
export function allow(yes) {
  const light = document.getElementById("light");
  if (!light) return;
  const no = !(yes && light.form?.dataset.look === "ready" && !light.form.dataset.busy);
  if (light.disabled !== no) light.disabled = no;
}

export function putAct(part) {
  if (place.dataset.key === part.key) return;
  const focused = place.contains(document.activeElement);
  place.innerHTML = part.html;
  place.dataset.key = part.key;
  // The keyboard stays at the place, never at what it now does: another press has to be meant.
  if (focused) place.querySelector("a, button:enabled")?.focus();
}

// Returns whether something rings that did not before.
export function putRings(part) {
  if (rings.dataset.key === part.key) return false;
  rings.innerHTML = part.html;
  rings.dataset.key = part.key;
  return Boolean(rings.querySelector(".ring"));
}

// What is shown is old, and only this page can say so.
export function old() {
  bar.dataset.is = "unknown";
  bar.querySelector("[data-text='bar.state']").textContent = bar.dataset.noServer;
  bar.querySelector("[data-text='bar.left']").textContent = "–";
  allow(false);
}

function take(state) {
  heard.at = performance.now();
  for (const [key, text] of Object.entries(state.texts)) {
    const element = bar.querySelector(`[data-text="${key}"]`);
    if (element.textContent !== text) element.textContent = text;
  }
  bar.dataset.is = state.marks.bar;
  putAct(state.parts.bar);
  putRings(state.parts.rings);
  if (heard.stale) allow(true);
  heard.stale = false;
}

async function ask() {
  try {
    const response = await fetch(bar.dataset.now, { signal: AbortSignal.timeout(ASK_LIMIT_MS) });
    if (response.ok) take(await response.json());
  } catch {
    // watchAge says that nothing arrives
  }
}

function watchAge() {
  if (document.hidden || performance.now() - heard.at < STALE_AFTER_MS) return;
  heard.stale = true;
  old();
}

async function follow() {
  const began = performance.now();
  if (!document.hidden) await ask();
  setTimeout(follow, Math.max(50, POLL_MS - (performance.now() - began)));
}

// On the Bench its own news feed the bar too. An entry of the manual may bear its name, but has no news.
if (!document.querySelector("#bench[data-stream]")) {
  document.addEventListener("visibilitychange", () => document.hidden || watchAge());
  document.addEventListener("sumlight:answered", () => { allow(!heard.stale); ask(); });
  setInterval(watchAge, 250);
  setTimeout(follow, POLL_MS);
}
