"use strict";
// What every page with a photo to point at shares: places on it, boxes on it, a box moved and sized by keys.
const svg = document.getElementById("marks");
const box = { width: svg.viewBox.baseVal.width, height: svg.viewBox.baseVal.height }; // the photo, in the drawing's units
const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const START = [0.3, 0.3, 0.7, 0.7]; // where a box asked for by key first lies
let ground = svg; // what marks are drawn into
function make(tag, values, parent = ground) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [k, v] of Object.entries(values)) e.setAttribute(k, v);
  parent.append(e);
  return e;
}
function rect(b, cls) { make("rect", { class: cls, x: b[0] * box.width, y: b[1] * box.height, width: (b[2] - b[0]) * box.width, height: (b[3] - b[1]) * box.height }); }
function within(v) { return Math.min(1, Math.max(0, v)); }
function unit() { return 1 / (svg.getScreenCTM()?.a || 1); } // a pixel of the screen in the drawing's units
function spot(e) { // fractions of the photo, outside it too
  const m = svg.getScreenCTM();
  return [(e.clientX - m.e) / m.a / box.width, (e.clientY - m.f) / m.d / box.height];
}
function place(e) { return spot(e).map(within); }
function tidy(f) { return [Math.min(f[0], f[2]), Math.min(f[1], f[3]), Math.max(f[0], f[2]), Math.max(f[1], f[3])]; }
function large(f) { return f[2] - f[0] >= 0.02 && f[3] - f[1] >= 0.02; }
function without(boxes, p) { // the boxes but the last one that the place lies in
  const i = boxes.findLastIndex((b) => p[0] >= b[0] && p[0] <= b[2] && p[1] >= b[1] && p[1] <= b[3]);
  return boxes.filter((_, j) => j !== i);
}
function nudged(f, e) { // arrows move a box, with Shift its right and lower edge; + and - size it; null: another key
  const way = ways[e.key];
  if (way) return f.map((v, i) => (e.shiftKey && i < 2 ? v : within(v + way[i % 2] * 0.02)));
  if (e.key !== "+" && e.key !== "-") return null;
  const s = e.key === "+" ? 0.02 : -0.02;
  return [within(f[0] - s), within(f[1] - s), within(f[2] + s), within(f[3] + s)];
}
