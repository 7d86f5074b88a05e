// Signing: who, what it means, and every open doubt one by one.

import { byId, el, fill } from "./dom.js";

export function openSign(state) {
  fill(byId("sign"), el("form", { method: "dialog" }, el("h2", { id: "sign-title", textContent: "Sign" }), el("button", { textContent: "Close" })));
  byId("sign").showModal();
}
