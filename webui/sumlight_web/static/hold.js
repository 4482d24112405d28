// Stands before every press that lights: a press counts only if its finger or key went down at least HOLD_MS after this
// very act was shown filled. And it makes Esc *Lamps off*, wherever the keyboard stands. It is loaded before the page's
// body, so there is no moment without it. Control checks each press again by what it carries; this is for the thumb
// that is already on its way when the words under it change.

(() => {
  const HOLD_MS = 800;
  const TOLD_MS = 3000;
  const CLICK_WITHIN_MS = 700; // after the finger was lifted; a later click is not its own
  const FREE_TEXT = ["panel", "note"];

  let shown = ""; // the act in the left place, with all that it would send; nothing while it is not filled
  let since = Infinity; // when it was painted
  let turn = 0; // counts the changes: an act that was gone and came back is another one
  let down = null; // the finger or key that went down last
  let passed = false;
  let toldTimer = 0;

  const now = () => performance.now();
  const button = () => document.querySelector("#act button");

  function reading() {
    const light = button();
    if (!light || light.disabled || document.hidden) return "";
    const carried = Array.from(new FormData(light.form)).filter(([name]) => !FREE_TEXT.includes(name));
    return JSON.stringify([light.textContent, light.form.action, carried]);
  }

  function look() {
    const read = reading();
    if (read === shown) return;
    shown = read;
    since = Infinity;
    turn += 1;
    const mine = turn;
    // The second frame begins when the first one has been painted.
    if (read) requestAnimationFrame(() => requestAnimationFrame(() => { if (turn === mine) since = now(); }));
  }

  function tell(text) {
    const place = document.getElementById("told");
    if (!place) return;
    place.textContent = text;
    clearTimeout(toldTimer);
    toldTimer = setTimeout(() => { place.textContent = ""; }, TOLD_MS);
  }

  function pressed(event, kind) {
    look();
    const light = button();
    const here = Boolean(light && event.target instanceof Node && light.contains(event.target));
    down = { kind, turn, up: Infinity, good: here && event.timeStamp - since >= HOLD_MS };
  }

  addEventListener("pointerdown", (event) => pressed(event, "finger"), true);
  addEventListener("pointerup", (event) => { if (down) down.up = event.timeStamp; }, true);
  addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      if (!event.repeat) document.querySelector("#bar #dark")?.form.requestSubmit();
    } else if (event.key === "Enter" || event.key === " ") {
      // A key held down goes down once; one that was held before the page came was never seen to.
      if (!event.repeat) pressed(event, "key");
      else down ||= { kind: "key", turn, good: false };
    }
  }, true);
  addEventListener("keyup", () => setTimeout(() => { if (down?.kind === "key") down = null; }), true);
  addEventListener("pointercancel", () => { down = null; }, true);

  addEventListener("click", (event) => {
    const light = button();
    if (!light || !light.contains(event.target)) return;
    look();
    if (down?.kind === "finger" && event.timeStamp - down.up > CLICK_WITHIN_MS) down = null;
    // Helpers for those who cannot press send a click alone: then the click is the press.
    const good = down ? down.good && down.turn === turn : event.timeStamp - since >= HOLD_MS;
    if (down?.kind === "finger") down = null;
    if (good) {
      tell("");
      passed = true;
      setTimeout(() => { passed = false; });
      return;
    }
    event.preventDefault();
    event.stopImmediatePropagation();
    tell(document.getElementById("bar").dataset.justChanged);
  }, true);

  // Enter in a text field would send the form it belongs to without any press of the button.
  addEventListener("submit", (event) => {
    if (event.target.id !== "act" || passed) return;
    event.preventDefault();
    event.stopImmediatePropagation();
  }, true);

  function anew() {
    shown = "";
    since = Infinity;
    turn += 1;
    look();
  }

  document.addEventListener("visibilitychange", anew);
  addEventListener("pageshow", (event) => event.persisted && anew());
  document.addEventListener("sumlight:tell", (event) => tell(event.detail));
  new MutationObserver(look).observe(document, {
    subtree: true, childList: true, characterData: true, attributes: true,
    attributeFilter: ["disabled", "value", "action", "hidden"],
  });
})();
