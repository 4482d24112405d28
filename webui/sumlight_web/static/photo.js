// Shrinks a photo in the browser, which also drops what the camera wrote beside it, and sends it in pieces.

const MOST_BYTES = 950_000;
const LONGEST_PX = 1600;
const form = document.querySelector("form[data-photo]");

async function shrunk(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  for (let side = LONGEST_PX, quality = 0.85; ; side = Math.round(side * 0.8), quality -= 0.05) {
    const scale = Math.min(1, side / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", Math.max(0.4, quality)));
    if (blob && blob.size <= MOST_BYTES) return blob;
    if (side < 200) throw new Error();
  }
}

async function send(blob) {
  const size = Number(form.dataset.pieceBytes);
  const pieces = Math.ceil(blob.size / size);
  for (let piece = 0; piece < pieces; piece += 1) {
    const address = new URL(form.action);
    address.searchParams.set("piece", piece);
    if (piece === pieces - 1) address.searchParams.set("last", "1");
    const answer = await fetch(address, {
      method: "POST",
      headers: { "Content-Type": "image/jpeg", Accept: "application/json" },
      body: blob.slice(piece * size, (piece + 1) * size),
    });
    if (!answer.ok) throw new Error((await answer.json().catch(() => ({}))).message || form.dataset.lost);
  }
}

if (form) {
  const chosen = form.querySelector("input[type=file]");
  const told = form.querySelector("[role=alert]");
  form.hidden = false;
  chosen.addEventListener("change", async () => {
    if (!chosen.files.length) return;
    told.textContent = "";
    chosen.disabled = true;
    try {
      await send(await shrunk(chosen.files[0]));
      form.reset(); // it was sent: a browser that asked before leaving would stand over Lamps off
      location.reload();
    } catch (error) {
      told.textContent = error.name === "Error" && error.message ? error.message : form.dataset.broken;
      chosen.disabled = false;
      chosen.value = "";
    }
  });
}
