"use strict";
// The lesson's order by mouse, pen, finger and keys; downloads that say how far they are.
const order = document.getElementById("order");
const moved = document.getElementById("moved");
function names() { return [...order.children].map((li) => li.dataset.key); }
const days = order ? [...order.querySelectorAll(".day")].map((e) => e.textContent) : []; // a day keeps its number of pictures
let sent = Promise.resolve(), unsaved = false;
// The new place is said at once. Orders go out one after the other: of two on their way the older could be kept.
function save(li) {
  order.querySelectorAll(".day").forEach((e, n) => { e.textContent = days[n]; });
  const body = new URLSearchParams([["what", "order"], ...names().map((key) => ["order", key])]);
  const at = names().indexOf(li.dataset.key) + 1;
  const said = moved.textContent = `${li.querySelector(".what").innerText.split("\n")[0]}: ${at} of ${order.children.length}`;
  sent = sent.then(() => send(body, said));
}
async function send(body, said) {
  try {
    const answer = await fetch("/lesson", { method: "POST", headers: { Accept: "application/json" }, body, keepalive: true });
    const got = await answer.json();
    if (got.error) { location.reload(); return; } // somebody else changed it: show what is there
    if (unsaved) moved.textContent = said;
    unsaved = false;
  } catch { unsaved = true; moved.classList.remove("hidden"); moved.textContent = "Not saved: the page does not answer. Is curator serve still running?"; }
}
function step(li, way) {
  const other = way < 0 ? li.previousElementSibling : li.nextElementSibling;
  if (!other) return;
  if (way < 0) li.after(other); else li.before(other);
  save(li);
}
if (order) {
  let held = null, was = "";
  order.addEventListener("pointerdown", (e) => {
    const grip = e.target.closest(".grip");
    if (!grip || e.button) return;
    e.preventDefault();
    grip.focus();
    grip.setPointerCapture(e.pointerId);
    held = grip.closest("li");
    was = names().join();
    held.classList.add("held");
  });
  order.addEventListener("pointermove", (e) => {
    if (!held) return;
    if (e.clientY < 60) scrollBy(0, -12); else if (e.clientY > innerHeight - 60) scrollBy(0, 12);
    for (const li of [...order.children]) {
      const box = li.getBoundingClientRect(), middle = box.top + box.height / 2;
      const above = held.compareDocumentPosition(li) & Node.DOCUMENT_POSITION_PRECEDING;
      if (li === held) continue;
      if (above && e.clientY < middle) { held.after(li); break; } // the one that is held stays where it is: it keeps the pointer
      if (!above && e.clientY > middle) held.before(li);
    }
  });
  const drop = () => {
    if (!held) return;
    const li = held;
    held = null;
    li.classList.remove("held");
    if (names().join() !== was) save(li);
  };
  order.addEventListener("pointerup", drop);
  order.addEventListener("pointercancel", drop);
  order.addEventListener("keydown", (e) => {
    const grip = e.target.closest(".grip"), way = { ArrowUp: -1, ArrowDown: 1 }[e.key];
    if (!grip || !way) return;
    e.preventDefault();
    step(grip.closest("li"), way);
    grip.focus();
  });
  order.addEventListener("submit", (e) => {
    const way = { up: -1, down: 1 }[e.submitter?.value];
    if (!way) return;
    e.preventDefault();
    step(e.target.closest("li"), way);
    e.submitter.focus();
  });
}
const making = document.getElementById("making");
for (const link of document.querySelectorAll("#downloads a")) {
  link.addEventListener("click", (e) => {
    if (link.dataset.ready) { delete link.dataset.ready; return; }
    e.preventDefault();
    if (!making.hidden && making.dataset.going) return;
    making.hidden = false;
    making.dataset.going = "yes";
    const bar = making.querySelector("progress"), words = document.getElementById("made"), source = new EventSource("/lesson/progress");
    const end = (text) => { source.close(); delete making.dataset.going; words.textContent = text; };
    source.onmessage = (m) => {
      const got = JSON.parse(m.data);
      bar.value = got.done / got.of;
      words.textContent = `Pictures: ${got.done} of ${got.of}`;
    };
    source.addEventListener("done", () => { end("The file comes now."); link.dataset.ready = "yes"; link.click(); });
    source.addEventListener("failed", (m) => end(JSON.parse(m.data)));
    source.onerror = () => { if (source.readyState === EventSource.CLOSED || making.dataset.going) end("The page does not answer. Is curator serve still running?"); };
  });
}
