"use strict";
// The look page's pointer, fingers and keys; what they do is in look.js.
// A mouse changes dots, line and boxes by itself. One finger scrolls, or moves the photo where it is larger than its place; two make it larger;
// a finger changes a thing only under Edit, the line only under Line. Holding a finger still is "more like this", so is the right button of a mouse.
const HOLD = 600, STILL = 10; // milliseconds; pixels of the screen
let drag = null, hold = 0, pinch = null, fingers = new Map();
let byKey = false; // whether keys walk the dots: only then is one of them marked as theirs
const zoom = { k: 1, x: 0, y: 0 }; // how many times larger; what is to the left of it and above, in the drawing's units
function show(k, x, y) {
  zoom.k = Math.min(8, Math.max(1, k));
  const w = box.width / zoom.k, h = box.height / zoom.k;
  zoom.x = Math.min(box.width - w, Math.max(0, x));
  zoom.y = Math.min(box.height - h, Math.max(0, y));
  svg.setAttribute("viewBox", `${zoom.x} ${zoom.y} ${w} ${h}`);
  document.getElementById("fit").hidden = zoom.k === 1;
  if (now) draw();
}
function zoomed(by, p = [0.5, 0.5].map((v, i) => (i ? zoom.y + box.height / zoom.k * v : zoom.x + box.width / zoom.k * v) / (i ? box.height : box.width))) { // about a place that stays where it is
  const k = Math.min(8, Math.max(1, zoom.k * by)), x = p[0] * box.width, y = p[1] * box.height;
  show(k, x - (x - zoom.x) * zoom.k / k, y - (y - zoom.y) * zoom.k / k);
}
function far(a, b) { return Math.hypot((a[0] - b[0]) * box.width, (a[1] - b[1]) * box.height); }
function hit(p, dots) {
  const reach = Math.max(1.6 * radius(), 14 * unit());
  let best = -1, least = reach;
  dots.forEach((d, i) => { const apart = far([d.x, d.y], p); if (apart < least) { least = apart; best = i; } });
  return best;
}
function onLine(p, times = 1) { // "end 0", "end 1", "line" or ""
  if (!now.line) return "";
  const reach = times * Math.max(radius(), 12 * unit());
  for (const i of [0, 1]) if (far(now.line[i], p) < 1.3 * reach) return "end " + i;
  const [a, b] = now.line.map((q) => [q[0] * box.width, q[1] * box.height]), c = [p[0] * box.width, p[1] * box.height];
  const l = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1, along = ((c[0] - a[0]) * (b[0] - a[0]) + (c[1] - a[1]) * (b[1] - a[1])) / l;
  const off = Math.abs((b[0] - a[0]) * (a[1] - c[1]) - (a[0] - c[0]) * (b[1] - a[1])) / l;
  return off < reach && along > 0 && along < l ? "line" : "";
}
function begun(e, p) { // what a press is the start of
  const touch = e.pointerType === "touch", i = hit(p, now.dots), o = hit(p, now.out);
  if (mode === "area" || mode === "blur") { frame = [...p, ...p]; return { kind: "frame" }; }
  if (mode === "like") return { kind: "like" };
  if (mode === "line") return { kind: onLine(p, 2.5) || "pan" };
  if (mode === "move") return { kind: "pan" };
  if (i >= 0) at = i;
  if (i >= 0 || o >= 0) return { kind: i >= 0 ? "dot" : "out", i, o };
  return { kind: (!touch && onLine(p)) || "empty" };
}
function letGo() { clearTimeout(hold); drag = null; frame = null; }
svg.addEventListener("pointerdown", (e) => {
  byKey = false;
  fingers.set(e.pointerId, [e.clientX, e.clientY]);
  if (fingers.size === 2) {
    const [a, b] = fingers.values();
    letGo();
    pinch = { apart: Math.hypot(a[0] - b[0], a[1] - b[1]), k: zoom.k, p: spot({ clientX: (a[0] + b[0]) / 2, clientY: (a[1] + b[1]) / 2 }) };
    draw();
    return;
  }
  if (!e.isPrimary || (e.button && !right(e))) return;
  const [x, y] = spot(e), p = place(e);
  if (x < -0.02 || x > 1.02 || y < -0.02 || y > 1.02) return; // beside the photo
  if (right(e)) { like(p); return; }
  svg.setPointerCapture(e.pointerId);
  svg.focus({ preventScroll: true });
  drag = { ...begun(e, p), p, from: [e.clientX, e.clientY], view: { ...zoom }, moved: false, dots: now.dots, line: now.line };
  if (e.pointerType === "touch" && drag.kind !== "frame" && mode !== "line") hold = setTimeout(stayed, HOLD, drag);
});
function right(e) { return e.pointerType === "mouse" && e.button === 2; }
function stayed(one) { // a move that came in the same moment is heard first
  requestAnimationFrame(() => setTimeout(() => { if (drag === one && !one.moved && !pinch) { letGo(); like(one.p); } }));
}
svg.addEventListener("pointermove", (e) => {
  if (fingers.has(e.pointerId)) fingers.set(e.pointerId, [e.clientX, e.clientY]);
  if (pinch && fingers.size === 2) { pinched(); return; }
  if (!drag) return;
  const p = place(e), shift = [p[0] - drag.p[0], p[1] - drag.p[1]], way = [e.clientX - drag.from[0], e.clientY - drag.from[1]];
  if (drag.kind === "frame") { frame[2] = p[0]; frame[3] = p[1]; draw(); return; }
  if (Math.hypot(...way) > (e.pointerType === "touch" ? STILL : 4)) { drag.moved = true; clearTimeout(hold); }
  if (!drag.moved) return;
  const was = now;
  if (drag.kind === "dot") drag.next = drag.dots.map((d, i) => (i === drag.i ? { ...d, x: p[0], y: p[1] } : d));
  if (drag.kind === "line") drag.to = drag.line.map((q) => [within(q[0] + shift[0]), within(q[1] + shift[1])]);
  if (drag.kind.startsWith("end")) drag.to = drag.line.map((q, i) => ("end " + i === drag.kind ? p : q));
  if (["pan", "empty", "like"].includes(drag.kind) && zoom.k > 1) { show(zoom.k, drag.view.x - way[0] * unit(), drag.view.y - way[1] * unit()); return; }
  now = { ...now, dots: drag.next || now.dots, line: drag.to || now.line }; draw(); now = was;
});
function pinched() {
  const [a, b] = fingers.values(), [x, y] = pinch.p, m = svg.getBoundingClientRect();
  show(pinch.k * Math.hypot(a[0] - b[0], a[1] - b[1]) / pinch.apart, zoom.x, zoom.y);
  const [u, v] = spot({ clientX: (a[0] + b[0]) / 2, clientY: (a[1] + b[1]) / 2 }); // what lay between the fingers stays between them
  if (m.width) show(zoom.k, zoom.x + (x - u) * box.width, zoom.y + (y - v) * box.height);
}
function lifted(e) { fingers.delete(e.pointerId); if (fingers.size < 2) pinch = null; }
svg.addEventListener("pointerup", (e) => {
  lifted(e);
  clearTimeout(hold);
  const d = drag; drag = null;
  if (!d) return;
  if (d.kind === "frame") framed();
  else if (d.next) again(d.next);
  else if (d.to) again(d.dots, { own: d.to });
  else if (d.moved) return;
  else if (d.kind === "like") like(d.p);
  else if (d.kind === "dot") again(d.dots.filter((_, i) => i !== d.i));
  else if (d.kind === "out") counted(d.o);
  else if (d.kind === "empty") again([...d.dots, { x: d.p[0], y: d.p[1], side: 0 }]);
});
svg.addEventListener("pointercancel", (e) => { lifted(e); letGo(); draw(); }); // the browser scrolls
svg.addEventListener("touchstart", (e) => { // what is ours: two fingers, a larger photo, a box, a dot, the line; the rest scrolls
  const p = place(e.touches[0]);
  const ours = e.touches.length > 1 || zoom.k > 1 || ["area", "blur"].includes(mode) || (mode === "line" && onLine(p, 2.5)) || (mode === "dots" && hit(p, now.dots) >= 0);
  if (ours && e.cancelable) e.preventDefault();
}, { passive: false });
svg.addEventListener("wheel", (e) => { if (e.ctrlKey) { e.preventDefault(); zoomed(Math.exp(-e.deltaY / 200), place(e)); } }, { passive: false });
svg.addEventListener("contextmenu", (e) => e.preventDefault()); // holding must not open a menu
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
function slid(by) { // the line moved across itself
  const [a, b] = now.line, tall = Math.abs(a[1] - b[1]) * box.height > Math.abs(a[0] - b[0]) * box.width;
  return now.line.map((q) => (tall ? [within(q[0] + by), q[1]] : [q[0], within(q[1] + by)]));
}
function turned(by) { // the line turned about its middle, by radians
  const [a, b] = now.line.map((q) => [q[0] * box.width, q[1] * box.height]), m = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  return [a, b].map((q) => {
    const x = q[0] - m[0], y = q[1] - m[1], c = Math.cos(by), s = Math.sin(by);
    return [within((m[0] + x * c - y * s) / box.width), within((m[1] + x * s + y * c) / box.height)];
  });
}
function counted(o) { // what was left out counts after all
  again([...now.dots, now.out[o]], { out: now.out.filter((_, j) => j !== o) });
}
function moved(to) { again(now.dots.map((d, i) => (i === at ? to : d))); }
function onPhoto(e) { // keys that need the photo to have the focus
  const way = ways[e.key], dot = now.dots[at];
  if (frame) {
    const next = nudged(frame, e);
    if (next) { frame = next; draw(); return true; }
    if (e.key === "Enter") { framed(); return true; }
  }
  if (way && dot) {
    if (e.shiftKey) moved({ ...dot, x: within(dot.x + way[0] * 0.01), y: within(dot.y + way[1] * 0.01) });
    else walk(way);
    return true;
  }
  if ((e.key === "Delete" || e.key === "Backspace") && dot) { again(now.dots.filter((_, i) => i !== at)); return true; }
  if (e.key === "a") { const d = dot || { x: 0.45, y: 0.5 }; at = now.dots.length; again([...now.dots, { x: within(d.x + 0.05), y: d.y, side: 0 }]); return true; }
  const moves = { "[": () => slid(-0.02), "]": () => slid(0.02), ",": () => turned(-0.09), ".": () => turned(0.09) };
  if (moves[e.key] && now.line) { again(now.dots, { own: moves[e.key]() }); return true; }
  if (e.key === "m" && dot) { like([dot.x, dot.y]); return true; }
  return false;
}
function boxed(m) { setMode(m); svg.focus({ preventScroll: true }); frame = [...START]; draw(); }
const anywhere = {
  u: undo, r: redo, d: () => { setMode("dots"); svg.focus({ preventScroll: true }); }, Escape: () => setMode("dots"), f: () => boxed("area"), b: () => boxed("blur"),
  k: () => form.elements.things.focus(),
  n: () => onward(1), p: () => onward(-1), x: () => document.getElementById("drop")?.click(), Enter: () => form.requestSubmit(),
  "+": () => zoomed(1.25), "-": () => zoomed(0.8), 0: () => show(1, 0, 0),
};
document.addEventListener("keydown", (e) => {
  if (e.key === "Escape" && (e.target.closest("#keep") || e.target === form.elements.things)) { svg.focus(); e.preventDefault(); return; }
  if (e.target.closest("input, select, textarea") || e.altKey) return;
  if (e.target.closest("summary, button, a") && (e.key === "Enter" || e.key === " ")) return;
  if (e.ctrlKey || e.metaKey) { // as everywhere: Ctrl Z and Ctrl Y
    const usual = { z: e.shiftKey ? redo : undo, y: redo }[e.key.toLowerCase()];
    if (usual) { e.preventDefault(); usual(); }
    return;
  }
  if (e.target === svg && onPhoto(e)) { byKey = true; draw(); e.preventDefault(); return; }
  const act = anywhere[e.key] || (/^[1-9]$/.test(e.key) && (() => choose(options()[Number(e.key) - 1])));
  if (act) { e.preventDefault(); act(); }
});
svg.addEventListener("focus", () => draw());
svg.addEventListener("blur", () => draw());
window.addEventListener("resize", () => draw());
document.getElementById("fit").addEventListener("click", () => show(1, 0, 0));
