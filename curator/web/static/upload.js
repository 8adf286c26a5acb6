"use strict";
// Photos: chosen, dropped or pasted; a card each at once, where it stays while the answers come; one bar for all that is ticked.
const form = document.getElementById("upload"), bar = document.getElementById("bar"), said = document.getElementById("said");
const groups = Object.fromEntries(["ready", "check", "error", "wait"].map((g) => [g, document.querySelector(`#group-${g} ul`)]));
const teacher = document.getElementById("items").dataset.who === "teacher";
const blank = document.getElementById("card").content.firstElementChild;
const GRADES = { sure: "Ready", check: "Please check", no: "", error: "Not taken", wait: "" };
const own = {}; // address of the browser's own picture of each card, until the server's is there
const early = new Map(); // news of a photo whose sending is not answered yet: its card is there, and not known by its id
let going = 0, toLesson = null;
function cards() { return [...document.querySelectorAll(".shot")]; }
function card(name) {
  const li = blank.cloneNode(true);
  li.querySelector(".name").textContent = name;
  groups.wait.append(li);
  return li;
}
function cardOf(item) {
  let li = document.getElementById("item-" + item.id);
  if (!li) { li = card(item.name); li.id = "item-" + item.id; }
  return li;
}
function show(item, li = cardOf(item)) {
  const answered = item.state === "ready", error = item.grade === "error";
  const look = li.querySelector("a"), tick = li.querySelector(".tick input"), grade = li.querySelector(".grade");
  li.dataset.group = item.group;
  li.dataset.state = item.state;
  li.querySelector("progress")?.remove();
  li.querySelector(".name").textContent = item.name;
  li.querySelector(".answer").textContent = error ? "" : item.words;
  grade.textContent = item.problem ? "Not kept" : item.faces && answered ? "A face?" : GRADES[item.grade];
  grade.className = "grade " + (item.problem ? "error" : item.faces ? "check" : item.grade);
  li.querySelector(".why").textContent = item.problem || (error ? item.words : "");
  if (answered && teacher) { look.href = "/photos/" + item.id; look.ariaLabel = `Look at ${item.name}`; }
  if (answered) {
    drawOver(li.querySelector("svg"), item.size, item.dots, item.line);
    const img = li.querySelector("img"), thumb = `/photos/${item.id}/thumb.webp`;
    if (!own[item.id] && img.getAttribute("src") !== thumb) img.src = thumb;
  }
  if (tick) {
    if (answered && (!("answered" in li.dataset) || (item.faces && !("hers" in li.dataset)))) tick.checked = item.group === "ready";
    if (answered) li.dataset.answered = "";
    tick.disabled = !answered;
    tick.ariaLabel = `Keep ${item.name}`;
    const things = li.querySelector(".things");
    things.ariaLabel = `What they are, ${item.name}`;
    things.hidden = error;
    if (item.id) { if (things.value) note(item.id, things.value); else things.value = noted(item.id); }
  }
  const again = li.querySelector(".again");
  if (again) { // what could not be looked at cannot be kept
    again.hidden = !(error && item.id);
    again.ariaLabel = `Try ${item.name} again`;
    li.querySelector(".tick").hidden = error;
  }
  const away = li.querySelector(".away");
  if (away) { away.ariaLabel = `Put away ${item.name}`; away.disabled = !item.id && !error; }
  count();
}
function count() {
  const all = cards(), looked = all.filter((li) => li.dataset.group !== "wait"), ticked = all.filter(isTicked).length;
  const [ready, check, no] = ["ready", "check", "error"].map((g) => all.filter((li) => li.dataset.group === g).length);
  const many = document.getElementById("count"), part = document.getElementById("looked");
  many.textContent = !all.length ? "" : looked.length < all.length ? `${looked.length} of ${all.length} looked at` : `${all.length} of ${all.length}: ${ready} ready, ${check} to check${no ? `, ${no} not taken` : ""}`;
  part.max = all.length || 1;
  part.value = looked.length;
  for (const [g, list] of Object.entries(groups)) {
    list.parentElement.hidden = !list.children.length;
    list.parentElement.querySelector(".many").textContent = list.children.length;
  }
  document.getElementById("sort").hidden = ![...groups.wait.children].some((li) => li.dataset.group !== "wait");
  if (!bar) return;
  bar.hidden = !all.length;
  document.getElementById("ticked").textContent = `${ticked} ticked`;
  for (const b of bar.querySelectorAll("button")) b.disabled = !ticked;
  const first = [...groups.check.children, ...groups.wait.children].find((li) => li.dataset.group === "check" && li.dataset.state === "ready");
  const next = document.getElementById("checks");
  next.classList.toggle("unseen", !first); // its place is kept, so that nothing moves when it comes
  if (first) next.href = first.querySelector("a").href;
}
function isTicked(li) { return li.dataset.state === "ready" && li.querySelector(".tick input")?.checked; }
function sorted() { // cards go to their groups when she asks for it, never by themselves
  for (const li of [...groups.wait.children]) if (li.dataset.group !== "wait") groups[li.dataset.group].append(li);
  count();
}
// Photos chosen and not sent yet are kept by the browser, so that a reload in the middle of a batch loses none.
const store = new Promise((ready) => {
  const asked = indexedDB.open("curator-batch", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore("files", { autoIncrement: true });
  asked.onsuccess = () => ready(asked.result);
  asked.onerror = () => ready(null); // a private window: the batch goes without
}).catch(() => null);
async function inStore(way, work) {
  const base = await store;
  if (!base) return null;
  return new Promise((ready) => {
    const asked = work(base.transaction("files", way).objectStore("files"));
    asked.onsuccess = () => ready(asked.result);
    asked.onerror = () => ready(null);
  });
}
const remember = (file) => inStore("readwrite", (s) => s.add(file));
const forget = (key) => (key === null ? null : inStore("readwrite", (s) => s.delete(key)));
function send(file, li) {
  const data = new FormData();
  data.append("photo", file, file.name || "photo");
  const call = new XMLHttpRequest();
  call.open("POST", "/photos");
  call.setRequestHeader("Accept", "application/json");
  call.responseType = "json";
  const part = li.querySelector("progress");
  call.upload.onprogress = (e) => { if (e.lengthComputable) part.value = e.loaded / e.total; };
  const fail = (words) => show({ id: "", name: file.name, state: "error", words, grade: "error", group: "error" }, li);
  return new Promise((done) => {
    call.onloadend = () => done(call.status > 0); // answered; else it is sent again after a reload
    call.onerror = () => fail("It did not arrive. Is the page still running? Reload to send it again.");
    call.onload = () => {
      const got = call.response || {}, item = got.items?.[0];
      if (got.error) fail(got.error.wrong + " " + got.error.try_this);
      else if (!item) fail("It did not arrive.");
      else arrived(item, li);
    };
    call.send(data);
  });
}
function arrived(item, li) {
  const there = item.id && document.getElementById("item-" + item.id);
  if (there) { there.replaceWith(li); li.id = there.id; } // an event was quicker, or it was there before
  if (item.id) { li.id = "item-" + item.id; own[item.id] = li.querySelector("img").src; }
  show(early.get(item.id) || item, li);
  early.delete(item.id);
  listen();
}
function queued(file) {
  const name = file.name || "photo", li = card(name), img = li.querySelector("img");
  img.src = URL.createObjectURL(file);
  img.addEventListener("error", () => { // a kind the browser cannot show: the server's picture comes with the answer
    delete own[li.id.slice(5)];
    if (li.dataset.state === "ready") img.src = `/photos/${li.id.slice(5)}/thumb.webp`; else img.removeAttribute("src");
  }, { once: true });
  put("progress", li.querySelector(".says"), { max: 1, value: 0, ariaLabel: name + " on the way" });
  li.dataset.group = "wait";
  return li;
}
async function sendAll(files, keys) {
  if (!files.length) return;
  const rows = files.map(queued);
  count();
  rows[0].scrollIntoView({ block: "nearest" });
  keys = keys || await Promise.all(files.map(remember));
  going += files.length;
  for (const [i, file] of files.entries()) {
    said.textContent = `${going} on the way.`;
    if (await send(file, rows[i])) await forget(keys[i]);
    going -= 1;
  }
  if (going) return;
  said.textContent = "All are here.";
  for (const item of early.values()) show(item); // a phone's
  early.clear();
}
async function resume() {
  let keys = [];
  const files = await inStore("readonly", (s) => { // in one go: a photo chosen meanwhile would have no key, and be sent twice
    const asked = s.getAllKeys();
    asked.onsuccess = () => { keys = asked.result; };
    return s.getAll();
  });
  if (files?.length) sendAll(files, keys);
}
for (const input of form.querySelectorAll("input[type=file]")) {
  input.addEventListener("change", () => { sendAll([...input.files]); form.reset(); });
}
form.addEventListener("submit", (e) => { e.preventDefault(); form.querySelector("input[type=file]").click(); }); // Enter on a choice
document.addEventListener("dragover", (e) => { e.preventDefault(); form.classList.add("over"); });
document.addEventListener("dragleave", (e) => { if (!e.relatedTarget) form.classList.remove("over"); });
document.addEventListener("drop", (e) => { e.preventDefault(); form.classList.remove("over"); sendAll([...e.dataTransfer.files]); });
document.addEventListener("paste", (e) => { if (e.clipboardData.files.length) sendAll([...e.clipboardData.files]); });
document.addEventListener("batch:item", ({ detail: item }) => {
  const there = document.getElementById("item-" + item.id);
  if (["kept", "dropped", "keeping"].includes(item.state)) { there?.remove(); count(); if (item.state === "kept") kept(item); return; }
  if (!there && going) { early.set(item.id, item); return; }
  show(item, there || undefined);
  if (item.problem) kept(item);
});
document.addEventListener("batch:done", () => { if (document.hidden) sorted(); });
document.getElementById("items").addEventListener("click", async (e) => {
  const li = e.target.closest(".again")?.closest(".shot");
  if (!li) return;
  const item = await sent(`/photos/${li.id.slice(5)}/retry`, "", FORM);
  if (item.error) { tell(`${li.querySelector(".name").textContent}: ${item.error.wrong} ${item.error.try_this}`); return; }
  groups.wait.append(li); // it may be taken now, and is sorted with the others
  show(item, li);
  li.querySelector(".away").focus();
  listen();
});
document.getElementById("items").addEventListener("click", (e) => {
  const button = e.target.closest(".away"), li = button?.closest(".shot");
  if (!li) return;
  const id = li.id.slice(5), at = li.nextElementSibling, list = li.parentElement, focus = at || li.previousElementSibling;
  li.remove();
  (focus?.querySelector(".away") || form.querySelector("input")).focus();
  count();
  if (id) drop(id, li.querySelector(".name").textContent, (item) => { list.insertBefore(li, at?.parentElement === list ? at : null); if (item) show(item, li); else count(); });
});
document.getElementById("items").addEventListener("change", (e) => { const li = e.target.closest(".tick")?.closest(".shot"); if (li) { li.dataset.hers = ""; count(); } });
document.getElementById("items").addEventListener("input", (e) => { const li = e.target.closest(".things")?.closest(".shot"); if (li?.id) note(li.id.slice(5), e.target.value); });
document.getElementById("sort").addEventListener("click", sorted);

// What is told at the foot never lies over the bar, however high that is.
if (bar) new ResizeObserver(() => document.body.style.setProperty("--bar", `${bar.offsetHeight}px`)).observe(bar);

// The bar: one word on all that is ticked. They leave the page at once; one that cannot be kept comes back with the reason.
function keepTicked(lesson) {
  const all = cards().filter(isTicked), ids = all.map((li) => li.id.slice(5)), things = Object.fromEntries(all.map((li) => [li.id.slice(5), li.querySelector(".things").value]));
  if (!ids.length) return;
  const { credit, license, people } = bar.elements;
  for (const li of all) li.remove();
  sorted();
  toLesson = { left: new Set(ids), kept: 0, go: lesson };
  tell(`Keeping ${ids.length} ...`);
  keepBehind({ ids, url: "/photos/keep", type: JSON_TYPE, body: JSON.stringify({ ids, things, credit: credit.value, license: license.value, people: bar.elements.own.checked ? "none" : people.value, lesson: lesson ? "1" : "" }) });
}
function kept(item) {
  if (!toLesson?.left.delete(item.id)) return;
  toLesson.kept += item.state === "kept" ? 1 : 0;
  if (toLesson.left.size) { tell(`${toLesson.kept} kept, ${toLesson.left.size} to go ...`); return; }
  const failed = cards().filter((li) => li.querySelector(".why").textContent && li.dataset.state === "ready").length;
  if (toLesson.go && !failed) { location = "/lesson"; return; }
  const words = `${toLesson.kept} kept.` + (failed ? ` ${failed} could not be kept: the cards say why.` : "");
  tell(words, toLesson.go ? "Open the lesson" : "Make a lesson", () => { location = toLesson.go ? "/lesson" : "/"; });
}
function people() { document.getElementById("people").hidden = bar.elements.own.checked; }
if (bar) {
  bar.addEventListener("submit", (e) => { e.preventDefault(); keepTicked(e.submitter?.value === "lesson"); });
  bar.elements.own.addEventListener("change", people);
  people();
  document.getElementById("rights").open = innerWidth > 960;
}
for (const li of cards()) { const things = li.querySelector(".things"); if (things) things.value ||= noted(li.id.slice(5)); }
if (cards().length || waiting().length) listen();
count(); sendOut(); resume();
