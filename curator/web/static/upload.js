"use strict";
const form = document.getElementById("upload");
const list = document.getElementById("items");
const said = document.getElementById("said");
const teacher = list.dataset.who === "teacher";
const grades = { check: "Please check", error: "Not taken" };
let source = null, going = 0;
function line(id) {
  let li = document.getElementById("item-" + id);
  if (!li) { li = document.createElement("li"); li.id = "item-" + id; list.append(li); }
  return li;
}
function put(tag, parent, values) { const e = document.createElement(tag); Object.assign(e, values); parent.append(e); return e; }
function show(item, li) {
  li = li || line(item.id);
  li.className = item.grade;
  li.replaceChildren();
  if (item.state === "ready") put("img", li, { src: `/photos/${item.id}/thumb.webp`, width: 96, height: 72, alt: "" });
  put("span", li, { className: "name", textContent: item.name });
  if (grades[item.grade]) put("span", li, { className: "grade", textContent: grades[item.grade] });
  put("strong", li, { className: "answer", textContent: item.words });
  if (!teacher || !item.id) return;
  if (item.state === "ready") put("a", li, { className: "button", href: "/photos/" + item.id, textContent: "Look", ariaLabel: "Look at " + item.name });
  const drop = put("form", li, { method: "post", action: `/photos/${item.id}/drop` });
  put("button", drop, { className: "quiet", textContent: "Drop", ariaLabel: "Drop " + item.name });
}
function listen() {
  if (source) source.close();
  source = new EventSource("/photos/events");
  source.onmessage = (e) => show(JSON.parse(e.data));
  source.addEventListener("done", () => source.close());
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
function send(file, li, bar) {
  const data = new FormData();
  data.append("photo", file, file.name || "photo");
  const call = new XMLHttpRequest();
  call.open("POST", "/photos");
  call.setRequestHeader("Accept", "application/json");
  call.responseType = "json";
  call.upload.onprogress = (e) => { if (e.lengthComputable) bar.value = e.loaded / e.total; };
  const fail = (words) => show({ id: "", name: file.name, state: "error", words, grade: "error" }, li);
  return new Promise((done) => {
    call.onloadend = () => done(call.status > 0); // answered; else it is sent again after a reload
    call.onerror = () => fail("It did not arrive. Is the page still running? Reload to send it again.");
    call.onload = () => {
      const got = call.response || {};
      if (got.error) { fail(got.error.wrong + " " + got.error.try_this); return; }
      const item = got.items?.[0];
      if (!item) { fail("It did not arrive."); return; }
      if (item.id && document.getElementById("item-" + item.id)) li.remove(); // an event was quicker, or it was there
      else { if (item.id) li.id = "item-" + item.id; show(item, li); }
      listen();
    };
    call.send(data);
  });
}
function queued(file) {
  const li = put("li", list, {});
  put("span", li, { className: "name", textContent: file.name || "photo" });
  return [li, put("progress", li, { max: 1, value: 0, ariaLabel: "Sending " + (file.name || "photo") })];
}
async function sendAll(files, keys) {
  if (!files.length) return;
  const rows = files.map(queued);
  keys = keys || await Promise.all(files.map(remember));
  going += files.length;
  for (const [i, file] of files.entries()) {
    said.textContent = `Sending: ${going} to go.`;
    if (await send(file, ...rows[i])) await forget(keys[i]);
    going -= 1;
  }
  if (!going) said.textContent = "All sent.";
}
async function resume() {
  const keys = await inStore("readonly", (s) => s.getAllKeys());
  const files = await inStore("readonly", (s) => s.getAll());
  if (files?.length) sendAll(files, keys);
}
for (const input of form.querySelectorAll("input[type=file]")) {
  input.addEventListener("change", () => { sendAll([...input.files]); form.reset(); });
}
form.addEventListener("submit", (e) => { e.preventDefault(); form.querySelector("input[type=file]").click(); }); // Enter on a choice
form.addEventListener("dragover", (e) => { e.preventDefault(); form.classList.add("over"); });
form.addEventListener("dragleave", () => form.classList.remove("over"));
form.addEventListener("drop", (e) => { e.preventDefault(); form.classList.remove("over"); sendAll([...e.dataTransfer.files]); });
document.addEventListener("paste", (e) => { if (e.clipboardData.files.length) sendAll([...e.clipboardData.files]); });
if (list.children.length) listen();
resume();
