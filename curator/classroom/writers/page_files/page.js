"use strict";
// The viewer of a lesson: one document from the first picture to the last. Before it: page-pictures.js and page-words.js;
// page-teacher.js adds her window and the paper.
const viewer = (() => {
  const { scenes, steps, say } = lesson;
  const { prepare, spare, decoded } = pictures;
  const { $, put, putLines, make, fit, fitWords } = words;
  const body = document.body;
  let at = 0;            // the step on screen
  let look = "";         // "ready", "show", "ask"; "" where the picture stays
  let covered = 0;       // 0 nothing, 1 and 2 the two covers
  let extra = "";        // "dots", "rings" or "frame", laid on by hand
  let timer = 0, rest = 0, turn = 0;
  let kept = false;      // "keep it on" holds for the scene
  let seen = -1;         // the scene that the class has looked at
  let tabbed = false;    // the focus came by keys, not by a click
  const told = [];       // who wants to know of each change

  // ---- steps

  const seconds = (step = steps[at]) => ($("seconds").value === "plan" ? step.seconds : Number($("seconds").value));
  const first = (step) => step.scene >= 0 && step.scene !== seen;

  // A cover that cannot be clean is not made: what would ask about it is left out.
  const unclean = (step, view) => Boolean(view && step.scene >= 0 && scenes[step.scene].unclean.includes(view));
  // A picture that has nothing else is seen once more instead.
  const leftOut = (step) => unclean(step, step.needs) || (step.instead.length > 0 && !step.instead.every((view) => unclean(step, view)));
  const otherSide = (step) => Boolean(step.other) && !unclean(step, step.other);

  function go(to) {
    let next = Math.max(0, Math.min(steps.length - 1, to));
    const way = next < at ? -1 : 1;
    while (leftOut(steps[next])) next += way; // the first and the last step are of no picture
    clearTimeout(timer);
    if (next === at && body.dataset.ready) return;
    if (steps[next].scene !== steps[at].scene) kept = false;
    if (next < at && steps[next].scene >= 0 && steps[next].scene < steps[at].scene) seen = steps[next].scene;
    extra = "";
    at = next;
    const step = steps[at];
    const fresh = first(step) && !step.answer && !step.last; // nothing of a picture is seen before Look
    look = fresh || (step.timed && seconds(step) > 0 && !kept) ? "ready" : "";
    covered = step.cover ? 1 : 0;
    toggle(false);
    arrive(() => { if (leftOut(step)) go(at + way); else draw(); });
  }

  // Draws at once where the pictures are there, else as soon as they are; until then the class sees none.
  function arrive(then) {
    const mine = ++turn, scene = steps[at].scene;
    if (scene >= 0) spare(scene);
    const upcoming = () => prepare((steps.slice(at).find((step) => step.scene > scene) || { scene: -1 }).scene).catch(() => {});
    if (scene < 0 || scenes[scene].there) {
      then();
      upcoming();
      return;
    }
    blank(look === "ready" ? say.ready : say.wait_picture);
    prepare(scene).then(() => { if (mine === turn) then(); upcoming(); }, () => { if (mine === turn) blank(say.no_picture); });
  }

  function blank(words) {
    body.dataset.state = "alone";
    body.dataset.ready = "yes";
    $("photo").hidden = $("over").hidden = true;
    for (const id of ["small", "said"]) put($(id), "");
    $("sums").hidden = $("ways").hidden = true;
    putLines($("ask"), words);
    buttons(steps[at]);
    fitWords();
  }

  function forward() {
    if (look === "ready") open();
    else if (look === "show") ask();
    else go(at + 1);
  }

  function open() {
    seen = steps[at].scene;
    if (steps[at].timed && seconds() > 0 && !kept) show();
    else { look = ""; arrive(draw); }
  }

  function show() {
    clearTimeout(timer);
    seen = steps[at].scene;
    look = "show";
    arrive(() => { draw(); timer = setTimeout(ask, seconds() * 1000); });
  }

  function ask() {
    clearTimeout(timer);
    look = "ask";
    draw();
  }

  function keep() {
    if (steps[at].scene < 0) return;
    clearTimeout(timer);
    kept = true;
    seen = steps[at].scene;
    look = "";
    arrive(draw);
  }

  // Marks show how many there are: never while some are under a cover or the picture is timed.
  function can(step, name) {
    if (step.scene < 0 || covered || look !== "" || !scenes[step.scene].there) return false;
    if (name === "rings" && step.view === "rings") return false;
    return Boolean(scenes[step.scene].over[name] || scenes[step.scene].whole[name]);
  }

  function lay(name) {
    if (!can(steps[at], name)) return;
    extra = extra === name ? "" : name;
    draw();
  }

  function viewOf(step) {
    if (extra && can(step, extra)) return extra;
    if (step.cover) return ["", step.view, step.other][covered];
    return step.view === "plain" ? "" : step.view;
  }

  function altOf(scene, step, view) {
    if (view === extra && scene.alt[view]) return scene.alt[view];
    return view === "" && step.cover ? scene.alt.plain : scene.alt[step.alt];
  }

  // Base and layer are changed in one go, both decoded: a cover is there when its button says so.
  function drawPicture(step) {
    const there = step.scene >= 0 && look !== "ready" && look !== "ask";
    const scene = scenes[step.scene], view = there ? viewOf(step) : "";
    const whole = view && scene.whole[view], layer = there && view && !whole ? scene.over[view] : null;
    place("photo", there ? decoded(whole || scene.plain) : null);
    place("over", layer && decoded(layer.src));
    if (!there) return;
    $("photo").alt = altOf(scene, step, view);
    if (layer) {
      const [left, top, width, height] = layer.place.map((part) => `${100 * part}%`);
      Object.assign($("over").style, { left, top, width, height });
    }
  }

  function place(id, image) {
    const now = $(id);
    if (image && image !== now) {
      if (image.id) image.removeAttribute("id");
      now.replaceWith(image);
      image.id = id;
    }
    const here = image || now;
    here.hidden = !image;
    here.removeAttribute("style");
    here.alt = "";
  }

  function draw() {
    const step = steps[at];
    const alone = look === "ready" || look === "ask" || (step.scene < 0 && !step.sources);
    body.dataset.state = step.sources ? "sources" : alone ? "alone" : look === "show" ? "show" : "picture";
    body.dataset.ready = "yes";
    const silent = look === "show" || look === "ready";
    putLines($("ask"), look === "ready" ? say.ready : silent ? "" : step.ask);
    put($("small"), silent ? "" : step.small);
    put($("said"), silent ? "" : step.said);
    $("sums").replaceChildren();
    $("sums").hidden = silent || !step.sums.length;
    for (const sum of step.sums) make("p", sum, $("sums"));
    drawWays(step, silent);
    $("sources").hidden = !step.sources;
    drawPicture(step);
    buttons(step); // on a phone they take room of their own
    refit();
    $("way").value = steps.length > 1 ? at / (steps.length - 1) : 1;
    for (const tell of told) tell();
  }

  // By the picture's own size where it is no layer over the photo: one more stands beside it.
  function refit() {
    const photo = $("photo"), step = steps[at];
    if (!photo.hidden) fit(photo.src.endsWith(scenes[step.scene].plain) ? scenes[step.scene].size : [photo.naturalWidth, photo.naturalHeight]);
    fitWords();
  }

  // With the answer: the other ways to write it, its number bond and ten frame, a story.
  function drawWays(step, silent) {
    $("ways").replaceChildren();
    for (const line of step.family) make("p", line, $("ways"));
    for (const name of ["frame", "bond"]) {
      if (!step[name]) continue;
      const image = make("img", "", $("ways"), name);
      image.addEventListener("load", fitWords);
      image.src = step[name];
      image.alt = step[`${name}_alt`];
    }
    if (step.story) make("p", step.story, $("ways"), "story");
    $("ways").hidden = silent || !$("ways").children.length;
    body.toggleAttribute("data-ways", !$("ways").hidden);
  }

  function buttons(step) {
    $("back").disabled = at === 0;
    $("next").disabled = at === steps.length - 1;
    put($("next"), at === 0 ? say.start : look === "ready" ? say.look : say.next);
    $("again").hidden = look !== "ask" && !(step.timed && seconds() > 0 && look === "");
    $("keep").hidden = look !== "ask" && look !== "show";
    $("cover1").hidden = !step.cover || look !== "";
    $("cover2").hidden = !otherSide(step) || look !== "";
    $("cover1").setAttribute("aria-pressed", String(covered === 1));
    $("cover2").setAttribute("aria-pressed", String(covered === 2));
    for (const name of ["dots", "rings", "frame"]) {
      $(name).hidden = !can(step, name);
      $(name).setAttribute("aria-pressed", String(extra === name));
    }
    $("reveal").hidden = step.scene < 0 || step.answer || step.last || look === "ready" || look === "show";
    $("full").hidden = !document.fullscreenEnabled;
  }

  function cover(which) {
    const step = steps[at];
    if (look !== "" || !step.cover || (which === 2 && !otherSide(step))) return;
    covered = covered === which ? 0 : which;
    extra = "";
    draw();
  }

  function reveal() {   // the answer to what is asked now
    const scene = steps[at].scene, answers = (step) => step.answer;
    if (scene < 0 || answers(steps[at]) || steps[at].last) return;
    seen = scene;
    const to = steps.findIndex((step, n) => n > at && step.scene === scene && answers(step));
    if (to > 0) go(to);
  }

  function toggle(wanted) {
    const open = wanted ?? $("more").hidden;
    $("more").hidden = !open;
    $("more-key").setAttribute("aria-expanded", String(open));
    if (!open) $("blocked").hidden = true;
  }

  function fullScreen() {
    if (document.fullscreenElement) document.exitFullscreen();
    else if (document.fullscreenEnabled) document.documentElement.requestFullscreen().catch(() => {});
  }

  // ---- the controls go away by themselves, and come back when the pointer or the focus moves

  function awake() {
    body.classList.remove("still");
    clearTimeout(rest);
    rest = setTimeout(() => {
      const held = at === 0 || !$("more").hidden || (tabbed && $("bar").contains(document.activeElement));
      if (held) awake(); // asked again: a clicker may go on without the pointer
      else body.classList.add("still");
    }, 2500);
  }

  const keys = {
    ArrowRight: forward, ArrowDown: forward, PageDown: forward, " ": forward, Enter: forward,
    ArrowLeft: () => go(at - 1), ArrowUp: () => go(at - 1), PageUp: () => go(at - 1), Backspace: () => go(at - 1),
    Home: () => go(0), End: () => go(steps.length - 1),
    s: () => { if (steps[at].timed) show(); }, k: keep, c: () => cover(covered === 2 ? 2 : 1), o: () => cover(2), r: reveal,
    d: () => lay("dots"), h: () => lay("rings"), t: () => lay("frame"), f: fullScreen, m: () => { toggle(); awake(); },
    b: () => body.classList.toggle("dark"), ".": () => body.classList.toggle("dark"),
    Escape: () => { body.classList.remove("dark"); toggle(false); awake(); },
  };

  function press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const own = event.target.closest("button, a, select, #sources, #words[tabindex]");
    const page = /^(Page|Arrow(Left|Right)$)/.test(event.key);
    if (own && own.tagName === "SELECT" && event.key !== "PageDown" && event.key !== "PageUp") return;
    if (own && /^(BUTTON|A)$/.test(own.tagName) && (event.key === " " || event.key === "Enter")) return;
    if (own && !/^(BUTTON|A|SELECT)$/.test(own.tagName) && !page && !/^[a-zE.]/.test(event.key)) return;
    const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    event.preventDefault();
    if (own && !tabbed && own.ownerDocument === document) own.blur(); // clicked, then a clicker: no ring stays on the wall
    act();
  }

  // Touch: a swipe goes on or back, a tap on the picture or the question goes on.
  let from = null, bare = false;
  function on(element, event) {
    const box = element.getBoundingClientRect();
    return event.clientX >= box.left && event.clientX <= box.right && event.clientY >= box.top && event.clientY <= box.bottom;
  }
  function listen() {
    const clicks = {
      next: forward, back: () => go(at - 1), again: show, keep, cover1: () => cover(1), cover2: () => cover(2), reveal, full: fullScreen,
      dots: () => lay("dots"), rings: () => lay("rings"), frame: () => lay("frame"), "more-key": () => { toggle(); awake(); },
    };
    for (const [id, act] of Object.entries(clicks)) $(id).addEventListener("click", act);
    document.addEventListener("keydown", press);
    document.addEventListener("focusin", (event) => { tabbed = event.target.matches(":focus-visible"); });
    for (const kind of ["pointermove", "pointerdown", "focusin"]) document.addEventListener(kind, awake);
    $("seconds").addEventListener("change", () => { clearTimeout(timer); if (look === "show" || look === "ask") look = "ready"; arrive(draw); });
    document.addEventListener("pointerdown", () => { bare = body.classList.contains("still"); }, true);
    $("board").addEventListener("pointerdown", (event) => { from = [event.clientX, event.clientY]; });
    $("board").addEventListener("pointerup", (event) => {
      if (!from || steps[at].sources) return;
      const x = event.clientX - from[0], y = event.clientY - from[1];
      from = null;
      if (Math.abs(x) > 60 && Math.abs(x) > 2 * Math.abs(y)) { if (x < 0) forward(); else go(at - 1); return; }
      if (bare && event.clientY > 0.8 * innerHeight && !on($("next"), event)) return; // it brings the controls
      if (Math.abs(x) < 12 && Math.abs(y) < 12 && at > 0) forward();
    });
    addEventListener("resize", refit);
  }

  // For her window: what the class sees, what comes with Next, and that button's word.
  function now() {
    const step = steps[at], shows = look !== "ready" && look !== "ask", on = $("next").textContent;
    const words = look === "ready" ? say.ready : look === "show" ? "" : step.ask;
    const seen = { step, view: shows ? viewOf(step) : "", words, picture: step.scene >= 0 && shows };
    const after = steps.slice(at + 1).find((one) => !leftOut(one));
    let next = after && { step: after, view: after.view, words: after.ask, picture: after.scene >= 0 };
    if (look === "ready") next = { step, view: step.view, words: "", picture: true };
    if (look === "show") next = { step, view: "", words: step.ask, picture: false };
    return { at, seen, next, on };
  }

  return {
    keys, press, forward, toggle, told,
    begin() { listen(); go(0); awake(); },
    now,
  };
})();
