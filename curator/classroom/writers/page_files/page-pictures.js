"use strict";
// The pictures of a lesson: fetched and decoded before they are asked for, so that nothing is seen half made.
const lesson = JSON.parse(document.getElementById("lesson").textContent);
const pictures = (() => {
  const { scenes } = lesson;
  const known = new Map();   // address: the decoded picture
  const full = new Map();    // scene: a promise that all its pictures are there

  function decoded(src) {
    if (known.has(src)) return known.get(src);
    const image = new Image();
    image.decoding = "sync";
    image.src = src;
    known.set(src, image);
    return image;
  }

  async function fetched(scene) {
    if (scene.plain || !scene.at) return scene;
    const answer = await fetch(scene.at, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error("no picture");
    return Object.assign(scene, await answer.json());
  }

  function sources(scene) {
    return [scene.plain, ...Object.values(scene.over).map((layer) => layer.src), ...Object.values(scene.whole)];
  }

  function prepare(number) {
    if (number < 0 || number >= scenes.length) return Promise.resolve();
    if (!full.has(number)) {
      const all = fetched(scenes[number]).then((scene) => Promise.all(sources(scene).map((src) => decoded(src).decode())));
      full.set(number, all.then(() => { scenes[number].there = true; }, () => { full.delete(number); throw new Error("no picture"); }));
    }
    return full.get(number);
  }

  function spare(number) {   // what is neither here nor next is let go
    for (const [n, scene] of scenes.entries()) {
      if (Math.abs(n - number) < 2 || !scene.there) continue;
      sources(scene).forEach((src) => known.delete(src));
      scene.there = false;
      full.delete(n);
    }
  }

  return { prepare, spare, decoded };
})();
