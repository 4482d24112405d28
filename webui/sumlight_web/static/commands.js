// Sends commands without leaving the page, and puts each answer where it belongs. Without this script the same
// forms work as plain forms. Then it fetches what a page needs only once it is shown.

const ANSWER_LIMIT_MS = 4000;
const DARK_SLOW_MS = 1400; // whoever pressed *Lamps off* knows within a second and a half that it was not answered
const LATE_AGAIN_MS = 1000;
const answer = document.getElementById("answer");

function say(text, lines = []) {
  answer.replaceChildren(...[text, ...lines].filter(Boolean).map((line) => {
    const paragraph = document.createElement("p");
    paragraph.textContent = line;
    return paragraph;
  }));
  answer.hidden = !answer.firstChild;
  if (!answer.hidden) answer.scrollIntoView({ block: "nearest" });
}

// A short word in the bar, where the thumb is.
function tell(text) {
  document.dispatchEvent(new CustomEvent("sumlight:tell", { detail: text }));
}

// The fields of the bar's form stand on the page, away from it.
const placesOf = (form) => (form.id === "act" ? document : form);

function clearFieldErrors(form) {
  for (const place of placesOf(form).querySelectorAll("[data-error]")) {
    place.hidden = true;
    place.textContent = "";
  }
  for (const input of placesOf(form).querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
}

function showErrors(form, errors) {
  const general = [];
  let first = null;
  for (const error of errors) {
    const words = [error.message, error.remedy].filter(Boolean).join(" ");
    const place = error.field && placesOf(form).querySelector(`[data-error="${CSS.escape(error.field)}"]`);
    if (!place) {
      general.push(words);
      continue;
    }
    place.textContent = words;
    place.hidden = false;
    const found = form.elements[error.field];
    const input = found instanceof RadioNodeList ? found[0] : found;
    const single = input?.type === "hidden" ? place : input;
    if (single?.type === "text") single.setAttribute("aria-invalid", "true");
    first ||= single;
  }
  if (general.length) say(general[0], general.slice(1));
  if (!first) return;
  first.scrollIntoView({ block: "center" });
  first.focus();
}

// What is being put right is not red any more; the words stay, and nothing moves under the finger.
document.addEventListener("input", ({ target }) => {
  if (!target.hasAttribute("aria-invalid")) return;
  target.removeAttribute("aria-invalid");
  for (const id of (target.getAttribute("aria-describedby") || "").split(/\s+/)) {
    document.getElementById(id)?.classList.add("answered");
  }
});

// A form that somebody has begun is not lost by a wrong tap: the browser asks before it leaves. Lamps off leaves nothing.
let begun = null;
const changed = (each) => each.value !== each.defaultValue || each.checked !== each.defaultChecked;
document.addEventListener("input", ({ target }) => {
  const { form } = target;
  if (form?.method === "post" && !form.dataset.command && form.closest("main")) begun = form;
});
addEventListener("beforeunload", (event) => {
  if (begun?.isConnected && [...begun.elements].some((each) => each.matches("input, textarea") && changed(each))) event.preventDefault();
});

// That Lamps off was lost is not said any longer than it can matter: news that they are off ends it.
const bar = document.getElementById("bar");
let lost = false;
if (bar) {
  new MutationObserver(() => {
    if (lost && bar.dataset.is === "off") say("");
    lost &&= bar.dataset.is !== "off";
  }).observe(bar, { attributes: true, attributeFilter: ["data-is"] });
}

function post(form) {
  return fetch(form.action, {
    method: "POST",
    headers: { Accept: "application/json" },
    body: new URLSearchParams(new FormData(form)),
    // Dark goes through even if the person leaves this page at once; what lights does not outlive its page.
    keepalive: form.dataset.command === "dark",
    signal: AbortSignal.timeout(ANSWER_LIMIT_MS),
  });
}

const unanswered = new Set();

// The server may close a kept connection just as the press sets out on it: dark is then sent again, on a new one.
async function darkForSure(form) {
  unanswered.add(form);
  try {
    return await post(form);
  } catch (error) {
    if (error.name === "TimeoutError") throw error;
    return await post(form);
  } finally {
    unanswered.delete(form);
  }
}

// A page that is left has nobody any more to see whether dark arrived: rather twice than never.
addEventListener("pagehide", () => {
  for (const form of unanswered) navigator.sendBeacon(form.action, new URLSearchParams(new FormData(form)));
});

async function send(form) {
  const command = form.dataset.command;
  const button = form.querySelector("button");
  clearFieldErrors(form);
  say("");
  lost = false;
  // Dark is never held back, not even by an earlier press that still waits for its answer.
  if (command !== "dark") {
    button.disabled = true;
    form.dataset.busy = "yes";
  }
  const slow = command === "dark" ? setTimeout(() => say(form.dataset.slow), DARK_SLOW_MS) : 0;
  try {
    const response = await (command === "dark" ? darkForSure(form) : post(form));
    const result = await response.json();
    if (response.status === 401 && result.error.href) {
      location.assign(result.error.href);
    } else if (!result.ok) {
      showErrors(form, result.errors || [result.error]);
    } else if (command === "start") {
      document.dispatchEvent(new Event("sumlight:started"));
    } else if (command === "dark") {
      say("");
      tell(result.message);
    }
  } catch {
    say(form.dataset.lost || answer.dataset.lost);
    lost = command === "dark";
  } finally {
    clearTimeout(slow);
    delete form.dataset.busy;
    if (form.id !== "act") button.disabled = false;
    document.dispatchEvent(new Event("sumlight:answered"));
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form === begun) begun = null;
  if (!form.dataset.command) return;
  event.preventDefault();
  send(form);
});

// The server has written the state into the page: it is shown first, and what keeps it up to date is fetched after. The
// second frame begins when the first one has been painted; a page that opens behind another tab has none to wait for.
function shown() {
  return new Promise((resolve) => {
    if (document.hidden) resolve();
    document.addEventListener("visibilitychange", resolve, { once: true });
    requestAnimationFrame(() => requestAnimationFrame(resolve));
  });
}

// Without them what is shown grows old and nobody else says so. Their first news puts all of this right again.
function unheard() {
  bar.dataset.is = "unknown";
  for (const element of document.querySelectorAll("[data-live]")) element.textContent = "–";
  bar.querySelector("[data-text='bar.state']").textContent = bar.dataset.noServer;
}

function fetchLate(script) {
  import(script).catch(() => {
    unheard();
    setTimeout(fetchLate, LATE_AGAIN_MS, script);
  });
}

shown().then(() => {
  for (const element of document.querySelectorAll("[data-late]")) {
    for (const script of element.dataset.late.trim().split(/\s+/)) fetchLate(script);
  }
});
