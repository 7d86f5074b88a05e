// What was misheard more than once, offered for learning.

import { get, post } from "./api.js";
import { byId, el, fill, say, when } from "./dom.js";

export async function learn(words = "") {
  const answer = await get("/learn");
  if (!answer.ok) return;
  const offers = answer.data.offers;
  fill(byId("learned"), words ? el("p", { className: "banner", role: "status", textContent: words }) : null,
    offers.length ? el("section", { className: "card", "aria-labelledby": "learn-title" },
      el("h2", { id: "learn-title", textContent: "Misheard more than once" }),
      el("p", { textContent: "Nothing is learned unless you say so. What is learned is still shown as doubtful whenever it is heard." }),
      offers.map(offer)) : null);
}

function offer(one) {
  const decide = async (accept) => {
    say(accept ? "Trying it on the sentences …" : "");
    const by = sessionStorage.getItem("reviewer") ?? (await get("/labels")).data?.reviewer ?? "";
    const answer = await post("/learn", { offer: one.id, accept, by });
    say("");
    await learn(answer.ok ? answer.data.done : answer.why);
  };
  const where = one.regions.length ? ` (${one.regions.join(", ")})` : "";
  return el("article", { className: "offer" },
    el("p", {}, "When ", el("q", { textContent: one.heard }), " is heard, take it for ", el("strong", { textContent: one.label }), `${where}?`),
    one.everyday ? el("p", { className: "remark", textContent: "These are ordinary words: they may also be said for themselves." }) : null,
    el("ul", {}, one.corrections.map((each) => el("li", {}, `${when(each.at)}, ${each.by || "no name given"}: `, el("q", { textContent: each.sentence })))),
    el("div", { className: "deeds" },
      el("button", { type: "button", className: "main", textContent: "Learn it", "aria-label": `Learn it: ${one.heard} is ${one.label}`, on: { click: () => decide(true) } }),
      el("button", { type: "button", textContent: "Never", "aria-label": `Never: ${one.heard} is ${one.label}`, on: { click: () => decide(false) } })));
}
