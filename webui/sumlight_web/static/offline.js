// The page that stands in for the box's own: it sends *Lamps off* all the same, and comes back when the box answers.

const SENT_WITHIN_MS = 1400;
const LOOK_EVERY_MS = 3000;
const form = document.getElementById("off");
const told = document.getElementById("told");

async function send() {
  told.textContent = "";
  try {
    const answer = await fetch(form.action, {
      method: "POST",
      headers: { Accept: "application/json" },
      keepalive: true,
      signal: AbortSignal.timeout(SENT_WITHIN_MS),
    });
    told.textContent = (await answer.json()).ok ? form.dataset.done : form.dataset.lost;
  } catch (error) {
    told.textContent = error.name === "TimeoutError" ? form.dataset.slow : form.dataset.lost;
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  send();
});
addEventListener("keydown", (event) => {
  if (event.key === "Escape" && !event.repeat) send();
});

setInterval(async () => {
  if (document.hidden) return;
  try {
    const answer = await fetch(form.dataset.look, { signal: AbortSignal.timeout(LOOK_EVERY_MS - 100) });
    if (answer.ok) location.assign(form.dataset.back);
  } catch {
    // still nothing
  }
}, LOOK_EVERY_MS);
