// Keeps the Bench up to date from the server's view of the box. The words come from the server; this only puts them
// in place, draws the curve, and says so when nothing new arrives.

import { allow, old, putAct, putRings } from "./bar.js";
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
const picks = bench.querySelector("[data-part=picks]");
const panel = document.getElementById("panel");
const note = document.getElementById("note");
let wish = picks.dataset.chosen;
const known = { texts: {}, marks: {}, shows: {}, values: {} };
let exposure = null;
let lastId = "";
let heardAt = performance.now();
let stale = false;
let source = null;
let pollTimer = 0;
let retryTimer = 0;

const all = (selector) => document.querySelectorAll(selector);

function word(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

function put() {
  bench.dataset.fed = "";
  for (const element of all("[data-text]")) word(element, known.texts[element.dataset.text] ?? "");
  for (const element of all("[data-mark]")) {
    const mark = known.marks[element.dataset.mark] ?? "unknown";
    if (element.dataset.is !== mark) element.dataset.is = mark;
  }
  for (const element of all("[data-show]")) element.hidden = !known.shows[element.dataset.show];
  for (const element of all("[data-value]")) element.value = known.values[element.dataset.value] ?? 0;
  document.title = notice.titled(known.texts.title || document.title);
}

function putParts({ bar, rings, ...parts }) {
  if (bar) putAct(bar);
  if (rings && putRings(rings)) notice.tell("look");
  for (const [name, part] of Object.entries(parts)) {
    const place = bench.querySelector(`[data-part="${name}"]`);
    if (place.dataset.key === part.key) continue;
    const focused = place.contains(document.activeElement) ? document.activeElement.id : "";
    const opened = Boolean(place.querySelector("details.others")?.open);
    place.innerHTML = part.html;
    place.dataset.key = part.key;
    if (opened) place.querySelector("details.others")?.setAttribute("open", "");
    if (focused) document.getElementById(focused)?.focus();
  }
}

// The recipe that was chosen on this page is the one that the bar names and sends.
function dress() {
  const pick = picks.querySelector(`[data-recipe="${CSS.escape(wish)}"]`)
    || picks.querySelector("[data-recipe][aria-current]");
  for (const each of picks.querySelectorAll("[data-recipe]")) {
    if (each !== pick) each.removeAttribute("aria-current");
    else if (!each.hasAttribute("aria-current")) each.setAttribute("aria-current", "true");
  }
  if (pick) {
    if (panel.value === panel.dataset.auto) panel.value = pick.dataset.panel;
    panel.dataset.auto = pick.dataset.panel;
  }
  const form = document.getElementById("act");
  if (form?.dataset.command !== "start") return allow(!stale);
  for (const name of ["panel", "note"]) form.querySelector(`[name=${name}]`)?.remove();
  const ready = Boolean(pick) && form.hasAttribute("data-may") && !pick.dataset.cannot;
  form.dataset.look = ready ? "ready" : "later";
  if (pick) {
    word(form.querySelector("b"), pick.dataset.words);
    if (form.hasAttribute("data-may")) word(form.querySelector("small"), pick.dataset.cannot || pick.dataset.more);
    const seen = form.querySelector("[name^='seen:']");
    form.elements.recipe.value = pick.dataset.recipe;
    seen.name = `seen:${pick.dataset.recipe}`;
    seen.value = pick.dataset.seen;
  }
  allow(!stale);
}

function choose(event) {
  const pick = event.target.closest("[data-recipe]");
  if (!pick || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  wish = pick.dataset.recipe;
  dress();
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
  dress();
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
  for (const element of all("[data-part=actions] button")) element.disabled = true;
  old();
  const seconds = Math.max(2, Math.round(age / 1000));
  const noServer = document.getElementById("bar").dataset.noServer;
  bench.querySelector("[data-text=headline]").textContent = noServer;
  bench.querySelector("[data-text=sentence]").textContent = bench.dataset.oldSentence;
  document.title = `${noServer} – Sumlight`;
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
document.addEventListener("sumlight:answered", dress);
document.addEventListener("sumlight:started", () => {
  panel.value = panel.dataset.auto;
  note.value = "";
  scrollTo(0, 0);
});
picks.addEventListener("click", choose);
// Enter in the label is the end of typing, not a press that lights.
panel.addEventListener("keydown", (event) => event.key === "Enter" && panel.blur());
addEventListener("pageshow", (event) => event.persisted && listen());
addEventListener("pagehide", stop);
setInterval(watchAge, 250);
dress();
notice.take(bench.dataset.stateNow || "unknown", bench.querySelector("[data-value=hold]").value >= 100);
listen();
