// The exams that there are.

import { get } from "./api.js";
import { byId, el, fill, say, when } from "./dom.js";

const COLUMNS = ["Opened", "Exam", "Region", "Patient", "State", "Decisions"];

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
    el("tbody", {}, exams.map(row))));
  document.querySelector("#exams a")?.focus();
}

function row(exam) {
  const state = exam.trouble ? "damaged or changed" : exam.signed_by ? `signed by ${exam.signed_by}` : exam.closed ? "to review" : "not ended";
  return el("tr", {},
    el("td", { textContent: exam.opened_at ? when(exam.opened_at) : "–" }),
    el("td", {}, el("a", { href: `/review/${encodeURIComponent(exam.exam)}`, textContent: exam.exam })),
    el("td", { textContent: exam.region ?? "as said" }),
    el("td", { textContent: exam.patient ?? "–" }),
    el("td", { textContent: state, title: exam.trouble ?? "" }),
    el("td", { textContent: String(exam.decisions) }));
}

load();
