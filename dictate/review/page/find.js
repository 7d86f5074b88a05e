// What is looked for. It is kept while the tab is open, so that the way back from an exam leads to the same list; it is
// no part of the address, which a browser remembers for longer.

import { byId } from "./dom.js";

const KEPT = "find";
const form = byId("find");

export function wanted() {
  const filled = [...new FormData(form)].map(([name, value]) => [name, value.trim()]).filter(([, value]) => value);
  return Object.fromEntries(filled);
}

export function onFind(act) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    sessionStorage.setItem(KEPT, JSON.stringify(wanted()));
    act();
  });
  byId("all").addEventListener("click", () => {
    form.reset();
    sessionStorage.removeItem(KEPT);
    act();
  });
}

export function recall() {
  for (const [name, value] of Object.entries(JSON.parse(sessionStorage.getItem(KEPT) ?? "{}"))) {
    form.elements[name].value = value;
  }
}
