"use strict";
const form = document.getElementById("find");
const results = document.getElementById("results");
let asked = 0;
let timer = 0;
async function ask() {
  const mine = ++asked;
  const words = new URLSearchParams(new FormData(form));
  const answer = await fetch("/find?part=1&" + words);
  if (mine !== asked || !answer.ok) return;
  results.innerHTML = await answer.text(); // our own server's escaped HTML
  document.getElementById("said").textContent = results.querySelector(".count").textContent;
  history.replaceState(null, "", "/find?" + words);
}
form.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 120); });
