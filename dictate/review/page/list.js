// The exams that there are.

import { get, post } from "./api.js";
import { byId, el, fill, say, when } from "./dom.js";

const COLUMNS = ["Opened", "Exam", "Region", "Patient", "State", "Decisions"];
const AT_ONCE = 200; // rows: a browser takes seconds to lay out thousands

async function load() {
  const answer = await get("/exams");
  if (!answer.ok) {
    say(answer.why);
    return;
  }
  const exams = answer.data.exams;
  say(exams.length ? `${exams.length} ${exams.length === 1 ? "exam" : "exams"}` : "There are no exams here yet.");
  if (!exams.length) return;
  fill(byId("exams"), el("table", { className: "exams" },
    el("thead", {}, el("tr", {}, COLUMNS.map((name) => el("th", { scope: "col", textContent: name })))),
    el("tbody")), el("p", { id: "more" }));
  draw(exams, 0);
}

function draw(exams, from) {
  const rows = exams.slice(from, from + AT_ONCE).map(row);
  document.querySelector("#exams tbody").append(...rows);
  rows[0]?.querySelector("a").focus();
  const next = from + rows.length;
  fill(byId("more"), next < exams.length ? el("button", { type: "button", on: { click: () => draw(exams, next) },
    textContent: `Show older ones: ${exams.length - next} more` }) : null);
}

async function learn(words = "") {
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

function row(exam) {
  const state = exam.trouble ? "damaged or changed"
    : exam.changed ? `changed since ${exam.signed_by} signed`
    : exam.signed_by ? `signed by ${exam.signed_by}`
    : !exam.closed ? "not ended"
    : exam.doubts === null ? "to review"
    : exam.doubts ? `${exam.doubts} to check` : "to sign";
  return el("tr", {},
    el("td", { textContent: exam.opened_at ? when(exam.opened_at) : "–" }),
    el("td", {}, el("a", { href: `/review/${encodeURIComponent(exam.exam)}`, textContent: exam.exam })),
    el("td", { textContent: exam.region ?? "as said" }),
    el("td", { textContent: exam.patient ?? "–" }),
    el("td", { textContent: state, title: exam.trouble ?? "" }),
    el("td", { textContent: String(exam.decisions) }));
}

load();
learn();
