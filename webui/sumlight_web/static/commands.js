// Sends commands without leaving the page, and puts each answer where it belongs. Without this script the same
// forms work as plain forms.

const ANSWER_LIMIT_MS = 4000;
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

function clearFieldErrors(form) {
  for (const place of form.querySelectorAll("[data-error]")) {
    place.hidden = true;
    place.textContent = "";
  }
  for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
}

function showErrors(form, errors) {
  const general = [];
  let first = null;
  for (const error of errors) {
    const words = [error.message, error.remedy].filter(Boolean).join(" ");
    const place = error.field && form.querySelector(`[data-error="${CSS.escape(error.field)}"]`);
    if (!place) {
      general.push(words);
      continue;
    }
    place.textContent = words;
    place.hidden = false;
    const input = form.elements[error.field];
    const single = input instanceof RadioNodeList ? input[0] : input;
    if (single && single.type === "text") single.setAttribute("aria-invalid", "true");
    first ||= single;
  }
  if (general.length) say(general[0], general.slice(1));
  if (first) first.focus();
}

function post(form) {
  return fetch(form.action, {
    method: "POST",
    headers: { Accept: "application/json" },
    body: new URLSearchParams(new FormData(form)),
    signal: AbortSignal.timeout(ANSWER_LIMIT_MS),
  });
}

// The server may close a kept connection just as the press sets out on it: dark is then sent again, on a new one.
async function darkForSure(form) {
  try {
    return await post(form);
  } catch (error) {
    if (error.name === "TimeoutError") throw error;
    return post(form);
  }
}

async function send(form) {
  const command = form.dataset.command;
  const button = form.querySelector("button");
  clearFieldErrors(form);
  say("");
  // Dark is never held back, not even by an earlier press that still waits for its answer.
  if (command !== "dark") {
    button.disabled = true;
    form.dataset.busy = "yes";
  }
  try {
    const response = await (command === "dark" ? darkForSure(form) : post(form));
    const result = await response.json();
    if (response.status === 401 && result.error.href) {
      location.assign(result.error.href);
    } else if (!result.ok) {
      showErrors(form, result.errors || [result.error]);
    } else if (command === "start") {
      form.elements.panel.value = "";
      form.elements.note.value = "";
      window.scrollTo(0, 0);
    } else if (command === "dark" && !document.getElementById("bench")) {
      say(result.message);
    }
  } catch {
    say(form.dataset.lost || answer.dataset.lost);
  } finally {
    button.disabled = false;
    delete form.dataset.busy;
    document.dispatchEvent(new Event("sumlight:answered"));
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.dataset.command) return;
  event.preventDefault();
  send(form);
});
