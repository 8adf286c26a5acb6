"use strict";
// The teacher's own window (notes, the next picture, the clock), and the paper. Nothing of it is on the class's screen.
(() => {
  const { keys, press, forward } = viewer;
  const { $, make } = words;
  const { prepare } = pictures;
  const { scenes, steps, say } = lesson;
  let desk = null, began = 0;

  function writeNote(note, box) {
    make("h2", note.question, box);
    for (const line of note.first) make("p", line, box);
    for (const [title, lines] of note.lists) {
      if (!lines.length) continue;
      make("h3", title, box);
      const list = make("ul", "", box);
      for (const [says, shows] of lines) {
        const item = make("li", "", list);
        if (says) make("b", says, item);
        make("span", shows, item);
      }
    }
    for (const [title, line] of note.pairs) {
      make("h3", title, box);
      make("p", line, box);
    }
  }

  function open() {
    if (desk && !desk.closed) { desk.focus(); return; }
    desk = window.open("", "curator-notes", "popup,width=760,height=860");
    if (!desk) { viewer.toggle(true); $("blocked").hidden = false; return; }
    const page = desk.document;
    page.documentElement.lang = document.documentElement.lang;
    page.head.replaceChildren(...[...document.querySelectorAll("style, link[rel=stylesheet]")].map((s) => page.importNode(s, true)));
    page.title = say.teacher;
    page.body.replaceChildren();
    page.body.className = "desk";
    const main = make("main", "", page.body), head = make("div", "", main, "head");
    make("h1", say.teacher, head);
    make("p", "", head).id = "clock";
    const move = make("span", "", head), back = make("button", say.back, move), on = make("button", say.next, move, "main");
    back.addEventListener("click", () => keys.PageUp());
    on.addEventListener("click", forward);
    make("div", "", main, "two").id = "desk";
    page.addEventListener("keydown", press);
    tell();
    tick();
  }

  function thumb(step, box) {
    const scene = scenes[step.scene];
    const view = step.view === "plain" ? "" : step.view;
    const both = make("div", "", box, "thumb"), image = make("img", "", both);
    image.src = (view && scene.whole[view]) || scene.plain;
    image.alt = scene.alt[step.alt];
    const layer = view && !scene.whole[view] && scene.over[view];
    if (!layer) return;
    const over = make("img", "", both);
    over.src = layer.src;
    over.alt = "";
    const [left, top, width, height] = layer.place.map((part) => `${100 * part}%`);
    Object.assign(over.style, { left, top, width, height });
  }

  function part(title, step, box, notes) {
    const half = make("section", "", box);
    make("h2", title, half);
    if (!step) { make("p", "–", half); return; }
    const picture = make("div", "", half);
    if (step.scene >= 0) prepare(step.scene).then(() => thumb(step, picture), () => {});
    if (notes && step.note >= 0) writeNote(lesson.notes[step.note], half);
    else if (step.ask || step.sums.length) make("p", step.ask || step.sums.join("   "), half);
  }

  function tell() {
    if (!desk || desk.closed) return;
    const box = desk.document.getElementById("desk"), { step, next } = viewer.now();
    box.replaceChildren();
    part(say.now, step, box, true);
    part(say.then, next, box, false);
  }

  function tick() {
    if (!desk || desk.closed) return;
    const now = new Date(), gone = began ? Math.floor((now - began) / 1000) : 0;
    const clock = now.toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" });
    const two = (n) => String(n).padStart(2, "0");
    desk.document.getElementById("clock").textContent = `${clock} · ${say.since} ${Math.floor(gone / 60)}:${two(gone % 60)}`;
  }

  function fillSources(box) {
    for (const [title, lines] of lesson.sources) {
      if (!lines.length) continue;
      make("h2", title, box);
      const list = make("ul", "", box);
      for (const line of lines) make("li", line, list);
    }
  }

  // Paper: a page for each picture with its questions; the teacher's pages and the sources after them.
  async function fillPaper() {
    const paper = document.createDocumentFragment(); // shown whole: two may be made at a time
    for (const [n, scene] of scenes.entries()) {
      await prepare(n).catch(() => {});
      const page = make("section", "", paper), image = make("img", "", page);
      if (scene.plain) image.src = scene.plain;
      image.alt = scene.alt.plain;
      for (const question of scene.printed) {
        make("h2", question, page);
        make("div", "", page, "line");
      }
    }
    const teacher = make("section", "", paper);
    make("h2", say.teacher, teacher);
    for (const note of lesson.notes) writeNote(note, make("div", "", teacher, "notes"));
    fillSources(make("section", "", paper));
    $("paper").replaceChildren(paper);
  }

  keys.n = open;
  $("notes-key").addEventListener("click", open);
  $("print").addEventListener("click", async () => { await fillPaper(); print(); });
  viewer.told.push(() => { if (!began && viewer.now().at > 0) began = Date.now(); tell(); });
  setInterval(tick, 1000);
  addEventListener("pagehide", () => desk?.close());
  fillSources($("sources"));
  viewer.begin();
  if (scenes.every((scene) => scene.plain)) fillPaper(); // in the file of a lesson all is there: the browser's own Print works too
})();
