"use strict";
// What a reading is called beside others: its fact, how its halves lie, which things it counts. No two are called alike.
const names = (() => { // (readings, the photo's width and height)
  const MOTION = { flip: "mirrored", slide: "moved along", turn: "turned half round", split: "two groups" };
  const FOUND = { cells: "fields of a grid", marks: "small marks", limbs: "parts that stick out", hands: "raised fingers", blobs: "what stands out" };
  const WHOLE = [0, 0, 1, 1]; // the photo
  function many(dots) { return dots.length === 1 ? "one" : dots.length; }
  function counts(r) { return r.dots.slice(0, r.total || 0); }
  function halvesLie(r, size) { // by the line between them
    if (!r.fact) return "";
    if (!r.line) return MOTION[r.kind];
    const [x, y] = [0, 1].map((i) => Math.abs(r.line[0][i] - r.line[1][i]) * size[i]);
    return `${x < y / 2 ? "left and right" : y < x / 2 ? "above and below" : "slantwise"}, ${MOTION[r.kind]}`;
  }
  function around(dots) { // left, top, right, bottom
    const [x, y] = ["x", "y"].map((k) => dots.map((d) => d[k]));
    return [Math.min(...x), Math.min(...y), Math.max(...x), Math.max(...y)];
  }
  function placed(dots, frame, all) { // where they are in a frame
    const b = around(dots), size = [0, 1].map((i) => frame[i + 2] - frame[i] || 1);
    const [across, down] = [0, 1].map((i) => { // 0 to the left or top, 2 to the right or bottom, null through and through
      const middle = ((b[i] + b[i + 2]) / 2 - frame[i]) / size[i];
      return (b[i + 2] - b[i]) / size[i] > 0.55 ? null : middle < 0.4 ? 0 : middle > 0.6 ? 2 : 1;
    });
    if (across === null && down === null) return all;
    const side = ["left", "", "right"][across ?? 1], end = ["top", "", "bottom"][down ?? 1];
    if (!side && !end) return "in the middle";
    return end ? `at the ${end}${side && " " + side}` : `on the ${side}`;
  }
  function apart(a, b, size) { // the dots that only one of the two has: each goes with one near it at most
    const far = (d, e) => Math.hypot((d.x - e.x) * size[0], (d.y - e.y) * size[1]);
    const next = (dots) => Math.min(...dots.flatMap((d, i) => dots.slice(i + 1).map((e) => far(d, e))), Math.max(...size) / 10);
    const reach = Math.max(next(a), next(b)) / 2, free = new Set(b), alone = [];
    for (const d of a) {
      const e = [...free].reduce((best, one) => (!best || far(d, one) < far(d, best) ? one : best), null);
      if (e && far(d, e) < reach) free.delete(e); else alone.push(d);
    }
    return [alone, [...free]];
  }
  function which(r, first, size) { // which things, told from the first reading's
    const mine = counts(r), theirs = counts(first);
    if (r === first || !mine.length) return "";
    const [more, less] = apart(mine, theirs, size), frame = around([...mine, ...theirs]);
    if (!more.length && !less.length) return "the same things";
    if (mine.length - more.length < Math.min(mine.length, theirs.length) / 2) return `other things, ${placed(mine, WHOLE, "all over the photo")}`;
    return [less.length && `without the ${many(less)} ${placed(less, frame, "here and there")}`, more.length && `with ${many(more)} more ${placed(more, frame, "here and there")}`].filter(Boolean).join(", ");
  }
  function start(r) { return r.fact || (r.total ? `No double: ${r.total} counted` : "No double: nothing repeats"); }
  function told(parts) { return parts.filter(Boolean).join(", "); }
  function further(group, r) { // of some that are called alike, the outermost say so
    const [x, y] = [0, 1].map((i) => group.map((o) => { const b = around(counts(o)); return b[i] + b[i + 2]; }));
    const spread = (v) => Math.max(...v) - Math.min(...v), v = spread(x) > spread(y) ? x : y, mine = v[group.indexOf(r)];
    const ends = v === x ? ["further left", "further right"] : ["higher up", "lower down"];
    return spread(v) < 0.02 ? "" : mine === Math.min(...v) ? ends[0] : mine === Math.max(...v) ? ends[1] : "in between";
  }
  return (readings, size) => {
    const first = readings.find((r) => r.total);
    const parts = readings.map((r) => [start(r), r.at === AS_KEPT ? "as kept" : r.hand ? "by hand" : "", halvesLie(r, size), first && which(r, first, size)]);
    for (const more of [(group, r) => FOUND[r.found_by], further]) { // where some are called alike still
      const called = parts.map(told), alike = (i) => readings.filter((r, k) => r.total && called[k] === called[i]);
      readings.forEach((r, i) => { if (r.total && alike(i).length > 1) parts[i].push(more(alike(i), r)); });
    }
    const called = parts.map(told);
    return called.map((name, i) => { const nth = called.slice(0, i).filter((other) => other === name).length; return nth ? `${name} (${nth + 1})` : name; });
  };
})();
