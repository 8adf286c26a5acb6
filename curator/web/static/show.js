"use strict";
const view = document.getElementById("view");
const said = document.getElementById("equation");
const half = Number(said.dataset.half);
let now = "plain";
let timer = 0;
function choose(which) {
  clearTimeout(timer);
  view.classList.remove("away");
  now = which;
  view.src = `/show/${view.dataset.slug}/${which}.webp`;
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
  const covered = now === "cover1" || now === "cover2";
  said.textContent = covered ? `${2 * half} − ${half} = ${half}` : `${half} + ${half} = ${2 * half}`;
}
const keys = { f: "#flash", p: "[data-view=plain]", 1: "[data-view=cover1]", 2: "[data-view=cover2]", o: "[data-view=rings]", t: "[data-view=frame]", e: "#reveal", s: "#full", PageDown: "#next", n: "#next" };
for (const b of document.querySelectorAll("[data-view]")) b.addEventListener("click", () => choose(b.dataset.view));
document.getElementById("flash").addEventListener("click", flash);
document.getElementById("reveal")?.addEventListener("click", reveal);
document.getElementById("full").addEventListener("click", () => document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen());
document.addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey || e.target.tagName === "SELECT") return;
  if (e.key === "PageUp") { history.back(); return; }
  const target = keys[e.key] && document.querySelector(keys[e.key]);
  if (target) { e.preventDefault(); target.click(); }
});
