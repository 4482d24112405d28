// Keeps the page of commissioning up to date: asks twice a second which of its parts have changed and puts those in.
// What is being typed, and where the keyboard stands, survive it.

const EVERY_MS = 500;
const ASK_LIMIT_MS = 3000;
const LOST_AFTER_MS = 2500;

const page = document.getElementById("commissioning");
const lost = document.getElementById("lost");
const typed = new Map();
let heardAt = performance.now();

const places = () => Array.from(page.querySelectorAll("[data-part]"));

function put(place, part) {
  const focused = place.contains(document.activeElement) ? document.activeElement : null;
  place.innerHTML = part.html;
  place.dataset.key = part.key;
  for (const input of place.querySelectorAll("input[type=text]")) input.value = typed.get(input.id) ?? input.value;
  // A pressed button that is gone must not leave the keyboard at the top of the page.
  if (focused) (document.getElementById(focused.id) || place).focus();
}

async function ask() {
  try {
    const have = places().map((place) => place.dataset.key).join(",");
    const response = await fetch(`${page.dataset.now}?have=${have}`, { signal: AbortSignal.timeout(ASK_LIMIT_MS) });
    if (!response.ok) return;
    const { parts } = await response.json();
    heardAt = performance.now();
    for (const place of places()) {
      const part = parts[place.dataset.part];
      if (part && part.key !== place.dataset.key) put(place, part);
    }
  } catch {
    // say() tells that nothing arrives
  }
}

// With the server gone nobody else can say that what is shown is old, or that a press would be lost.
function say() {
  const gone = performance.now() - heardAt > LOST_AFTER_MS;
  lost.hidden = !gone;
  for (const button of page.querySelectorAll("[data-part] button")) button.disabled = gone;
}

async function look() {
  if (!document.hidden) {
    await ask();
    say();
  }
  setTimeout(look, EVERY_MS);
}

// A form is gone while the box is not heard; what stood in it comes back with it.
page.addEventListener("input", (event) => typed.set(event.target.id, event.target.value));
document.addEventListener("visibilitychange", () => document.hidden || say());
look();
