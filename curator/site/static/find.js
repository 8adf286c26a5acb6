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
    const double = (n, whole) => (half, total) => half > 0 && half === n && (whole === null || total === whole);
    if (name === "double") return double(first, second);
    if (name === "product" && second === 2) return double(first, third);
    if (name === "number") return (half, total) => (half || -1) === first || total === first;
    if (name === "sum" && first === second) return double(first, third);
    const result = { sum: first + second, product: first * second, difference: first - second }[name];
    if (third !== null && third !== result) return nothing;
    if (name !== "difference") return (half, total) => total === result;
    return first === 2 * second ? (half, total) => half === second && total === first : (half, total) => total === first;
  }

  // Whether no double that is taught has such a number.
  function beyond(name, [first, second, third]) {
    const out = (n, most) => n !== null && (n < 1 || n > most);
    const [half, total] = [grammar.largest, 2 * grammar.largest];
    if (name === "up to") return false;
    if (name === "half of") return out(first, total) || out(second, half);
    if (name === "double") return out(first, half) || out(second, total);
    if (name === "number") return out(first, total);
    if (name === "sum" && first === second) return out(first, half) || out(third, total);
    if (name === "product" && second === 2) return out(first, half) || out(third, total);
    const result = { sum: first + second, product: first * second, difference: first - second }[name];
    if (third !== null && third !== result) return false;
    if (name !== "difference") return out(result, total);
    return out(first, total) || (first === 2 * second && out(second, half));
  }

  // Letters left out, added, changed, or swapped with their neighbour.
  function slips(one, other) {
    const rows = [[...Array(other.length + 1).keys()]];
    for (let i = 1; i <= one.length; i++) {
      const row = [i];
      const last = rows[i - 1];
      for (let j = 1; j <= other.length; j++) {
        let best = Math.min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (one[i - 1] === other[j - 1] ? 0 : 1));
        if (i > 1 && j > 1 && one[i - 1] === other[j - 2] && one[i - 2] === other[j - 1]) best = Math.min(best, rows[i - 2][j - 2] + 1);
        row.push(best);
      }
      rows.push(row);
    }
    return rows[one.length][other.length];
  }

  // The word a slip away that some picture has, or "".
  function nearest(word) {
    const exact = word.length < grammar.few || /\p{Nd}/u.test(word) || Object.hasOwn(grammar.numbers, word);
    const allowed = exact ? 0 : word.length < grammar.long ? 1 : 2;
    let best = null;
    for (const other of allowed ? vocabulary() : []) {
      if (other.length < grammar.few || grammar.kinds.includes(other) || Math.abs(other.length - word.length) > allowed) continue;
      const off = slips([...word], [...other]);
      if (off > allowed) continue;
      const rank = [off, other[0] === word[0] ? 0 : 1, other];
      if (!best || rank[0] < best[0] || (rank[0] === best[0] && (rank[1] < best[1] || (rank[1] === best[1] && other < best[2])))) best = rank;
    }
    return best ? best[2] : "";
  }

  let every = null;
  function vocabulary() {
    every = every ?? new Set(rows.flatMap((row) => row[5].split(" ")).filter(Boolean));
    return every;
  }

  function tokens(text) {
    const plain = text.toLowerCase().replaceAll("ß", "ss").normalize("NFKD").toLowerCase().replace(/\p{M}/gu, "");
    return plain.split(/[^\p{L}\p{N}]+/u).filter(Boolean);
  }

  function parse(typed) {
    let rest = typed.slice(0, 1000).normalize("NFC");
    const numbers = [];
    let far = false;
    for (const [name, pattern] of patterns) {
      for (let found; (found = pattern.exec(rest)); ) {
        const said = [1, 2, 3].map((n) => value(found[n]));
        numbers.push(asks(name, said));
        far = far || beyond(name, said);
        rest = `${rest.slice(0, found.index)} \0 ${rest.slice(found.index + found[0].length)}`;
      }
    }
    rest = rest.replace(new RegExp(grammar.none, "gi"), " none ");
    const bare = rest.replace(new RegExp(grammar.doubles, "gi"), " ");
    const words = tokens(bare);
    let kinds = grammar.kinds.filter((kind) => words.includes(kind));
    if (!kinds.length && bare !== rest) kinds = grammar.kinds.filter((kind) => kind !== "none");
    const left = words.filter((word) => !grammar.kinds.includes(word) && !small.has(word));
    const nothing = !numbers.length && !kinds.length && !words.length && typed.trim() !== "";
    const asked = [...new Set(left)].slice(0, grammar.most);
    const has = (word) => rows.some((row) => ` ${row[5]}`.includes(` ${word}`));
    const instead = asked.flatMap((word) => (has(word) || !nearest(word) ? [] : [[word, nearest(word)]]));
    const swap = Object.fromEntries(instead);
    const meant = [...new Set(asked.map((word) => (Object.hasOwn(swap, word) ? swap[word] : word)))];
    return { numbers: numbers.slice(0, grammar.most), kinds, words: meant, nothing, far, instead };
  }

  function find({ numbers, kinds, words, nothing }) {
    return rows.filter(([, , half, total, kind, there]) =>
      !nothing && (!numbers.length || numbers.some((passes) => passes(half, total))) &&
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
    const asked = parse(typed);
    const found = typed ? find(asked) : [];
    $("board").hidden = Boolean(typed);
    $("cards").hidden = !typed;
    $("cards").replaceChildren(...found.slice(0, shown).map(card));
    $("more").hidden = found.length <= shown;
    const count = `${found.length} picture${found.length === 1 ? "" : "s"}.`;
    const taken = asked.instead.map(([word, near]) => ` Nothing is called “${word}”; this is “${near}”.`).join("");
    const none = asked.far ? `No picture. ${grammar.taught}` : "No picture. Try fewer words.";
    $("said").textContent = !typed ? "" : (found.length ? count : none) + taken;
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
