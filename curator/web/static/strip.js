"use strict";
// The batch on the look page: kept and on to the next without leaving, the strip, the words that go from one photo to the next.
const strip = document.getElementById("strip"), next = document.getElementById("next");
const sittings = new Map(); // photos opened before, with their undo
const coming = new Map(); // photos asked for ahead
const fields = form.elements;
const FROM_LAST = ["place", "credit", "license", "people"]; // filled in from the last photo; things differ from photo to photo
function stops() { return [...strip.children]; }
function stop(id) { return stops().find((li) => li.dataset.id === id); }
function waits(li) { return li.dataset.state === "ready" || li.dataset.state === "waiting" || li.dataset.state === "looking"; }
function beyond(way, from = one.id) { // the nearest photo that waits, on from here or back; round the end
  const all = stops(), i = all.findIndex((li) => li.dataset.id === from);
  const rest = way > 0 ? [...all.slice(i + 1), ...all.slice(0, Math.max(i, 0))] : [...all.slice(0, Math.max(i, 0)).reverse(), ...all.slice(i + 1).reverse()];
  return rest.find((li) => waits(li) && li.dataset.grade !== "error");
}
function ahead(id) {
  if (!coming.has(id)) {
    coming.set(id, fetch(`/photos/${id}`, { headers: { Accept: "application/json" } }).then((a) => a.json()).catch(() => ({ error: { wrong: "The page does not answer.", try_this: "Is curator serve still running?" } })));
    new Image().src = `/photos/${id}/view.webp`;
  }
  return coming.get(id);
}
async function visit(id, push = true) {
  const asked = visit.last = id;
  if (one) sittings.set(one.id, { one, now, done, undone, values: values() });
  for (const li of stops()) li.querySelector("a").toggleAttribute("aria-current", false);
  stop(id)?.querySelector("a").setAttribute("aria-current", "page");
  const before = sittings.get(id);
  const got = before?.one || await ahead(id);
  if (visit.last !== asked) return; // another was asked for meanwhile
  if (got.kept) { news({ id, state: "kept" }); onward(1); return; }
  if (got.wait) { coming.delete(id); said.textContent = "The next photo is still being looked at."; setTimeout(() => { if (visit.last === id) visit(id, push); }, 500); return; }
  if (got.error) { coming.delete(id); said.textContent = got.error.wrong + " " + got.error.try_this; return; }
  if (push) history.pushState({ id }, "", `/photos/${id}`);
  opened(got, before);
  svg.scrollIntoView({ block: "nearest" }); // one under the other on a phone: the new photo is seen first
}
function opened(got, before) {
  const last = values();
  one = got;
  box.width = one.size[0]; box.height = one.size[1];
  image.setAttribute("width", box.width); image.setAttribute("height", box.height);
  image.setAttribute("href", `/photos/${one.id}/view.webp`);
  form.action = `/photos/${one.id}/keep`;
  mode = ["area", "blur", "like"].includes(mode) ? start() : mode; frame = null; at = 0; byKey = false; calls++; later = null;
  if (before) ({ now, done, undone } = before); else begin();
  show(1, 0, 0);
  setMode(mode);
  fill(before?.values || { ...one.words, ...(one.kept_as || !noted(one.id) ? {} : { things: noted(one.id) }), ...Object.fromEntries(FROM_LAST.filter((k) => last[k] && last[k] !== "unknown" && !one.kept_as).map((k) => [k, last[k]])) });
  about();
  if (now.pending) ask(...now.pending); else rested();
  const li = stop(one.id);
  if (li) strip.scrollLeft = li.offsetLeft - strip.offsetLeft - (strip.clientWidth - li.clientWidth) / 2;
  const following = beyond(1);
  if (following?.dataset.state === "ready") ahead(following.dataset.id);
}
function values() { return Object.fromEntries([...new FormData(form)].filter(([k]) => !["state", "blur", "shown"].includes(k))); }
function fill(v) {
  for (const name of ["thing", "things", "place", "credit", "license", "notes"]) fields[name].value = v[name] || "";
  for (const name of ["people", "faces"]) for (const radio of form.querySelectorAll(`[name=${name}]`)) radio.checked = radio.value === (v[name] || (name === "people" ? "unknown" : ""));
  for (const name of ["noface", "no_double"]) fields[name].checked = Boolean(v[name]);
  filled();
}
function filled() { // what the folded words say, so that nothing filled in goes unseen
  const v = values(), license = fields.license.selectedOptions[0];
  const parts = [v.thing, v.place, v.credit, v.license && license.textContent.split(":")[0], { none: "no people", consented: "people, agreed" }[v.people], v.no_double && "as no double"].filter(Boolean);
  document.getElementById("filled").textContent = parts.length ? ": " + parts.join(", ") : "";
}
function about() { // what is said of this photo alone
  document.querySelector("h1").textContent = one.name;
  const faces = document.getElementById("faces"), nearby = document.getElementById("near"), list = nearby.querySelector("ul");
  faces.hidden = !one.faces.length || Boolean(one.faces_said);
  faces.querySelector(".many").textContent = one.faces.length;
  document.getElementById("removed").textContent = `${one.faces.length ? "More faces may be there" : "No face was found"}; the search can miss one, so please look yourself and use Blur. ` +
    (one.removed.length ? `Taken out of the kept copy: ${one.removed.join(", ")}.` : "The file carried no location or camera data; the kept copy has none either.");
  nearby.hidden = !one.near.length;
  nearby.querySelector("p").textContent = one.same ? "You have this photo." : "You have one that looks nearly the same.";
  list.replaceChildren(...one.near.map((p) => {
    const li = Object.assign(document.createElement("li"), { className: "card" }), a = put("a", li, { href: `/prompts/${p.slug}` });
    put("img", a, { src: p.picture, width: 320, height: 240, alt: p.alt });
    a.append(" " + p.title);
    put("span", li, { textContent: p.fact });
    return li;
  }));
  said.textContent = one.problem ? `Not kept: ${one.problem.wrong} ${one.problem.try_this}` : "";
}
function news(item) {
  let li = stop(item.id);
  if (!li) {
    if (["kept", "dropped"].includes(item.state) || one.kept_as) return;
    li = put("li", strip, {});
    put("a", li, { href: `/photos/${item.id}`, ariaLabel: item.name });
    put("span", li.firstChild, { className: "sign", ariaHidden: "true" });
    li.dataset.id = item.id;
  }
  const sentOut = waiting().some((task) => task.ids.includes(item.id));
  if (item.problem && li.dataset.state !== "ready" && item.state === "ready" && !sentOut) {
    sittings.delete(item.id); coming.delete(item.id);
    tell(`${item.name} was not kept: ${item.problem}`, "Open it", () => visit(item.id));
  }
  if (sentOut && item.state === "ready") return; // it is on its way
  li.dataset.state = item.state;
  if (item.grade) li.dataset.grade = item.grade;
  const signs = { kept: "✓", keeping: "…", dropped: "×", error: "!" };
  li.querySelector(".sign").textContent = signs[item.state] || "";
  const a = li.querySelector("a"), how = { kept: ", kept", keeping: ", being kept", dropped: ", put away" }[item.state];
  if (item.name) a.ariaLabel = item.name + (how || "");
  if (item.slug) a.href = `/prompts/${item.slug}`;
  if (item.state === "ready" && !a.querySelector("img")) a.prepend(Object.assign(new Image(72, 54), { src: `/photos/${item.id}/thumb.webp`, alt: "" }));
}
function onward(way) {
  const li = beyond(way);
  if (li) { visit(li.dataset.id); return; }
  if (!stop(one.id) || !waits(stop(one.id))) location = "/photos"; else tell("This is the only photo that waits.");
}
function faceless() { return !one.faces.length || one.faces_said || now.blur.length || fields.faces.value || fields.noface.checked; }
function keepAndNext() {
  const li = stop(one.id);
  if (li && !waits(li)) return; // kept already
  if (now.pending) { later = keepAndNext; document.getElementById("grade").textContent = "Counting; it is kept as soon as that is done."; return; } // nothing is kept that was not shown
  if (!faceless()) {
    said.textContent = "A face may be in it. Blur it, or say that it is no face or that everybody agrees.";
    (document.getElementById("blurfaces")).focus();
    return;
  }
  const body = new URLSearchParams(new FormData(form)).toString(), id = one.id;
  if (one.kept_as) { form.submit(); return; }
  news({ id, name: one.name, state: "keeping" });
  keepBehind({ ids: [id], url: form.action, body, type: FORM });
  sittings.delete(id);
  onwardOrDone(id);
}
function onwardOrDone(id) {
  const li = beyond(1, id);
  if (li) {
    const rest = stops().filter(waits), checked = stop(id)?.dataset.grade !== "sure" && rest.every((one) => one.dataset.grade === "sure");
    if (checked) tell(`Nothing is left to check; ${rest.length} ${rest.length === 1 ? "is" : "are"} ready.`, "Back to the photos", () => { location = "/photos"; });
    visit(li.dataset.id).then(() => svg.focus({ preventScroll: true }));
    return;
  }
  const rest = waiting().length;
  tell(rest ? "That was the last; it is being kept." : "That was the last.", "Back to the photos", () => { location = "/photos"; });
}
form.addEventListener("submit", (e) => { e.preventDefault(); keepAndNext(); });
document.addEventListener("input", (e) => {
  if (e.target.form === form) filled();
  if (e.target === fields.things && !one.kept_as) note(one.id, fields.things.value);
});
for (const name of ["thing", "things"]) fields[name].addEventListener("change", named);
document.getElementById("before").addEventListener("click", () => onward(-1));
document.getElementById("after").addEventListener("click", () => onward(1));
strip.addEventListener("click", (e) => {
  const a = e.target.closest("a"), li = a?.parentElement;
  if (!li || li.dataset.state !== "ready" || e.ctrlKey || e.metaKey) return;
  e.preventDefault();
  if (li.dataset.id !== one.id) visit(li.dataset.id);
});
document.getElementById("drop")?.addEventListener("click", () => {
  const id = one.id, name = one.name;
  news({ id, name, state: "dropped" });
  drop(id, name, (item) => { news(item || { id, name, state: "ready" }); if (item) visit(id); });
  const li = beyond(1, id);
  if (li) visit(li.dataset.id); else location = "/photos";
});
window.addEventListener("popstate", () => { const id = location.pathname.split("/").pop(); if (id !== one.id) visit(id, false); });
document.addEventListener("batch:item", (e) => news(e.detail));
document.addEventListener("batch:sent", ({ detail: { task, got } }) => {
  if (got.error) { // refused at once: it waits again
    const id = task.ids[0], name = stop(id)?.querySelector("a").ariaLabel.split(", ")[0] || "A photo";
    news({ id, name, state: "ready" });
    tell(`${name} was not kept: ${got.error.wrong} ${got.error.try_this}`, "Open it", () => visit(id));
  } else for (const item of got.items || [got]) news(item);
});
function start() { return matchMedia("(pointer: coarse)").matches ? "move" : "dots"; }
mode = start();
begin();
const first = one;
one = null;
opened(first, { now, done, undone, values: null });
sendOut();
if (!one.kept_as && stops().some((li) => li.dataset.state !== "ready")) listen();
