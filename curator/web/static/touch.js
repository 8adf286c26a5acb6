"use strict";
// The look page's pointer and keys; what they do is in look.js.
let drag = null, hold = 0;
function far(a, b) { return Math.hypot((a[0] - b[0]) * box.width, (a[1] - b[1]) * box.height); }
function hit(p, dots) {
  const reach = Math.max(1.6 * radius(), 14 * box.width / svg.clientWidth);
  let best = -1, least = reach;
  dots.forEach((d, i) => { const apart = far([d.x, d.y], p); if (apart < least) { least = apart; best = i; } });
  return best;
}
function onLine(p) { // "end 0", "end 1", "line" or ""
  if (!now.line) return "";
  const reach = Math.max(radius(), 12 * box.width / svg.clientWidth);
  for (const i of [0, 1]) if (far(now.line[i], p) < 1.3 * reach) return "end " + i;
  const [a, b] = now.line.map((q) => [q[0] * box.width, q[1] * box.height]), c = [p[0] * box.width, p[1] * box.height];
  const l = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1, along = ((c[0] - a[0]) * (b[0] - a[0]) + (c[1] - a[1]) * (b[1] - a[1])) / l;
  const off = Math.abs((b[0] - a[0]) * (a[1] - c[1]) - (a[0] - c[0]) * (b[1] - a[1])) / l;
  return off < reach && along > 0 && along < l ? "line" : "";
}
svg.addEventListener("pointerdown", (e) => {
  if (!e.isPrimary || e.button) return;
  const p = place(e); svg.setPointerCapture(e.pointerId); svg.focus();
  if (mode === "area" || mode === "blur") { frame = [...p, ...p]; drag = { kind: "frame" }; return; }
  if (mode === "like") { like(p); return; }
  const i = hit(p, now.dots), o = hit(p, now.out);
  drag = { kind: i >= 0 ? "dot" : o >= 0 ? "out" : onLine(p) || "empty", i, o, p, moved: false, dots: now.dots, line: now.line };
  if (i >= 0) at = i;
  hold = setTimeout(() => like(p), 700);
});
svg.addEventListener("pointermove", (e) => {
  if (!drag) return;
  const p = place(e), shift = drag.p && [p[0] - drag.p[0], p[1] - drag.p[1]];
  if (drag.kind === "frame") { frame[2] = p[0]; frame[3] = p[1]; draw(); return; }
  if (far(p, drag.p) > radius() / 2) { drag.moved = true; clearTimeout(hold); }
  if (!drag.moved) return;
  const was = now;
  if (drag.kind === "dot") drag.next = drag.dots.map((d, i) => (i === drag.i ? { ...d, x: p[0], y: p[1] } : d));
  if (drag.kind === "line") drag.to = drag.line.map((q) => [within(q[0] + shift[0]), within(q[1] + shift[1])]);
  if (drag.kind.startsWith("end")) drag.to = drag.line.map((q, i) => ("end " + i === drag.kind ? p : q));
  now = { ...now, dots: drag.next || now.dots, line: drag.to || now.line }; draw(); now = was;
});
svg.addEventListener("pointerup", () => {
  clearTimeout(hold);
  const d = drag; drag = null;
  if (!d) return;
  if (d.kind === "frame") framed();
  else if (d.next) again(d.next, { was: d.dots[d.i], to: d.next[d.i] });
  else if (d.to) again(d.dots, { own: d.to });
  else if (d.moved) return;
  else if (d.kind === "dot") again(d.dots.filter((_, i) => i !== d.i), { was: d.dots[d.i] });
  else if (d.kind === "out") counted(d.o);
  else if (d.kind === "empty") added(d.dots, { x: d.p[0], y: d.p[1], side: 0 });
});
svg.addEventListener("pointercancel", () => { clearTimeout(hold); drag = null; frame = null; draw(); });
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
  const d = now.out[o];
  again([...now.dots, d], { to: d, out: now.out.filter((_, j) => j !== o) });
}
function added(dots, d) { again([...dots, d], { to: d }); }
function moved(to) { again(now.dots.map((d, i) => (i === at ? to : d)), { was: now.dots[at], to }); }
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
  if ((e.key === "Delete" || e.key === "Backspace") && dot) { again(now.dots.filter((_, i) => i !== at), { was: dot }); return true; }
  if (e.key === "a") { const d = dot || { x: 0.45, y: 0.5 }; at = now.dots.length; added(now.dots, { x: within(d.x + 0.05), y: d.y, side: 0 }); return true; }
  const moves = { "[": () => slid(-0.02), "]": () => slid(0.02), ",": () => turned(-0.09), ".": () => turned(0.09) };
  if (moves[e.key] && now.line) { again(now.dots, { own: moves[e.key]() }); return true; }
  if (e.key === "m" && dot) { like([dot.x, dot.y]); return true; }
  return false;
}
function boxed(m) { setMode(m); svg.focus(); frame = [...START]; draw(); }
const anywhere = {
  u: undo, r: redo, d: () => { setMode("dots"); svg.focus(); }, Escape: () => setMode("dots"), f: () => boxed("area"), b: () => boxed("blur"),
  k: () => form.elements.thing.focus(), l: () => { if (untold()) told(); },
};
document.addEventListener("keydown", (e) => {
  if (e.target.closest("input, select, summary") || e.altKey) return;
  if (e.ctrlKey || e.metaKey) { // as everywhere: Ctrl Z and Ctrl Y
    const usual = { z: e.shiftKey ? redo : undo, y: redo }[e.key.toLowerCase()];
    if (usual) { e.preventDefault(); usual(); }
    return;
  }
  if (e.target === svg && onPhoto(e)) { e.preventDefault(); return; }
  const act = anywhere[e.key] || (/^[1-9]$/.test(e.key) && (() => choose(Number(e.key) - 1)));
  if (act) { e.preventDefault(); act(); }
});
svg.addEventListener("focus", draw);
svg.addEventListener("blur", draw);
window.addEventListener("resize", draw);
others(); draw();
