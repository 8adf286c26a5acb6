"use strict";
// The blur page of a kept prompt: boxes drawn, moved by keys, taken off by a tap.
const form = document.getElementById("hide");
const found = JSON.parse(form.dataset.faces);
let boxes = [], frame = null, drawing = false;
function draw() {
  svg.replaceChildren();
  svg.style.fontSize = Math.max(box.width, box.height) / 92 + "px";
  for (const b of found) rect(b, "face");
  for (const b of boxes) rect(b, "blur");
  if (frame) rect(tidy(frame), "blur");
  form.elements.blur.value = JSON.stringify(boxes);
  document.getElementById("save").disabled = !boxes.length;
}
function take() {
  const f = tidy(frame); frame = null; drawing = false;
  boxes = large(f) ? [...boxes, f] : without(boxes, f);
  draw();
}
function begin() { svg.focus(); frame = [...START]; draw(); }
svg.addEventListener("pointerdown", (e) => {
  if (!e.isPrimary || e.button) return;
  svg.setPointerCapture(e.pointerId); svg.focus();
  frame = [...place(e), ...place(e)]; drawing = true;
});
svg.addEventListener("pointermove", (e) => { if (drawing) { [frame[2], frame[3]] = place(e); draw(); } });
svg.addEventListener("pointerup", () => { if (drawing) take(); });
svg.addEventListener("pointercancel", () => { frame = null; drawing = false; draw(); });
document.addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey || e.target.closest("input, select")) return;
  const next = frame && e.target === svg && nudged(frame, e);
  if (next) frame = next;
  else if (frame && e.target === svg && e.key === "Enter") take();
  else if (e.key === "b") begin();
  else if (e.key === "u") boxes = boxes.slice(0, -1);
  else if (e.key === "Escape") frame = null;
  else return;
  e.preventDefault(); draw();
});
document.getElementById("found")?.addEventListener("click", () => { boxes = [...boxes, ...found]; draw(); });
document.getElementById("one").addEventListener("click", begin);
document.getElementById("off").addEventListener("click", () => { boxes = boxes.slice(0, -1); draw(); });
draw();
