"use strict";
// What every page with a photo to point at shares: places on it, boxes on it, a box moved and sized by keys.
const svg = document.getElementById("marks");
const box = svg.viewBox.baseVal;
const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const START = [0.3, 0.3, 0.7, 0.7]; // where a box asked for by key first lies
function make(tag, values, parent = svg) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [k, v] of Object.entries(values)) e.setAttribute(k, v);
  parent.append(e);
  return e;
}
function rect(b, cls) { make("rect", { class: cls, x: b[0] * box.width, y: b[1] * box.height, width: (b[2] - b[0]) * box.width, height: (b[3] - b[1]) * box.height }); }
function within(v) { return Math.min(1, Math.max(0, v)); }
function place(e) { const b = svg.getBoundingClientRect(); return [within((e.clientX - b.left) / b.width), within((e.clientY - b.top) / b.height)]; }
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
// Sends and answers JSON; an error of the server or of the way to it comes back as { error }.
async function sent(url, body, type) {
  try {
    const answer = await fetch(url, { method: "POST", headers: { "Content-Type": type, Accept: "application/json" }, body });
    return await answer.json();
  } catch { return { error: { wrong: "The page does not answer.", try_this: "Is curator serve still running?" } }; }
}
