"use strict";
// What Photos and Look share: what is sent and answered, what is kept behind the page's back, news of the batch, one line that tells and undoes.
// Sends and answers JSON; an error of the server or of the way to it comes back as { error }, `offline` when nothing answered.
async function sent(url, body, type) {
  let answer;
  try {
    answer = await fetch(url, { method: "POST", headers: { "Content-Type": type, Accept: "application/json" }, body });
  } catch { return { offline: true, error: { wrong: "The page does not answer.", try_this: "Is curator serve still running?" } }; }
  try { return await answer.json(); } catch { return { error: { wrong: "The answer cannot be read.", try_this: "Reload the page." } }; }
}
const FORM = "application/x-www-form-urlencoded", JSON_TYPE = "application/json";

// Kept at once, sent behind: what waits stands in the browser until the server has it, so that a reload or a pause of the server loses nothing.
// The server takes each photo once, however often it is sent.
const OUTBOX = "curator-outbox";
let sending = false, pause = 500;
function outgoing() { try { return JSON.parse(localStorage.getItem(OUTBOX)) || []; } catch { return []; } }
function setOutgoing(list) { try { localStorage.setItem(OUTBOX, JSON.stringify(list)); } catch { held = list; } }
let held = null; // where the browser keeps nothing
function waiting() { return held || outgoing(); }
function keepBehind(task) { // { ids, url, body, type }
  const list = waiting();
  if (task.ids.length && task.ids.every((id) => list.some((one) => one.ids.includes(id)))) return;
  setOutgoing([...list, task]);
  sendOut();
}
async function sendOut() {
  if (sending) return;
  sending = true;
  for (let task; (task = waiting()[0]);) {
    const got = await sent(task.url, task.body, task.type);
    if (got.offline) {
      tell(`${waiting().length} not sent yet: the page does not answer. It is tried again.`);
      await new Promise((done) => setTimeout(done, pause));
      pause = Math.min(pause * 2, 8000);
      continue;
    }
    if (pause > 500) tell("");
    pause = 500;
    setOutgoing(waiting().filter((one) => one.url !== task.url || one.body !== task.body));
    document.dispatchEvent(new CustomEvent("batch:sent", { detail: { task, got } }));
    listen();
  }
  sending = false;
}
window.addEventListener("beforeunload", (e) => { if (held?.length) e.preventDefault(); });

// What she said the things of a photo are before it is kept: typed on its card or beside the photo, it stands in both, and after a reload.
const NOTED = "curator-things";
function notes() { try { return JSON.parse(sessionStorage.getItem(NOTED)) || {}; } catch { return {}; } }
function noted(id) { return notes()[id] || ""; }
function note(id, words) { try { sessionStorage.setItem(NOTED, JSON.stringify({ ...notes(), [id]: words })); } catch { /* nothing is kept in this browser */ } }

// News of every photo as it changes, until nothing is in work.
let source = null;
function listen() {
  if (source) source.close();
  source = new EventSource("/photos/events");
  source.onmessage = (e) => document.dispatchEvent(new CustomEvent("batch:item", { detail: JSON.parse(e.data) }));
  source.addEventListener("done", () => { source.close(); source = null; document.dispatchEvent(new CustomEvent("batch:done")); });
}

// One line at the foot: what was done, and a button that takes it back or leads on.
const foot = document.getElementById("told");
function tell(words, button = "", act = null) {
  foot.replaceChildren();
  foot.hidden = !words;
  if (!words) return;
  put("span", foot, { textContent: words });
  if (button) put("button", foot, { type: "button", textContent: button }).addEventListener("click", () => { tell(""); act(); });
}
async function drop(id, name, back) { // dropped at once; within the hour it can be brought back
  const got = await sent(`/photos/${id}/drop`, "", FORM);
  if (got.error) { tell(`${name}: ${got.error.wrong} ${got.error.try_this}`); back(null); return; }
  tell(`${name} was put away.`, "Undo", async () => {
    const item = await sent(`/photos/${id}/restore`, "", FORM);
    if (item.error) tell(`${name}: ${item.error.wrong} ${item.error.try_this}`);
    else { tell(""); back(item); listen(); }
  });
}
