"use strict";
// Finds as `curator find` does: the patterns come with the index, a test compares the two.
(() => {
  const { language, grammar, kindWords, rows } = catalog;
  const PAGE = 48;
  const $ = (id) => document.getElementById(id);
  const patterns = grammar.patterns.map(([name, source]) => [name, new RegExp(source, "i")]);
  const small = new Set(grammar.small);
  let shown = PAGE;

  function value(text) {
    if (text === undefined) return null;
    return Object.hasOwn(grammar.numbers, text.toLowerCase()) ? grammar.numbers[text.toLowerCase()] : Number(text);
  }

  // What numbers ask of [half, total]; half is 0 where there is no double.
  function asks(name, [first, second, third]) {
    const nothing = () => false;
    if (name === "up to") return (half, total) => half > 0 && total <= first;
    if (name === "half of") return (half, total) => half > 0 && total === first && (second === null || half === second);
    if (name === "double") return (half, total) => half === first && (second === null || total === second);
    if (name === "number") return (half, total) => (half || -1) === first || total === first;
    if (name === "sum" && first === second) return (half, total) => half === first && (third === null || total === third);
    const result = name === "sum" ? first + second : first - second;
    if (third !== null && third !== result) return nothing;
    if (name === "sum") return (half, total) => total === result;
    return first === 2 * second ? (half, total) => half === second && total === first : (half, total) => total === first;
  }

  function tokens(text) {
    const plain = text.toLowerCase().replaceAll("ß", "ss").normalize("NFKD").toLowerCase().replace(/\p{M}/gu, "");
    return plain.split(/[^\p{L}\p{N}]+/u).filter(Boolean);
  }

  function parse(typed) {
    let rest = typed.slice(0, 1000);
    const numbers = [];
    for (const [name, pattern] of patterns) {
      for (let found; (found = pattern.exec(rest)); ) {
        numbers.push(asks(name, [1, 2, 3].map((n) => value(found[n]))));
        rest = `${rest.slice(0, found.index)} \0 ${rest.slice(found.index + found[0].length)}`;
      }
    }
    rest = rest.replace(new RegExp(grammar.none, "gi"), " none ");
    const bare = rest.replace(new RegExp(grammar.doubles, "gi"), " ");
    const words = tokens(bare);
    let kinds = grammar.kinds.filter((kind) => words.includes(kind));
    if (!kinds.length && bare !== rest) kinds = grammar.kinds.filter((kind) => kind !== "none");
    const left = words.filter((word) => !grammar.kinds.includes(word) && !small.has(word));
    return { numbers: numbers.slice(0, grammar.most), kinds, words: [...new Set(left)].slice(0, grammar.most) };
  }

  function find(typed) {
    const { numbers, kinds, words } = parse(typed);
    return rows.filter(([, , half, total, kind, there]) =>
      (!numbers.length || numbers.some((passes) => passes(half, total))) &&
      (!kinds.length || kinds.includes(kind)) &&
      words.every((word) => ` ${there}`.includes(` ${word}`)));
  }

  function put(tag, parent, values) {
    const element = document.createElement(tag);
    Object.assign(element, values);
    parent.append(element);
    return element;
  }

  function card([key, title, half, total, , , src, width, height, alt, unchecked]) {
    const item = document.createElement("li");
    item.className = "card";
    const link = put("a", item, { href: `prompts/${key}.html` });
    put("img", link, { loading: "lazy", lang: language, width, height, alt, src });
    put("strong", link, { textContent: title });
    put("span", item, { className: "fact", textContent: half ? `${half}+${half}=${total}` : kindWords.none });
    if (unchecked) put("span", item, { className: "beware", textContent: "Not checked by anybody yet" });
    return item;
  }

  function draw() {
    const typed = $("words").value.trim();
    const found = typed ? find(typed) : [];
    $("board").hidden = Boolean(typed);
    $("cards").hidden = !typed;
    $("cards").replaceChildren(...found.slice(0, shown).map(card));
    $("more").hidden = found.length <= shown;
    const count = `${found.length} picture${found.length === 1 ? "" : "s"}.`;
    $("said").textContent = !typed ? "" : found.length ? count : "No picture. Try fewer words.";
  }

  // What was typed stays in the address, so that "back" comes back to it.
  let timer = 0;
  $("words").addEventListener("input", () => {
    shown = PAGE;
    draw();
    clearTimeout(timer);
    timer = setTimeout(() => location.replace(`#${encodeURIComponent($("words").value.trim())}`), 400);
  });
  $("more").addEventListener("click", () => {
    const first = shown;
    shown += PAGE;
    draw();
    $("cards").children[first].querySelector("a").focus();
  });
  try {
    if (location.hash !== "#main") $("words").value = decodeURIComponent(location.hash.slice(1));
  } catch { /* an address that somebody cut */ }
  $("find").hidden = false;
  draw();
})();
