"use strict";
// Home: photos dropped anywhere go to the Photos page, which sends them; what is tapped is counted.
const form = document.getElementById("make");
const said = document.getElementById("dropped");
function put(files) { // where the Photos page looks for what is not sent yet
  return new Promise((done, failed) => {
    const asked = indexedDB.open("curator-batch", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("files", { autoIncrement: true });
    asked.onerror = () => failed(asked.error);
    asked.onsuccess = () => {
      const work = asked.result.transaction("files", "readwrite");
      for (const file of files) work.objectStore("files").add(file);
      work.oncomplete = () => done();
      work.onerror = () => failed(work.error);
    };
  });
}
async function bring(files) {
  if (!files.length) return;
  said.classList.remove("hidden");
  said.textContent = `${files.length} photo${files.length === 1 ? "" : "s"} on the way …`;
  try { await put(files); } catch { said.textContent = "This browser keeps no files here. Open Photos and choose them there."; return; }
  location.assign("/photos");
}
document.querySelector("#bring input")?.addEventListener("change", (e) => bring([...e.target.files]));
document.addEventListener("dragover", (e) => { if (e.dataTransfer.types.includes("Files")) { e.preventDefault(); document.body.classList.add("over"); } });
document.addEventListener("dragleave", (e) => { if (!e.relatedTarget) document.body.classList.remove("over"); });
document.addEventListener("drop", (e) => { e.preventDefault(); document.body.classList.remove("over"); bring([...e.dataTransfer.files]); });
document.addEventListener("paste", (e) => bring([...e.clipboardData.files]));
if (form) {
  const count = () => {
    const n = form.querySelectorAll("[name=fact]:checked").length;
    form.querySelector(".picked").textContent = n ? `${n} fact${n === 1 ? "" : "s"}` : "";
    const was = document.getElementById("was"); // it goes with the last tick, and does not come again
    if (was && !n) was.hidden = true;
  };
  form.addEventListener("change", count);
  document.getElementById("none")?.addEventListener("click", () => {
    const facts = [...form.querySelectorAll("[name=fact]")];
    for (const fact of facts) fact.checked = false;
    count();
    facts[0].focus({ preventScroll: true }); // the button is gone
  });
  addEventListener("pageshow", count);
}
