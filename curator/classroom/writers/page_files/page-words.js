"use strict";
// Words on the screen: written without markup, as large as their place allows, beside the picture or above it.
const words = (() => {
  const $ = (id) => document.getElementById(id);

  // A teacher's word may run from right to left: it comes between isolates, and stands in <bdi> here.
  function put(element, text) {
    element.replaceChildren();
    for (const [n, part] of text.split(/[\u2068\u2069]/).entries()) {
      if (n % 2) {
        const name = element.ownerDocument.createElement("bdi");
        name.textContent = part;
        element.append(name);
      } else if (part) {
        element.append(part);
      }
    }
    element.hidden = !text;
  }

  // A sentence a line: each is broken evenly by itself.
  function putLines(element, text) {
    put(element, "");
    for (const line of text ? text.split("\n") : []) element.append(make("span", line, element, "line"), " ");
    element.hidden = !text;
  }

  function make(tag, text, parent, kind) {
    const element = parent.ownerDocument.createElement(tag);
    put(element, text);
    element.hidden = false;
    if (kind) element.className = kind;
    parent.append(element);
    return element;
  }

  // The question beside the picture or above it, whichever leaves the larger picture. All that an answer shows gets more
  // room, as long as the picture keeps half of a wide screen.
  function fit([w, h]) {
    const room = $("board"), W = room.clientWidth, H = room.clientHeight;
    const silent = document.body.dataset.state === "show";
    const much = document.body.hasAttribute("data-ways"), half = Math.sqrt(0.51 * W * H / (w * h));
    const more = (usual, most, left) => (much ? Math.max(usual, Math.min(most, left)) : usual);
    const least = W > H ? Math.max(208, more(0.28 * W, 0.34 * W, W - w * half)) : W;
    const strip = W > H ? more(0.18 * H, 0.36 * H, H - h * half) : (much ? 0.5 : 0.3) * H;
    const beside = Math.min((W - least) / w, H / h), below = Math.min(W / w, (H - strip) / h);
    const band = W <= H || below > 1.01 * beside; // of two alike, words beside the picture have more room
    document.body.dataset.way = band ? "band" : "side";
    const scale = silent ? Math.min(W / w, H / h) : band ? below : beside;
    Object.assign($("photo").style, { width: `${Math.floor(w * scale)}px`, height: `${Math.floor(h * scale)}px` });
    $("words").style.setProperty("--wide", band ? "100%" : `${Math.floor(Math.max(least, Math.min(0.45 * W, W - w * scale)))}px`);
    $("words").style.setProperty("--high", band ? `${Math.floor(Math.max(strip, Math.min(0.45 * H, H - h * scale)))}px` : "100%");
  }

  // Words as large as their place allows; what still has to be scrolled can be reached by keys.
  function fitWords() {
    const box = $("words");
    box.removeAttribute("tabindex");
    for (const size of [1, 0.85, 0.7, 0.6, 0.5, 0.42]) {
      box.style.setProperty("--fit", size);
      if (box.scrollHeight <= box.clientHeight + 1 && box.scrollWidth <= box.clientWidth + 1) return;
    }
    box.tabIndex = 0;
  }

  return { $, put, putLines, make, fit, fitWords };
})();
