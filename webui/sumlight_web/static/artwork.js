// Sends a file in pieces, and loads the page anew when the work on it is over.

import { marked } from "./axes.js";

const work = document.getElementById("work");

async function posted(form, address, body) {
  const answer = await fetch(address, { method: "POST", headers: { Accept: "application/json" }, body });
  const said = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Error(said.message || said.error?.message || form.dataset.lost);
  return said;
}

async function send(form, file, told) {
  const begin = new URL(form.dataset.begin, location.href);
  begin.searchParams.set("name", file.name);
  begin.searchParams.set("size", file.size);
  begin.searchParams.set("with", new FormData(form).get("with") || "");
  const size = (await posted(form, begin)).piece_bytes;
  for (let at = 0; at < file.size; at += size) {
    const piece = new URL(form.dataset.piece, location.href);
    piece.searchParams.set("at", at);
    await posted(form, piece, file.slice(at, at + size));
    told.textContent = form.dataset.arriving.replace("% %", `${Math.round((100 * Math.min(file.size, at + size)) / file.size)} %`);
  }
}

for (const form of document.querySelectorAll("form[data-file]")) {
  const chosen = form.querySelector("input[type=file]");
  const alarm = form.querySelector("[role=alert]");
  const arriving = form.querySelector("[role=status]");
  const take = async (file) => {
    if (!file || chosen.disabled) return;
    alarm.textContent = "";
    chosen.disabled = true;
    try {
      await send(form, file, arriving);
      form.reset(); // it was sent: a browser that asked before leaving would stand over Lamps off
      location.assign(form.action);
    } catch (error) {
      alarm.textContent = error.name === "Error" && error.message ? error.message : form.dataset.lost;
      arriving.textContent = "";
      chosen.disabled = false;
      chosen.value = "";
    }
  };
  chosen.addEventListener("change", () => take(chosen.files[0]));
  form.addEventListener("dragover", (event) => { event.preventDefault(); form.classList.add("over"); });
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("over");
    take(event.dataTransfer.files[0]);
  });
}

if (work) {
  const line = document.getElementById("work-line");
  const look = async () => {
    try {
      const said = await (await fetch(work.dataset.progress, { headers: { Accept: "application/json" } })).json();
      if (`${said.phase} ${said.kind}` !== work.dataset.phase) return location.assign(work.dataset.page);
      if (line.textContent !== said.line) line.textContent = said.line;
    } catch { /* the bar says that the page's server is not heard */ }
    setTimeout(look, 1000);
  };
  setTimeout(look, 500);
}

// A tap on the picture of the part tells the place, as fold lines ask for it.
for (const readout of document.querySelectorAll("[data-places]")) {
  const picture = readout.parentElement.querySelector("svg");
  const per = readout.dataset.unit === "mm" ? 1 : 25.4;
  const told = (mm) => `${marked((mm / per).toFixed(per === 1 ? 1 : 3))} ${readout.dataset.unit}`;
  picture.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture.getScreenCTM().inverse());
    readout.textContent = readout.dataset.places.replace("{x}", told(at.x)).replace("{y}", told(at.y));
  });
}
