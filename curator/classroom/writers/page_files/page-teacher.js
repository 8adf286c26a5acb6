"use strict";
// The teacher's own window (notes, the next picture, the clock), and the paper. Nothing of it is on the class's screen.
(() => {
  const { keys, press, forward } = viewer;
  const { $, make } = words;
  const { prepare } = pictures;
  const { scenes, steps, say } = lesson;
  let desk = null, began = 0, noted = -2;

  function writeNote(note, box) {
    make("h2", note.question, box);
    for (const line of note.first) make("p", line, box, "moment");
    const more = make("div", "", box, "more");
    for (const [title, lines] of note.lists) {
      if (!lines.length) continue;
      const part = make("div", "", more);
      make("h3", title, part);
      const list = make("ul", "", part);
      for (const [says, shows] of lines) {
        const item = make("li", "", list);
        if (says) make("b", says, item);
        make("span", shows, item);
      }
    }
    for (const [title, line] of note.pairs) {
      const part = make("div", "", more, "pair");
      make("h3", title, part);
      make("p", line, part);
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
    make("h1", say.teacher, head, "unseen");
    make("p", "", head).id = "clock";
    const move = make("span", "", head, "move"), back = make("button", say.back, move), on = make("button", say.next, move, "main");
    on.id = "on";
    back.addEventListener("click", () => keys.PageUp());
    on.addEventListener("click", forward);
    const both = make("div", "", main, "two");
    for (const id of ["now", "then"]) {
      const half = make("section", "", both);
      make("h2", say[id], half);
      make("div", "", half).id = id;
    }
    make("section", "", main).id = "note";
    page.addEventListener("keydown", press);
    noted = -2;
    tell();
    tick();
  }

  // A small picture of the class's screen, or its words where it shows no picture.
  function thumb({ step, view }, box) {
    const scene = scenes[step.scene];
    const shown = view === "plain" ? "" : view;
    const both = make("div", "", box, "thumb"), image = make("img", "", both);
    image.src = (shown && scene.whole[shown]) || scene.plain;
    image.alt = scene.alt[step.alt];
    const layer = shown && !scene.whole[shown] && scene.over[shown];
    if (!layer) return;
    const over = make("img", "", both);
    over.src = layer.src;
    over.alt = "";
    const [left, top, width, height] = layer.place.map((part) => `${100 * part}%`);
    Object.assign(over.style, { left, top, width, height });
  }

  function part(box, screen) {
    box.replaceChildren();
    if (!screen) { make("p", "–", box); return; }
    const { step, words, picture } = screen, place = make("div", "", box);
    if (picture) prepare(step.scene).then(() => thumb(screen, place), () => {});
    const said = step.sources ? say.sources : words.replaceAll("\n", " ") || step.sums.join("   ");
    if (said) make("p", said, picture ? box : place, picture ? "" : "dark");
  }

  function tell() {
    if (!desk || desk.closed) return;
    const page = desk.document, { seen, next, on } = viewer.now();
    part(page.getElementById("now"), seen);
    part(page.getElementById("then"), next);
    page.getElementById("on").textContent = on;
    page.getElementById("on").disabled = !next;
    if (noted === seen.step.note) return; // what she reads stays where she has scrolled it
    noted = seen.step.note;
    const box = page.getElementById("note");
    box.replaceChildren();
    if (noted < 0) return;
    make("p", say.step.replace("{number}", seen.step.scene + 1).replace("{count}", scenes.length), box, "which");
    writeNote(lesson.notes[noted], box);
    desk.scrollTo(0, 0);
  }

  function tick() {
    if (!desk || desk.closed) return;
    const now = new Date(), gone = began ? Math.floor((now - began) / 1000) : 0;
    const clock = now.toLocaleTimeString(undefined, { hour: "numeric", minute: "2-digit" }); // as her own machine writes it
    const two = (n) => String(n).padStart(2, "0");
    words.put(desk.document.getElementById("clock"), clock);
    make("small", `${say.since} ${Math.floor(gone / 60)}:${two(gone % 60)}`, desk.document.getElementById("clock"));
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
