"use strict";
// Small pictures with dots on them: cards, readings, the strip of the batch.
function shape(tag, values, parent) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [k, v] of Object.entries(values)) e.setAttribute(k, v);
  parent.append(e);
  return e;
}
// A dot, x and y in the drawing's own units: round for one half, square for the other; a dark rim and a light one show on anything.
function dotted(parent, x, y, side, r, cls = "") {
  for (const [name, more] of [["rim", 1.45], ["rim light", 1.25], [`dot s${side}${cls}`, 1]]) {
    const s = r * more;
    if (side === 2) shape("rect", { class: name, x: x - s, y: y - s, width: 2 * s, height: 2 * s, rx: s / 6 }, parent);
    else shape("circle", { class: name, cx: x, cy: y, r: s }, parent);
  }
}
// dots: [x, y, side] and line: two ends, in fractions of the picture
function drawOver(svg, [w, h], dots, line) {
  svg.replaceChildren();
  svg.setAttribute("viewBox", `0 0 ${w} ${h}`);
  if (line) for (const cls of ["under", "fold"]) shape("line", { class: cls, x1: line[0][0] * w, y1: line[0][1] * h, x2: line[1][0] * w, y2: line[1][1] * h }, svg);
  const r = Math.max(w, h) * (dots.length > 20 ? 0.015 : dots.length > 10 ? 0.02 : 0.027);
  svg.style.fontSize = Math.max(w, h) * 0.02 + "px"; // line widths are in em
  for (const [x, y, side] of dots) dotted(svg, x * w, y * h, side, r);
}
function put(tag, parent, values) { const e = document.createElement(tag); Object.assign(e, values); parent.append(e); return e; }
function picture(src, size, dots, line) {
  const span = put("span", document.createDocumentFragment(), { className: "pic" });
  put("img", span, { src, alt: "", decoding: "async" });
  const svg = shape("svg", { class: "over", "aria-hidden": "true" }, span);
  drawOver(svg, size, dots, line);
  return span;
}
