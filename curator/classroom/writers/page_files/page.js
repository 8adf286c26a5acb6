"use strict";
(() => {
  const lesson = JSON.parse(document.getElementById("lesson").textContent);
  const { scenes, steps, say } = lesson;
  const $ = (id) => document.getElementById(id);
  const photo = $("photo"), over = $("over"), body = document.body;
  let at = 0;            // the step on screen
  let look = "";         // of a timed step: "ready", "show", "ask"; "" where the picture stays
  let covered = 0;       // 0 nothing, 1 and 2 the two covers
  let dotted = false;    // a mark on each thing
  let timer = 0;
  let kept = false;      // "keep it on" holds for the scene

  // A teacher's word may run from right to left: it comes between isolates, and stands in <bdi> here.
  function put(element, text) {
    element.replaceChildren();
    for (const [n, part] of text.split(/[\u2068\u2069]/).entries()) {
      if (n % 2) {
        const name = document.createElement("bdi");
        name.textContent = part;
        element.append(name);
      } else if (part) {
        element.append(part);
      }
    }
    element.hidden = !text;
  }

  function make(tag, text, parent, kind) {
    const element = document.createElement(tag);
    put(element, text);
    if (kind) element.className = kind;
    parent.append(element);
    return element;
  }

  const seconds = () => Number($("seconds").value);
  const timed = (step) => step.timed && seconds() > 0 && !kept;

  function go(to) {
    const next = Math.max(0, Math.min(steps.length - 1, to));
    clearTimeout(timer);
    if (next === at && body.dataset.ready) return;
    if (steps[next].scene !== steps[at].scene) kept = false;
    dotted = false;
    at = next;
    const step = steps[at];
    look = timed(step) ? "ready" : "";
    covered = step.view === "cover" || step.view === "some" ? 1 : 0;
    close();
    draw();
  }

  function forward() {
    if (look === "ready") show();
    else if (look === "show") ask();
    else go(at + 1);
  }

  function show() {
    clearTimeout(timer);
    look = "show";
    draw();
    const start = () => { if (look === "show") timer = setTimeout(ask, seconds() * 1000); };
    photo.decode().then(start, start);   // the clock starts when the picture is there
  }

  function ask() {
    clearTimeout(timer);
    look = "ask";
    draw();
  }

  function keep() {
    clearTimeout(timer);
    kept = true;
    look = "";
    draw();
  }

  // Marks show how many there are: never while some are under a cover or the picture is timed.
  function canDot(step) {
    return step.scene >= 0 && !covered && look === "" && ["over", "whole"].some((kind) => scenes[step.scene][kind].dots);
  }

  function dots() {
    if (!canDot(steps[at])) return;
    dotted = !dotted;
    draw();
  }

  function viewOf(step) {
    if (dotted && canDot(step)) return "dots";
    if (step.view === "cover") return ["", "cover", "other_cover"][covered];
    if (step.view === "some") return covered ? "some" : "";
    return step.view === "plain" ? "" : step.view;
  }

  function drawPicture(step) {
    const there = step.scene >= 0 && look !== "ready" && look !== "ask";
    photo.hidden = !there;
    over.hidden = true;
    if (step.scene < 0) return;
    const scene = scenes[step.scene], view = viewOf(step);
    const whole = view && scene.whole[view];
    const source = whole || scene.plain;
    if (photo.getAttribute("src") !== source) photo.src = source;
    photo.alt = view === "dots" ? scene.alt.dots : view === "" && (step.view === "cover" || step.view === "some") ? scene.alt.plain : scene.alt[step.alt];
    if (there && view && !whole) {
      over.src = scene.over[view].src;
      over.hidden = false;
      const [left, top, width, height] = scene.over[view].place.map((part) => `${100 * part}%`);
      Object.assign(over.style, { left, top, width, height });
    }
    fit(scene);
  }

  // The picture as large as its place allows; the words take what is left.
  function fit(scene) {
    const board = $("board").getBoundingClientRect(), tall = board.height > board.width;
    const words = body.dataset.state === "show" ? 0 : tall ? 0.34 * board.height : Math.max(256, 0.3 * board.width);
    const wide = tall ? board.width : board.width - words, high = tall ? board.height - words : board.height;
    const scale = Math.min(wide / scene.size[0], high / scene.size[1]);
    photo.style.width = `${Math.floor(scene.size[0] * scale)}px`;
    photo.style.height = `${Math.floor(scene.size[1] * scale)}px`;
  }

  // What has to be scrolled can be reached by keys; what fits is no stop on the way.
  function reach(box) {
    if (box.scrollHeight > box.clientHeight + 1) box.tabIndex = 0;
    else box.removeAttribute("tabindex");
  }

  function draw() {
    const step = steps[at];
    const alone = look === "ready" || look === "ask" || (step.scene < 0 && !step.sources);
    body.dataset.state = step.sources ? "sources" : alone ? "alone" : look === "show" ? "show" : "picture";
    body.dataset.ready = "yes";
    const silent = look === "show";
    put($("ask"), silent ? "" : look === "ready" ? say.ready : step.ask);
    put($("small"), silent || look === "ready" ? "" : step.small);
    put($("said"), silent || look === "ready" ? "" : step.said);
    $("sums").replaceChildren();
    $("sums").hidden = !step.sums.length;
    for (const sum of step.sums) make("p", sum, $("sums"));
    $("sources").hidden = !step.sources;
    drawPicture(step);
    reach($("words"));
    buttons(step);
    $("way").value = steps.length > 1 ? at / (steps.length - 1) : 1;
    if (!$("notes").hidden) drawNotes(step);
  }

  function buttons(step) {
    $("back").disabled = at === 0;
    $("next").disabled = at === steps.length - 1;
    put($("next"), at === 0 ? say.start : look === "ready" ? say.look : say.next);
    $("next").hidden = false;
    $("again").hidden = look !== "ask" && !(step.timed && seconds() > 0 && look === "");
    $("keep").hidden = look !== "ask" && look !== "show";
    const covers = step.view === "cover", some = step.view === "some";
    $("cover1").hidden = !covers && !some;
    $("cover2").hidden = !covers;
    $("cover1").setAttribute("aria-pressed", String(covered === 1));
    $("cover2").setAttribute("aria-pressed", String(covered === 2));
    $("dots").hidden = !canDot(step);
    $("dots").setAttribute("aria-pressed", String(dotted && canDot(step)));
    $("reveal").hidden = step.scene < 0 || step.last || look === "ready" || look === "show";
    $("notes-key").hidden = step.note < 0;
    $("full").hidden = !document.fullscreenEnabled;
  }

  function cover(which) {
    const step = steps[at];
    if (step.view !== "cover" && !(step.view === "some" && which === 1)) return;
    covered = covered === which ? 0 : which;
    draw();
  }

  function reveal() {
    const scene = steps[at].scene;
    if (scene < 0) return;
    const last = steps.findIndex((step) => step.scene === scene && step.last);
    if (last !== at) go(last);
  }

  function drawNotes(step) {
    const box = $("notes");
    box.replaceChildren();
    if (step.note < 0) return;
    writeNote(lesson.notes[step.note], box);
  }

  function writeNote(note, box) {
    make("h2", note.question, box);
    for (const line of note.first) make("p", line, box);
    for (const [title, lines] of note.lists) {
      if (!lines.length) continue;
      make("h3", title, box);
      const list = make("ul", "", box);
      list.hidden = false;
      for (const [says, shows] of lines) {
        const item = make("li", "", list);
        item.hidden = false;
        if (says) make("b", says, item);
        item.append(make("span", shows, item));
      }
    }
    for (const [title, line] of note.pairs) {
      make("h3", title, box);
      make("p", line, box);
    }
  }

  function toggle(panel, key, wanted) {
    const open = wanted ?? $(panel).hidden;
    $(panel).hidden = !open;
    $(key).setAttribute("aria-expanded", String(open));
    if (open) drawNotes(steps[at]);
  }

  function notes() {
    if (steps[at].note < 0) return;
    toggle("more", "more-key", false);
    toggle("notes", "notes-key");
  }

  function more() {
    toggle("notes", "notes-key", false);
    toggle("more", "more-key");
  }

  function close() {
    toggle("notes", "notes-key", false);
    toggle("more", "more-key", false);
  }

  function full() {
    if (document.fullscreenElement) document.exitFullscreen();
    else if (document.fullscreenEnabled) document.documentElement.requestFullscreen().catch(() => {});
  }

  function fillSources(box) {
    for (const [title, lines] of lesson.sources) {
      if (!lines.length) continue;
      make("h2", title, box);
      const list = make("ul", "", box);
      list.hidden = false;
      for (const line of lines) make("li", line, list);
    }
  }

  // Paper: a page for each picture with its questions; the teacher's pages and the sources after them.
  function fillPaper() {
    const paper = $("paper");
    for (const scene of scenes) {
      const page = make("section", "", paper);
      page.hidden = false;
      const image = document.createElement("img");
      image.src = scene.plain;
      image.alt = scene.alt.plain;
      page.append(image);
      for (const question of scene.printed) {
        make("h2", question, page);
        make("div", "", page, "line").hidden = false;
      }
    }
    const teacher = make("section", "", paper);
    teacher.hidden = false;
    make("h2", say.teacher, teacher);
    for (const note of lesson.notes) {
      const part = make("div", "", teacher, "notes");
      part.hidden = false;
      writeNote(note, part);
    }
    const last = make("section", "", paper);
    last.hidden = false;
    fillSources(last);
  }

  const keys = {
    ArrowRight: forward, ArrowDown: forward, PageDown: forward, " ": forward, Enter: forward,
    ArrowLeft: () => go(at - 1), ArrowUp: () => go(at - 1), PageUp: () => go(at - 1), Backspace: () => go(at - 1),
    Home: () => go(0), End: () => go(steps.length - 1),
    s: () => { if (steps[at].timed) show(); }, k: keep, c: () => cover(covered === 2 ? 2 : 1), o: () => cover(2), r: reveal,
    d: dots, n: notes, f: full, Escape: close,
  };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const own = event.target.closest("button, select, #notes, #sources");
    const page = event.key.startsWith("Page") || event.key.length > 1 && event.key.startsWith("Arrow") && event.key.match(/Left|Right/);
    if (own && own.tagName === "SELECT" && event.key !== "PageDown" && event.key !== "PageUp") return;
    if (own && own.tagName === "BUTTON" && (event.key === " " || event.key === "Enter")) return;
    if (own && own.tagName !== "BUTTON" && own.tagName !== "SELECT" && !page && !/^[a-zE]/.test(event.key)) return;
    const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });

  $("next").addEventListener("click", forward);
  $("back").addEventListener("click", () => go(at - 1));
  $("again").addEventListener("click", show);
  $("keep").addEventListener("click", keep);
  $("cover1").addEventListener("click", () => cover(1));
  $("cover2").addEventListener("click", () => cover(2));
  $("reveal").addEventListener("click", reveal);
  $("dots").addEventListener("click", dots);
  $("notes-key").addEventListener("click", notes);
  $("more-key").addEventListener("click", more);
  $("full").addEventListener("click", full);
  $("print").addEventListener("click", () => print());
  $("seconds").addEventListener("change", () => { clearTimeout(timer); look = timed(steps[at]) ? "ready" : ""; draw(); });

  // Touch: a swipe goes on or back, a tap on the picture or the question goes on.
  let from = null;
  $("board").addEventListener("pointerdown", (event) => { from = [event.clientX, event.clientY]; });
  $("board").addEventListener("pointerup", (event) => {
    if (!from || steps[at].sources) return;
    const x = event.clientX - from[0], y = event.clientY - from[1];
    from = null;
    if (Math.abs(x) > 60 && Math.abs(x) > 2 * Math.abs(y)) {
      if (x < 0) forward(); else go(at - 1);
    } else if (Math.abs(x) < 12 && Math.abs(y) < 12 && at > 0) {
      forward();
    }
  });
  addEventListener("resize", () => { if (steps[at].scene >= 0) fit(scenes[steps[at].scene]); });

  fillSources($("sources"));
  fillPaper();
  go(0);
})();
