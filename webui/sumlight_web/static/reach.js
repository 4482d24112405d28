// The page as an app: the worker that answers when the box does not, and a screen that stays on while lamps burn.
// Browsers grant both over HTTPS only. And a word on whose clock the times are by, where the phone's shows another time.

const bar = document.getElementById("bar");
const told = document.getElementById("awake");
const zone = document.getElementById("box-zone");
let lock = null;
let asking = false;
let refused = !navigator.wakeLock;

if (zone) {
  const offsets = JSON.parse(zone.dataset.offsets);
  zone.hidden = offsets.every(([at_ms, minutes]) => minutes === -new Date(at_ms).getTimezoneOffset());
  delete zone.dataset.offsets; // judged
}
if (navigator.serviceWorker) navigator.serviceWorker.register(bar.dataset.worker).catch(() => {});

// Nothing is let go while the box is not heard: lamps may still burn then.
async function keepAwake() {
  if (asking) return; // it looks again when the browser has answered
  const lamps = bar.dataset.is;
  if (lamps === "off") {
    lock?.release();
    lock = null;
    refused = !navigator.wakeLock;
  }
  if (lamps === "on" && !lock && !refused && !document.hidden) {
    asking = true;
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; });
    } catch {
      refused = true; // a battery that is nearly empty, or a setting
    }
    asking = false;
    return keepAwake();
  }
  if (told) told.hidden = !(lamps === "on" && refused);
}

new MutationObserver(keepAwake).observe(bar, { attributes: true, attributeFilter: ["data-is"] });
document.addEventListener("visibilitychange", keepAwake);
keepAwake();
