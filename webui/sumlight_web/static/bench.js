// Keeps the Bench up to date from the server's view of the box. The words come from the server; this only puts them
// in place, draws the curve, and says so when nothing new arrives.

import { Curve } from "./curve.js";
import { Notice } from "./notice.js";

const STALE_AFTER_MS = 1500;
const POLL_MS = 600;
const ASK_LIMIT_MS = 3000;
const RETRY_STREAM_MS = 15000;
const POCKET_MS = 2000;

const bench = document.getElementById("bench");
const curve = new Curve(document.getElementById("curve"), document.getElementById("readout"));
const notice = new Notice(document.getElementById("sound"));
const known = { texts: {}, marks: {}, shows: {}, values: {} };
let exposure = null;
let lastId = "";
let heardAt = performance.now();
let stale = false;
let source = null;
let pollTimer = 0;
let retryTimer = 0;

const all = (selector) => document.querySelectorAll(selector);

function put() {
  bench.dataset.fed = "";
  for (const element of all("[data-text]")) {
    const text = known.texts[element.dataset.text] ?? "";
    if (element.textContent !== text) element.textContent = text;
  }
  for (const element of all("[data-carry]")) element.value = known.texts[element.dataset.carry] ?? "";
  for (const element of all("[data-mark]")) {
    const mark = known.marks[element.dataset.mark] ?? "unknown";
    if (element.dataset.is !== mark) element.dataset.is = mark;
  }
  for (const element of all("[data-show]")) element.hidden = !known.shows[element.dataset.show];
  for (const element of all("[data-value]")) element.value = known.values[element.dataset.value] ?? 0;
  for (const element of all("[data-enable]")) {
    element.disabled = !known.shows[element.dataset.enable] || Boolean(element.form.dataset.busy);
  }
  document.title = notice.titled(known.texts.title || document.title);
}

function putParts(parts) {
  for (const [name, part] of Object.entries(parts)) {
    const place = bench.querySelector(`[data-part="${name}"]`);
    if (place.dataset.key === part.key) continue;
    const focused = place.contains(document.activeElement) ? document.activeElement.id : "";
    place.innerHTML = part.html;
    place.dataset.key = part.key;
    if (focused) document.getElementById(focused)?.focus();
  }
}

function take(state) {
  heardAt = performance.now();
  if (stale) for (const button of all("[data-part=actions] button")) button.disabled = false;
  stale = false;
  for (const kind of Object.keys(known)) Object.assign(known[kind], state[kind]);
  putParts(state.parts);
  if (state.plan && state.plan.exposure_id !== exposure) {
    if (exposure !== null) curve.clear();
    exposure = state.plan.exposure_id;
  }
  if (state.id) lastId = state.id;
  notice.take(known.marks.state, Boolean(known.shows.hold && known.values.hold >= 100));
  put();
  curve.add(state.points);
  curve.plan(state.plan);
}

// The server's process may hang or the network may fail: then nobody else can say that what is shown is old.
function watchAge() {
  const age = performance.now() - heardAt;
  if (document.hidden || age < STALE_AFTER_MS) return;
  stale = true;
  for (const element of all("[data-live]")) element.textContent = "–";
  for (const element of bench.querySelectorAll("[data-mark]")) element.dataset.is = "unknown";
  bench.dataset.is = "unknown";
  for (const element of all("[data-enable], [data-part=actions] button")) element.disabled = true;
  const seconds = Math.max(2, Math.round(age / 1000));
  bench.querySelector("[data-text=headline]").textContent = bench.dataset.noServer;
  bench.querySelector("[data-text=stale]").textContent =
    bench.dataset.noWord.replace("{seconds}", seconds);
  bench.querySelector("[data-show=stale]").hidden = false;
  curve.plan(null);
}

function listen() {
  stop();
  if (document.hidden) return pocket();
  source = new EventSource(`${bench.dataset.stream}?after=${encodeURIComponent(lastId)}`);
  source.addEventListener("state", (event) => take(JSON.parse(event.data)));
  source.addEventListener("error", () => {
    // A refusal (all places taken) ends an EventSource for good; an ended stream comes back by itself.
    if (source && source.readyState === EventSource.CLOSED) pollForAWhile();
  });
}

// In a pocket or behind another tab: no stream, but while lamps burn or a panel rests, a look now and then, for the end.
function pocket() {
  if (!notice.waits()) return;
  pollTimer = setTimeout(async () => {
    await ask();
    if (document.hidden) pocket();
  }, POCKET_MS);
}

async function ask() {
  try {
    const url = `${bench.dataset.state}?after=${encodeURIComponent(lastId)}`;
    const response = await fetch(url, { signal: AbortSignal.timeout(ASK_LIMIT_MS) });
    if (response.ok) take(await response.json());
  } catch {
    // watchAge says that nothing arrives
  }
}

function stop() {
  source?.close();
  source = null;
  clearTimeout(pollTimer);
  clearTimeout(retryTimer);
}

function pollForAWhile() {
  stop();
  retryTimer = setTimeout(listen, RETRY_STREAM_MS);
  const poll = async () => {
    const began = performance.now();
    await ask();
    if (!source && !document.hidden) pollTimer = setTimeout(poll, Math.max(50, POLL_MS - (performance.now() - began)));
  };
  poll();
}

document.addEventListener("visibilitychange", () => {
  // After a sleep nothing shown is live until the first news: say so at once.
  if (!document.hidden) watchAge();
  if (!document.hidden) notice.seen();
  listen();
});
addEventListener("online", listen);
document.addEventListener("sumlight:answered", put);
addEventListener("pageshow", (event) => event.persisted && listen());
addEventListener("pagehide", stop);
setInterval(watchAge, 250);
notice.take(bench.dataset.stateNow || "unknown", bench.querySelector("[data-value=hold]").value >= 100);
listen();
