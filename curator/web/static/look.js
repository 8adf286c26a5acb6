"use strict";
const svg = document.getElementById("marks");
const box = svg.viewBox.baseVal;
const form = document.getElementById("keep");
const field = form.elements.state;
const base = "/photos/" + field.dataset.id + "/";
const R = Math.max(box.width, box.height) / 55;
let now = { ...JSON.parse(field.value), touched: 0, area: null, blur: [] };
let undone = [], done = [], mode = "dots", at = 0, frame = null, calls = 0;
const words = { sure: "Sure.", check: "Please check the dots.", no: "No double shown." };
function make(tag, values, parent = svg) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [k, v] of Object.entries(values)) e.setAttribute(k, v);
  parent.append(e);
  return e;
}
function rect(b, cls) { make("rect", { class: cls, x: b[0] * box.width, y: b[1] * box.height, width: (b[2] - b[0]) * box.width, height: (b[3] - b[1]) * box.height }); }
function draw() {
  svg.replaceChildren();
  svg.style.fontSize = R * 0.6 + "px";
  if (now.area) rect(now.area, "frame");
  for (const b of now.blur) rect(b, "blur");
  if (now.line) for (const cls of ["under", "fold"]) make("line", { class: cls, x1: now.line[0][0] * box.width, y1: now.line[0][1] * box.height, x2: now.line[1][0] * box.width, y2: now.line[1][1] * box.height });
  now.dots.forEach((d, i) => {
    const x = d.x * box.width, y = d.y * box.height, cls = `dot s${d.side}` + (i === at && document.activeElement === svg ? " on" : "");
    if (d.side === 2) make("rect", { class: cls, x: x - R, y: y - R, width: 2 * R, height: 2 * R });
    else make("circle", { class: cls, cx: x, cy: y, r: R });
  });
  if (frame) rect(tidy(frame), mode === "blur" ? "blur" : "frame");
  document.getElementById("undo").disabled = !done.length;
  document.getElementById("redo").disabled = !undone.length;
  const { readings, ...kept } = now;
  field.value = JSON.stringify({ ...kept, dots: now.dots.map((d) => [d.x, d.y]) });
  form.elements.blur.value = JSON.stringify(now.blur);
}
function tell(r) {
  document.getElementById("fact").textContent = r.fact || "No double";
  document.getElementById("grade").textContent = `${words[r.grade]} ${r.total || 0} counted.`;
  document.getElementById("reasons").replaceChildren(...r.reasons.map((t) => Object.assign(document.createElement("li"), { textContent: t })));
}
function step(next) { done.push(now); undone = []; now = { ...now, ...next }; draw(); }
async function ask(what, sent) {
  const mine = ++calls;
  const answer = await fetch(base + what, { method: "POST", headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify(sent) });
  const got = await answer.json();
  if (mine !== calls) return;
  if (got.error) { document.getElementById("grade").textContent = got.error.wrong + " " + got.error.try_this; return; }
  const r = got.readings[0];
  now = { ...now, dots: r.dots, line: r.line, readings: got.readings, reading: 0 };
  at = Math.min(at, r.dots.length - 1);
  tell(r); others(); draw();
}
function others() {
  const list = document.getElementById("readings");
  if (!list) return;
  list.replaceChildren(...now.readings.map((r, k) => {
    const li = document.createElement("li"), b = document.createElement("button");
    b.type = "button"; b.textContent = (r.fact || "No double") + (r.kind ? ` (${r.kind})` : "");
    b.setAttribute("aria-pressed", String(k === now.reading));
    b.addEventListener("click", () => { step({ dots: r.dots, line: r.line, reading: k }); tell(r); others(); });
    li.append(b); return li;
  }));
}
function again(dots, line = null) { step({ dots, line, touched: now.touched + 1, area: null }); ask("again", { dots: dots.map((d) => [d.x, d.y]), line }); }
function place(e) { const b = svg.getBoundingClientRect(); return [Math.min(1, Math.max(0, (e.clientX - b.left) / b.width)), Math.min(1, Math.max(0, (e.clientY - b.top) / b.height))]; }
function apart(d, p) { return Math.hypot((d.x - p[0]) * box.width, (d.y - p[1]) * box.height); }
function hit(p) { let best = -1; now.dots.forEach((d, i) => { if (apart(d, p) < R * 1.6 && (best < 0 || apart(d, p) < apart(now.dots[best], p))) best = i; }); return best; }
function onLine(p) {
  if (!now.line) return false;
  const [a, b] = now.line.map((q) => [q[0] * box.width, q[1] * box.height]), c = [p[0] * box.width, p[1] * box.height];
  const l = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
  return Math.abs((b[0] - a[0]) * (a[1] - c[1]) - (a[0] - c[0]) * (b[1] - a[1])) / l < R * 0.8;
}
function tidy(f) { return [Math.min(f[0], f[2]), Math.min(f[1], f[3]), Math.max(f[0], f[2]), Math.max(f[1], f[3])]; }
function framed() {
  const f = tidy(frame); frame = null;
  if (f[2] - f[0] < 0.02 || f[3] - f[1] < 0.02) { draw(); return; }
  if (mode === "blur") step({ blur: [...now.blur, f] });
  else { step({ area: f, touched: 0 }); ask("area", { area: f }); }
}
let drag = null, hold = 0;
function like(p) { drag = null; step({ touched: now.touched + 1, area: null }); ask("like", { at: p }); }
svg.addEventListener("pointerdown", (e) => {
  const p = place(e); svg.setPointerCapture(e.pointerId); svg.focus();
  if (mode === "area" || mode === "blur") { frame = [...p, ...p]; drag = { kind: "frame" }; return; }
  if (mode === "like") { like(p); return; }
  const i = hit(p);
  drag = { kind: i >= 0 ? "dot" : onLine(p) ? "line" : "empty", i, p, moved: false, dots: now.dots, line: now.line };
  hold = setTimeout(() => like(p), 700);
});
svg.addEventListener("pointermove", (e) => {
  if (!drag) return;
  const p = place(e);
  if (drag.kind === "frame") { frame[2] = p[0]; frame[3] = p[1]; draw(); return; }
  if (Math.hypot((p[0] - drag.p[0]) * box.width, (p[1] - drag.p[1]) * box.height) > R / 2) { drag.moved = true; clearTimeout(hold); }
  if (!drag.moved) return;
  const was = now;
  if (drag.kind === "dot") drag.next = drag.dots.map((d, i) => (i === drag.i ? { ...d, x: p[0], y: p[1] } : d));
  if (drag.kind === "line") drag.to = drag.line.map((q) => [q[0] + p[0] - drag.p[0], q[1] + p[1] - drag.p[1]]);
  now = { ...now, dots: drag.next || now.dots, line: drag.to || now.line }; draw(); now = was;
});
svg.addEventListener("pointerup", () => {
  clearTimeout(hold);
  const d = drag; drag = null;
  if (!d) return;
  if (d.kind === "frame") framed();
  else if (d.next) again(d.next);
  else if (d.to) again(d.dots, d.to);
  else if (d.moved) return;
  else if (d.kind === "dot") again(d.dots.filter((_, i) => i !== d.i));
  else again([...d.dots, { x: d.p[0], y: d.p[1], side: 0 }]);
});
function swap(from, to) { if (!from.length) return; to.push(now); now = from.pop(); calls++; tell(now.readings[now.reading] || now.readings[0]); others(); draw(); }
function undo() { swap(done, undone); }
function redo() { swap(undone, done); }
function setMode(m) {
  mode = m; frame = null;
  for (const b of document.querySelectorAll("[data-mode]")) b.setAttribute("aria-pressed", String(b.dataset.mode === m));
  draw();
}
const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
function walk(way) {
  const from = now.dots[at]; let best = -1, least = Infinity;
  now.dots.forEach((d, i) => {
    const x = (d.x - from.x) * box.width, y = (d.y - from.y) * box.height, on = x * way[0] + y * way[1];
    const cost = on + 2 * Math.abs(x * way[1] - y * way[0]);
    if (i !== at && on > 1 && cost < least) { least = cost; best = i; }
  });
  if (best >= 0) at = best;
  draw();
}
function key(e) {
  const way = ways[e.key];
  if (way && frame) { frame = frame.map((v, i) => v + way[i % 2] * 0.02); draw(); return true; }
  if (frame && (e.key === "+" || e.key === "-")) { const s = e.key === "+" ? 0.02 : -0.02; frame = [frame[0] - s, frame[1] - s, frame[2] + s, frame[3] + s]; draw(); return true; }
  if (frame && e.key === "Enter") { framed(); return true; }
  if (way && now.dots.length) {
    if (e.shiftKey) again(now.dots.map((d, i) => (i === at ? { ...d, x: Math.min(1, Math.max(0, d.x + way[0] * 0.01)), y: Math.min(1, Math.max(0, d.y + way[1] * 0.01)) } : d)));
    else walk(way);
    return true;
  }
  if ((e.key === "Delete" || e.key === "Backspace") && now.dots.length) { again(now.dots.filter((_, i) => i !== at)); return true; }
  if (e.key === "a") { const d = now.dots[at] || { x: 0.45, y: 0.5 }; at = now.dots.length; again([...now.dots, { x: Math.min(1, d.x + 0.05), y: d.y, side: 0 }]); return true; }
  if ((e.key === "[" || e.key === "]") && now.line) {
    const s = e.key === "]" ? 0.02 : -0.02, tall = Math.abs(now.line[0][1] - now.line[1][1]) > Math.abs(now.line[0][0] - now.line[1][0]);
    again(now.dots, now.line.map((q) => (tall ? [q[0] + s, q[1]] : [q[0], q[1] + s]))); return true;
  }
  if (e.key === "m" && now.dots[at]) { like([now.dots[at].x, now.dots[at].y]); return true; }
  if (e.key === "f" || e.key === "b") { setMode(e.key === "f" ? "area" : "blur"); frame = [0.2, 0.2, 0.8, 0.8]; draw(); return true; }
  const simple = { u: undo, r: redo, d: () => setMode("dots"), Escape: () => setMode("dots") }[e.key];
  if (simple) simple();
  return Boolean(simple);
}
svg.addEventListener("keydown", (e) => { if (!e.ctrlKey && !e.metaKey && !e.altKey && key(e)) e.preventDefault(); });
svg.addEventListener("focus", draw);
svg.addEventListener("blur", draw);
for (const b of document.querySelectorAll("[data-mode]")) b.addEventListener("click", () => setMode(b.dataset.mode));
document.getElementById("undo").addEventListener("click", undo);
document.getElementById("redo").addEventListener("click", redo);
const faces = document.getElementById("blurfaces");
if (faces) faces.addEventListener("click", () => step({ blur: [...now.blur, ...JSON.parse(faces.dataset.faces)] }));
draw();
