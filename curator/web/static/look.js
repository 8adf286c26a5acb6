"use strict";
const form = document.getElementById("keep");
const field = form.elements.state;
const base = "/photos/" + field.dataset.id + "/";
const found = JSON.parse(form.dataset.faces);
const words = JSON.parse(form.dataset.grades);
const said = document.getElementById("said"), heard = document.getElementById("heard"), offer = document.getElementById("told");
const FRESH = { yes: [], no: [], known: [] };
const OFFER = "More to set right in the same way?";
// yes, no: places where the teacher says that a thing is, or none, since the machine last answered afresh; known: those it has answered already
// changed: places that its last answer found, and that it left out
// dots (those that count), out (those left out on purpose, as feelers are) and line as shown; own: the line that the teacher drew, or null; pending: shown before the answer came
const first = JSON.parse(field.value);
let now = { ...first, ...parted(first.readings[first.reading]), own: null, touched: 0, area: null, blur: [], pending: null, ...FRESH, changed: null };
let undone = [], done = [], mode = "dots", at = 0, frame = null, calls = 0, answered = Promise.resolve();
function parted(r) { return { dots: r.dots.slice(0, r.total || 0), out: r.dots.slice(r.total || 0) }; } // those left out come last
function radius() { return Math.max(Math.max(box.width, box.height) / 55, 8 * box.width / (svg.clientWidth || box.width)); }
function draw() {
  const R = radius();
  svg.replaceChildren();
  svg.style.fontSize = R * 0.6 + "px";
  for (const b of found) rect(b, "face");
  if (now.area) rect(now.area, "frame");
  for (const b of now.blur) rect(b, "blur");
  if (now.line) for (const cls of ["under", "fold"]) make("line", { class: cls, x1: now.line[0][0] * box.width, y1: now.line[0][1] * box.height, x2: now.line[1][0] * box.width, y2: now.line[1][1] * box.height });
  for (const d of now.out) for (const cls of ["out dark", "out"]) make("circle", { class: cls, cx: d.x * box.width, cy: d.y * box.height, r: R });
  now.dots.forEach((d, i) => {
    const x = d.x * box.width, y = d.y * box.height, cls = `dot s${d.side}` + (i === at && document.activeElement === svg ? " on" : "");
    if (d.side === 2) make("rect", { class: cls, x: x - R, y: y - R, width: 2 * R, height: 2 * R });
    else make("circle", { class: cls, cx: x, cy: y, r: R });
  });
  for (const cls of ["mark dark", "mark"]) {
    for (const [x, y] of now.changed?.found || []) make("circle", { class: cls, cx: x * box.width, cy: y * box.height, r: 1.6 * R });
    for (const [x, y] of now.changed?.gone || []) make("path", { class: cls, d: `M${x * box.width - R} ${y * box.height - R}l${2 * R} ${2 * R}m0 ${-2 * R}l${-2 * R} ${2 * R}` });
  }
  if (frame) rect(tidy(frame), mode === "blur" ? "blur" : "frame");
  document.getElementById("undo").disabled = !done.length;
  document.getElementById("redo").disabled = !undone.length;
  offer.hidden = !untold();
  if (untold() && !heard.textContent) heard.textContent = OFFER;
  const { dots, own, touched, area, reading } = now;
  field.value = JSON.stringify({ dots: places(dots), line: own, touched, area, reading });
  form.elements.blur.value = JSON.stringify(now.blur);
}
function places(dots) { return dots.map((d) => [d.x, d.y]); }
function near(a, b) { return Math.hypot(a[0] - b[0], a[1] - b[1]) < 0.002; } // as near as this is the same place, rounded
function untold() { return [...now.yes, ...now.no].some((p) => !now.known.includes(p)); }
function corrected(was, to) { // a dot taken off (no to), added (no was) or moved
  let { yes, no, known } = now;
  if (was) {
    const mine = yes.find((p) => near(p, [was.x, was.y]));
    yes = yes.filter((p) => p !== mine);
    if (!mine || known.includes(mine)) no = [...no, [was.x, was.y]];
  }
  return { yes: to ? [...yes, [to.x, to.y]] : yes, no };
}
function tell() {
  const r = now.readings[now.reading] || now.readings[0];
  document.getElementById("fact").textContent = r.fact || "No double";
  form.elements.shown.value = r.fact || "";
  document.getElementById("grade").textContent = `${words[r.grade]} ${r.total || 0} counted.`;
  document.getElementById("reasons").replaceChildren(...r.reasons.map((t) => Object.assign(document.createElement("li"), { textContent: t })));
}
function others() {
  document.getElementById("readings").replaceChildren(...now.readings.map((r, k) => {
    const li = document.createElement("li"), b = document.createElement("button");
    b.type = "button";
    b.textContent = r.fact ? `${r.fact} (${r.kind})` : `No double: ${r.total || 0} counted`;
    b.setAttribute("aria-pressed", String(k === now.reading));
    b.addEventListener("click", () => choose(k));
    if (k < 9) b.append(" ", Object.assign(document.createElement("kbd"), { textContent: k + 1 }));
    li.append(b);
    return li;
  }));
}
function choose(k) {
  const r = now.readings[k];
  if (!r || now.pending) return;
  if (r.other) { // another set that she may mean takes the place of what is shown, which stays to choose from
    const [shown, ...rest] = now.readings;
    const readings = [{ ...r, other: false }, ...rest.filter((o) => o.other && o !== r), { ...shown, other: true }];
    step({ ...parted(r), line: r.line, own: null, readings, reading: 0, touched: now.touched + 1, known: [...now.yes, ...now.no] });
    tell(); others();
    return;
  }
  const next = parted(r);
  const afresh = next.dots.length === now.dots.length && next.dots.every((d) => now.dots.some((o) => near([d.x, d.y], [o.x, o.y]))) ? {} : FRESH;
  step({ ...next, line: r.line, reading: k, ...afresh });
  tell(); others();
}
function step(next) { done.push(now); undone = []; now = { ...now, changed: null, ...next }; quiet(); draw(); }
function quiet() { said.textContent = heard.textContent = ""; }
function ask(what, body) {
  const mine = ++calls;
  now.pending = [what, body];
  document.getElementById("fact").setAttribute("aria-busy", "true");
  answered = sent(base + what, JSON.stringify(body), "application/json").then((got) => { if (mine === calls) take(got); });
}
function take(got) {
  document.getElementById("fact").removeAttribute("aria-busy");
  if (got.error) { // what is shown goes back to what was answered last
    while (now.pending && done.length) now = done.pop();
    quiet();
    said.textContent = got.error.wrong + " " + got.error.try_this;
  } else if (!got.readings.length) { // nothing but what is shown, so there is nothing to undo either
    now = { ...done.pop(), known: now.known };
    heard.textContent = "Nothing else was found; your dots stay as they are.";
    if (now.pending) ask(...now.pending);
  } else {
    const r = got.readings[0], was = now.dots[at], { dots, out } = parted(r);
    if (was) at = dots.reduce((best, d, i) => (Math.hypot(d.x - was.x, d.y - was.y) < Math.hypot(dots[best].x - was.x, dots[best].y - was.y) ? i : best), 0);
    const left = now.out.filter((o) => dots.every((d) => far([o.x, o.y], [d.x, d.y]) > radius())); // but what counts now
    now = { ...now, dots, out: now.pending[0] === "area" ? out : left, line: r.line || now.own, readings: got.readings, reading: 0, pending: null, changed: got.found ? got : null };
    if (got.found) heard.textContent = differs(got.found.length, got.gone.length);
  }
  at = Math.max(0, Math.min(at, now.dots.length - 1));
  tell(); others(); draw();
}
function differs(found, gone) {
  if (!found && !gone) return "Your dots stay as they are; other ways to count are under Readings.";
  const parts = [found && `found ${found} more, ringed`, gone && `took ${gone} away, crossed out`].filter(Boolean).join(" and ");
  return parts[0].toUpperCase() + parts.slice(1) + ". Undo takes this back.";
}
function again(dots, { own = null, was = null, to = null, out = now.out } = {}) {
  step({ dots, out, line: own || now.line, own, touched: now.touched + 1, ...corrected(was, to) });
  ask("again", { dots: places(dots), line: own, area: now.area });
}
function told() { // count again from what was added and taken off
  const { yes, no, area, dots } = now;
  step({ own: null, known: [...yes, ...no] });
  heard.textContent = "Looking ...";
  ask("told", { dots: places(dots), yes, no, area });
}
function like(p) { drag = null; step({ out: [], own: null, touched: now.touched + 1, yes: [p], no: [], known: [p] }); ask("like", { at: p, area: now.area }); }
function framed() {
  const f = tidy(frame); frame = null;
  if (mode === "blur") step({ blur: large(f) ? [...now.blur, f] : without(now.blur, f) });
  else if (large(f)) { step({ area: f, own: null, touched: 0, ...FRESH }); ask("area", { area: f }); }
  else if (now.area) { step({ area: null, own: null, touched: 0, ...FRESH }); ask("area", { area: null }); }
  draw();
}
function swap(from, to) {
  if (!from.length) return;
  to.push(now); now = from.pop(); calls++; quiet();
  document.getElementById("fact").removeAttribute("aria-busy");
  at = Math.max(0, Math.min(at, now.dots.length - 1));
  if (now.pending) ask(...now.pending);
  else { tell(); others(); }
  draw();
}
function undo() { swap(done, undone); }
function redo() { swap(undone, done); }
function setMode(m) {
  mode = m; frame = null;
  for (const b of document.querySelectorAll("[data-mode]")) b.setAttribute("aria-pressed", String(b.dataset.mode === m));
  draw();
}
form.addEventListener("submit", async (e) => {
  e.preventDefault();
  await answered;
  const got = await sent(form.action, new URLSearchParams(new FormData(form)), "application/x-www-form-urlencoded");
  const told = document.getElementById("notkept");
  told.hidden = !got.error;
  if (got.error) { told.textContent = got.error.wrong + " " + got.error.try_this; told.scrollIntoView({ block: "center" }); return; }
  for (const name of ["credit", "license"]) sessionStorage.setItem(name, form.elements[name].value);
  location = got.at;
});
for (const name of ["credit", "license"]) form.elements[name].value = form.elements[name].value || sessionStorage.getItem(name) || "";
form.addEventListener("keydown", (e) => { if (e.key === "Escape") svg.focus(); });
for (const b of document.querySelectorAll("[data-mode]")) b.addEventListener("click", () => { setMode(b.dataset.mode); svg.focus(); });
offer.addEventListener("click", () => { svg.focus(); told(); });
document.getElementById("undo").addEventListener("click", undo);
document.getElementById("redo").addEventListener("click", redo);
document.getElementById("blurfaces")?.addEventListener("click", () => step({ blur: [...now.blur, ...found] }));
