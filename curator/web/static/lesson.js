"use strict";
const order = document.getElementById("order");
let held = null;
if (order) {
  order.addEventListener("dragstart", (e) => { held = e.target.closest("li"); });
  order.addEventListener("dragover", (e) => {
    e.preventDefault();
    const over = e.target.closest("li");
    if (!held || !over || over === held) return;
    const box = over.getBoundingClientRect();
    over[e.clientY > box.top + box.height / 2 ? "after" : "before"](held);
  });
  order.addEventListener("drop", (e) => {
    e.preventDefault();
    const form = document.getElementById("reorder");
    for (const li of order.children) {
      const one = document.createElement("input");
      Object.assign(one, { type: "hidden", name: "order", value: li.dataset.slug });
      form.append(one);
    }
    form.submit();
  });
}
