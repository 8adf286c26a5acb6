"use strict";
// A button whose work may take some seconds says so, and sends once however often it is pressed.
for (const button of document.querySelectorAll("button[data-wait]")) {
  const words = button.textContent;
  button.form.addEventListener("submit", (e) => {
    if (button.ariaBusy === "true") { e.preventDefault(); return; }
    button.ariaBusy = "true";
    button.textContent = button.dataset.wait;
  });
  addEventListener("pageshow", () => { button.ariaBusy = "false"; button.textContent = words; }); // come back to
}
