"use strict";
const form = document.getElementById("upload");
const list = document.getElementById("items");
const said = document.getElementById("said");
const teacher = list.dataset.who === "teacher";
let source = null;
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
function send(file) {
  const li = document.createElement("li");
  list.append(li);
  put("span", li, { className: "name", textContent: file.name });
  const bar = put("progress", li, { max: 1, value: 0, ariaLabel: "Sending " + file.name });
  const data = new FormData();
  data.append("photo", file, file.name || "photo");
  const call = new XMLHttpRequest();
  call.open("POST", "/photos");
  call.setRequestHeader("Accept", "application/json");
  call.responseType = "json";
  call.upload.onprogress = (e) => { if (e.lengthComputable) bar.value = e.loaded / e.total; };
  const fail = (words) => show({ id: "", name: file.name, state: "error", words, grade: "error" }, li);
  call.onerror = () => fail("It did not arrive. Is the page still running?");
  const over = new Promise((done) => { call.onloadend = done; });
  call.onload = () => {
    const got = call.response || {};
    if (got.error) return fail(got.error.wrong + " " + got.error.try_this);
    const item = got.items[0];
    if (item.id) { li.id = "item-" + item.id; }
    show(item, li);
    listen();
  };
  call.send(data);
  return over;
}
async function sendAll(files) {
  said.textContent = `Sending ${files.length} photo${files.length === 1 ? "" : "s"}.`;
  for (const file of files) await send(file);
  said.textContent = "All sent.";
}
for (const input of form.querySelectorAll("input[type=file]")) {
  input.addEventListener("change", () => { sendAll([...input.files]); form.reset(); });
}
form.addEventListener("dragover", (e) => { e.preventDefault(); form.classList.add("over"); });
form.addEventListener("dragleave", () => form.classList.remove("over"));
form.addEventListener("drop", (e) => { e.preventDefault(); form.classList.remove("over"); sendAll([...e.dataTransfer.files]); });
document.addEventListener("paste", (e) => { if (e.clipboardData.files.length) sendAll([...e.clipboardData.files]); });
if (list.children.length) listen();
