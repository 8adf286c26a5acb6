"use strict";
// The classroom view. Keys are those of the lesson's own page; a clicker goes through `steps`.
const view = document.getElementById("view");
const said = document.getElementById("equation");
const half = Number(said.dataset.half);
const steps = half ? [["plain", 0], ["cover1", 0], ["cover1", 1], ["rings", 0], ["rings", 1]] : [["plain", 0], ["dots", 0]];
const alts = { plain: "", dots: " A mark on each.", rings: " Rings are drawn on it.", cover1: " A part is covered.", cover2: " Another part is covered.", frame: "Ten frames." };
const base = view.alt;
const made = {}; // pictures asked for ahead, so that nothing waits before the class
let now = "plain", at = 0, timer = 0;
function address(which) { return `/show/${view.dataset.slug}/${which}.webp`; }
function choose(which) {
  clearTimeout(timer);
  view.classList.remove("away");
  now = which;
  view.src = address(which);
  view.alt = which === "frame" ? alts.frame : base + alts[which];
  for (const b of document.querySelectorAll("[data-view]")) b.setAttribute("aria-pressed", String(b.dataset.view === which));
  said.textContent = "";
}
function flash() {
  clearTimeout(timer);
  said.textContent = "";
  view.classList.remove("away");
  timer = setTimeout(() => view.classList.add("away"), 1000 * Number(document.getElementById("seconds").value));
}
function reveal() {
  if (!half) return;
  const covered = now === "cover1" || now === "cover2";
  view.classList.remove("away");
  clearTimeout(timer);
  said.textContent = covered ? `${2 * half} − ${half} = ${half}` : `${half} + ${half} = ${2 * half}`;
}
function go(to) {
  if (to < 0) { document.getElementById("before")?.click(); return; }
  if (to >= steps.length) { document.getElementById("next")?.click(); return; }
  at = to;
  if (now !== steps[at][0] || said.textContent) choose(steps[at][0]);
  if (steps[at][1]) reveal();
}
function ahead() {
  for (const b of document.querySelectorAll("[data-view]")) { made[b.dataset.view] = new Image(); made[b.dataset.view].src = address(b.dataset.view); }
}
function full() { if (document.fullscreenElement) document.exitFullscreen(); else document.documentElement.requestFullscreen().catch(() => {}); }
function press(which) { document.querySelector(`[data-view=${which}]`)?.click(); }
function dark() { document.body.classList.toggle("dark"); }
const on = () => go(at + 1), back = () => go(at - 1);
const keys = {
  ArrowRight: on, ArrowDown: on, PageDown: on, " ": on, Enter: on, ArrowLeft: back, ArrowUp: back, PageUp: back, Backspace: back,
  s: flash, f: full, r: reveal, b: dark, ".": dark, Escape: () => document.body.classList.remove("dark"),
  p: () => press("plain"), c: () => press(now === "cover2" ? "cover2" : "cover1"), o: () => press("cover2"),
  d: () => press("dots"), h: () => press("rings"), t: () => press("frame"), n: () => document.getElementById("next")?.click(),
};
for (const b of document.querySelectorAll("[data-view]")) {
  b.addEventListener("click", () => {
    choose(b.dataset.view);
    at = Math.max(0, steps.findIndex(([which]) => which === b.dataset.view));
  });
}
document.getElementById("flash").addEventListener("click", flash);
document.getElementById("reveal")?.addEventListener("click", reveal);
document.getElementById("full").addEventListener("click", full);
document.addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  const own = e.target.closest("button, a, select"), turning = e.key === "PageDown" || e.key === "PageUp";
  if (own && (e.key === " " || e.key === "Enter")) return;
  if (own?.tagName === "SELECT" && !turning) return;
  const act = keys[e.key.length === 1 ? e.key.toLowerCase() : e.key];
  if (act) { e.preventDefault(); act(); }
});
if (view.complete) ahead(); else view.addEventListener("load", ahead, { once: true });
