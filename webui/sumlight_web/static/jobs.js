// Counts what is left of timers down between two loads of a page. What rings, the bar says.

const began = performance.now();
const shown = [...document.querySelectorAll("[data-left-s]")];

function clock(seconds) {
  const [hours, minutes, rest] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  const two = (n) => String(n).padStart(2, "0");
  return hours ? `${hours}:${two(minutes)}:${two(rest)}` : `${minutes}:${two(rest)}`;
}

if (shown.length) {
  setInterval(() => {
    for (const element of shown) {
      const left = Math.max(0, Math.round(Number(element.dataset.leftS) - (performance.now() - began) / 1000));
      element.textContent = clock(left);
    }
  }, 500);
}
