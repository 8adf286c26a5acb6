"use strict";
// One photo: what is shown of it, its readings, what is changed and taken back, what the server answers. Pointer and keys are in touch.js, the batch in strip.js.
const form = document.getElementById("keep"), said = document.getElementById("said"), fact = document.getElementById("fact");
const words = JSON.parse(form.dataset.grades);
const layer = svg.querySelector("g"), image = svg.querySelector("image");
ground = layer;
const FIRST = 3; // readings shown before the others
const AS_KEPT = -1, NOTHING = -2; // in place of a reading's number: a kept one as it was, that nothing repeats
let one = JSON.parse(form.dataset.start); // the photo as the server tells of it
// now: dots that count, out (left out on purpose, as feelers are) and line as shown; own: the line that the teacher drew, or null; readings: what was answered last,
// found: what the machine sees by itself; chosen: the reading shown; how it came to be shown; pending: shown before the answer came
let now, undone, done, mode = "dots", at = 0, frame = null, calls = 0, later = null;
function parted(r) { return { dots: r.dots.slice(0, r.total || 0), out: r.dots.slice(r.total || 0) }; } // those left out come last
function numbered(readings, own = null) { return readings.map((r, k) => ({ at: k, first: k === 0, ...r, own })); }
function begin() { // the state of a photo just opened
  const readings = one.readings, r = readings.find((o) => o.first);
  now = { readings, found: readings, chosen: r, how: r.at === AS_KEPT ? "kept" : "found", ...parted(r), line: r.line, own: null, touched: 0, area: one.area, blur: [], pending: null };
  undone = []; done = [];
  document.getElementById("more").open = r.at !== AS_KEPT && r.grade !== "sure"; // in doubt she looks at them all
  const draft = one.draft && one.problem ? one.draft : null; // what she said before it could not be kept
  if (!draft) return;
  now.area = draft.area;
  now.blur = draft.blur;
  if (draft.dots) again(draft.dots.map(([x, y]) => ({ x, y, side: 0 })), { own: draft.line, touched: draft.touched });
  else if (draft.area) ask("area", { area: draft.area });
  else choose(options().find((o) => o.at === draft.reading));
}
function radius() { return Math.max(Math.max(box.width, box.height) / 55 / zoom.k, 8 * unit()); }
function draw() {
  const R = radius();
  layer.replaceChildren();
  svg.style.fontSize = R * 0.6 + "px";
  for (const b of one.faces) rect(b, "face");
  if (now.area) rect([now.area[0], now.area[1], now.area[2], now.area[3]], "frame");
  for (const b of now.blur) rect(b, "blur");
  if (now.line) for (const cls of ["under", "fold"]) make("line", { class: cls, x1: now.line[0][0] * box.width, y1: now.line[0][1] * box.height, x2: now.line[1][0] * box.width, y2: now.line[1][1] * box.height });
  for (const d of now.out) for (const cls of ["out dark", "out"]) make("circle", { class: cls, cx: d.x * box.width, cy: d.y * box.height, r: R });
  now.dots.forEach((d, i) => dotted(layer, d.x * box.width, d.y * box.height, d.side, R, i === at && byKey && document.activeElement === svg ? " on" : ""));
  if (frame) rect(tidy(frame), mode === "blur" ? "blur" : "frame");
  document.getElementById("undo").disabled = !done.length;
  document.getElementById("redo").disabled = !undone.length;
  form.elements.state.value = JSON.stringify({ dots: places(now.dots), line: now.own, touched: now.touched, area: now.area, reading: now.chosen.at });
  form.elements.blur.value = JSON.stringify(now.blur);
}
function places(dots) { return dots.map((d) => [d.x, d.y]); }
function near(a, b) { return Math.hypot(a[0] - b[0], a[1] - b[1]) < 0.002; } // as near as this is the same place, rounded
function grade(r) { // set by hand is called that, and never "sure"
  const how = { kept: "As it was kept.", chosen: "You chose this reading.", hand: "Set by hand.", like: "Found from the one you pointed at: please look at each.", taught: "As you counted these before: please look at each." }[now.how];
  return r.at === NOTHING && !how ? "Nothing repeats here, as far as was seen." : `${how || words[r.grade]} ${r.total || 0} counted.`.trim();
}
function retell() {
  const r = now.chosen;
  fact.textContent = r.fact || "No double";
  form.elements.shown.value = r.fact || "";
  document.getElementById("grade").textContent = grade(r);
  const reasons = r.reasons.length ? r.reasons : ["Nothing speaks against it."];
  document.getElementById("reasons").replaceChildren(...reasons.map((t) => Object.assign(document.createElement("li"), { textContent: t })));
}
function same(r, o) { // the same dots in the same halves
  return r.fact === o.fact && r.total === o.total && r.kind === o.kind && parted(r).dots.every((d) => parted(o).dots.some((e) => near([d.x, d.y], [e.x, e.y]) && d.side === e.side));
}
function options() { // every reading to choose from: what was answered last, then what the machine saw by itself; none twice
  const every = now.readings === now.found ? now.found : [...now.readings, ...now.found];
  const list = every.filter((r, i) => !every.slice(0, i).some((o) => same(r, o))), nothing = list.findIndex((r) => r.at === NOTHING);
  if (nothing > FIRST) list.splice(FIRST, 0, ...list.splice(nothing, 1)); // beside the first readings, not in place of one
  return list;
}
function unfolded(list) { return FIRST + Number(list.some((r) => r.at === NOTHING)); } // how many are shown before the others
function inSight(list) { return document.getElementById("more").open ? list : list.slice(0, unfolded(list)); }
function others() {
  const list = options(), called = names(list, [box.width, box.height]);
  const buttons = list.map((r, k) => {
    const li = document.createElement("li"), b = put("button", li, { type: "button" });
    b.append(picture(`/photos/${one.id}/thumb.webp`, one.size, parted(r).dots.map((d) => [d.x, d.y, d.side]), r.fact && r.line));
    const label = put("span", b, { className: "label" }), [start, ...rest] = called[k].split(/(?=, )/);
    put("strong", label, { textContent: start });
    label.append(...rest);
    if (k < 9) put("kbd", b, { textContent: k + 1, ariaHidden: "true" });
    b.setAttribute("aria-pressed", String(r === now.chosen || same(r, now.chosen)));
    b.addEventListener("click", () => choose(r));
    return li;
  });
  const more = document.getElementById("more"), first = unfolded(list);
  document.getElementById("readings").replaceChildren(...buttons.slice(0, first));
  more.lastElementChild.replaceChildren(...buttons.slice(first));
  more.firstElementChild.textContent = `${buttons.length - first} more`;
  more.hidden = buttons.length <= first;
  if (list.indexOf(now.chosen) >= first) more.open = true;
}
function choose(r) { // at once, whatever answer is still on its way: that one is about what is not shown any more
  if (!r) return;
  calls++;
  const found = now.found.includes(r), how = r.at === AS_KEPT ? "kept" : r.first ? "found" : "chosen";
  step({ ...parted(r), line: r.line, chosen: r, own: r.own || null, pending: null, ...(found ? { readings: now.found, touched: 0, how } : {}) });
  rested();
}
function rested() { // what is shown is answered
  fact.removeAttribute("aria-busy");
  at = Math.max(0, Math.min(at, now.dots.length - 1));
  retell(); others(); draw();
  const act = later;
  later = null;
  if (act) act();
}
function step(next) { done.push(now); undone = []; now = { ...now, ...next }; said.textContent = ""; draw(); }
function ask(what, body) {
  const mine = ++calls;
  now.pending = [what, body];
  fact.setAttribute("aria-busy", "true");
  sent(`/photos/${one.id}/${what}`, JSON.stringify(body), JSON_TYPE).then((got) => { if (mine === calls) take(got); });
}
function take(got) {
  if (got.error) { // what is shown goes back to what was answered last
    while (now.pending && done.length) now = done.pop();
    later = null;
    said.textContent = got.error.wrong + " " + got.error.try_this;
  } else {
    const [what, body] = now.pending, readings = numbered(got.readings, body.line).map((r) => ({ ...r, hand: what !== "area" }));
    const r = readings.find((o) => o.first), was = now.dots[at], { dots, out } = parted(r);
    if (was && dots.length) at = dots.reduce((best, d, i) => (Math.hypot(d.x - was.x, d.y - was.y) < Math.hypot(dots[best].x - was.x, dots[best].y - was.y) ? i : best), 0);
    const left = now.out.filter((o) => dots.every((d) => far([o.x, o.y], [d.x, d.y]) > radius())); // but what counts now
    now = { ...now, dots, out: what === "area" ? out : left, line: r.line || now.own, readings, chosen: r, pending: null };
    if (what === "area") now.found = readings;
  }
  rested();
}
function again(dots, { own = null, out = now.out, touched = now.touched + 1 } = {}) {
  step({ dots, out, line: own || now.line, own, touched, how: "hand" });
  ask("again", { dots: places(dots), line: own, area: now.area });
}
function like(p) { // anything but what she sees: those dots are not what she means
  const shown = [now.dots, ...inSight(options()).map((r) => parted(r).dots)].map(places);
  drag = null;
  step({ out: [], own: null, touched: now.touched + 1, how: "like" });
  ask("like", { at: p, area: now.area, shown });
}
function named() { // what she kept under this name may speak for another reading
  const names = ["thing", "things"].map((k) => fields[k].value.trim()).filter(Boolean), mine = calls, id = one.id;
  if (!names.length || one.kept_as || now.how !== "found" || now.touched) return;
  sent(`/photos/${id}/named`, JSON.stringify({ names, area: now.area }), JSON_TYPE).then((got) => {
    const r = mine === calls && id === one.id && now.found.find((o) => o.at === got.at);
    if (!r || r === now.chosen) return;
    const other = { ...r, grade: "check", reasons: [got.note, ...r.reasons] };
    step({ found: now.found.map((o) => (o === r ? other : o)) }); // one step back is as it was
    now = { ...now, ...parted(other), line: other.line, readings: now.found, chosen: other, how: "taught", own: null };
    rested();
  });
}
function framed() {
  const f = tidy(frame); frame = null;
  if (mode === "blur") step({ blur: large(f) ? [...now.blur, f] : without(now.blur, f) });
  else if (large(f) || now.area) {
    const area = large(f) ? f : null;
    step({ area, own: null, touched: 0, how: "found" });
    ask("area", { area });
  }
  draw();
}
function swap(from, to) {
  if (!from.length) return;
  to.push(now); now = from.pop(); calls++; said.textContent = ""; later = null;
  if (now.pending) { fact.removeAttribute("aria-busy"); ask(...now.pending); draw(); } else rested();
}
function undo() { swap(done, undone); }
function redo() { swap(undone, done); }
function setMode(m) {
  mode = m; frame = null;
  for (const b of document.querySelectorAll("[data-mode]")) b.setAttribute("aria-pressed", String(b.dataset.mode === m));
  draw();
}
for (const b of document.querySelectorAll("[data-mode]")) b.addEventListener("click", () => { setMode(b.dataset.mode); svg.focus({ preventScroll: true }); });
document.getElementById("undo").addEventListener("click", undo);
document.getElementById("redo").addEventListener("click", redo);
document.getElementById("blurfaces").addEventListener("click", () => { step({ blur: [...now.blur, ...one.faces] }); rested(); });
