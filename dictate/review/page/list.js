// The exams that there are, a part of them at a time: a browser takes seconds to lay out thousands.

import { post } from "./api.js";
import { byId, el, fill, say, when } from "./dom.js";
import { onFind, recall, wanted } from "./find.js";
import { learn } from "./learn.js";

const COLUMNS = ["Opened", "Exam", "Region", "Patient", "State", "Decisions"];
let asked = 0; // so that a slow answer to an earlier search is not shown under a later one
let shown = 0;
let looked = {}; // for what: the fields may say something else by now

async function look() {
  looked = wanted();
  shown = 0;
  const exams = byId("exams");
  const part = await next({}, () => fill(exams));
  if (!part?.exams.length) return;
  fill(exams, el("table", { className: "exams", role: "table", "aria-label": "Exams" },
    el("thead", { role: "rowgroup" }, el("tr", { role: "row" },
      COLUMNS.map((name) => el("th", { scope: "col", role: "columnheader", textContent: name })))),
    el("tbody", { role: "rowgroup" })), el("p", { id: "more" }));
  draw(part);
}

async function older(after) {
  const part = await next({ after }, () => {});
  if (!part) return;
  if (part.exams.length) draw(part);
  else await look(); // the last one shown was removed meanwhile: nothing is known to come behind it
}

async function next(more, clear) {
  const mine = ++asked;
  say("Looking …");
  const answer = await post("/exams", { ...looked, ...more });
  if (mine !== asked) return null;
  clear();
  if (!answer.ok) {
    say(answer.why);
    return null;
  }
  shown += answer.data.exams.length;
  say(told(answer.data));
  return answer.data;
}

function told({ further, sealed }) {
  const all = shown + further;
  const number = (count) => count.toLocaleString("en-GB");
  const exams = all === 1 ? "1 exam" : `${number(all)} exams`;
  const found = !all ? (Object.keys(looked).length ? "No exam is like that." : "There are no exams here yet.")
    : further ? `${number(shown)} of ${exams}.` : `${exams}.`;
  const left = sealed === 1 ? "1 sealed exam is" : `${number(sealed)} sealed exams are`;
  return sealed ? `${found} ${left} not listed; “dictate review EXAM” opens one.` : found;
}

function draw({ exams, further }) {
  const rows = exams.map(row);
  document.querySelector("#exams tbody").append(...rows);
  rows[0].querySelector("a").focus();
  const last = exams.at(-1).exam;
  fill(byId("more"), further ? el("button", { type: "button", on: { click: () => older(last) },
    textContent: `Show older ones: ${further.toLocaleString("en-GB")} more` }) : null);
}

function walk(event) {
  const stops = [...document.querySelectorAll("#exams tbody a, #more button")];
  const to = { ArrowDown: stops.indexOf(event.target) + 1, ArrowUp: stops.indexOf(event.target) - 1, Home: 0,
    End: stops.length - 1 }[event.key];
  if (to === undefined || event.altKey || event.ctrlKey || event.metaKey || !stops[to]) return;
  event.preventDefault();
  stops[to].focus();
}

function row(exam) {
  const state = exam.trouble ? "damaged or changed"
    : exam.changed ? `changed since ${exam.signed_by} signed`
    : exam.signed_by ? `signed by ${exam.signed_by}`
    : !exam.closed ? "not ended"
    : exam.doubts ? `${exam.doubts} to check` : "to sign";
  const cells = [
    when(exam.opened_at),
    [el("a", { href: `/review/${encodeURIComponent(exam.exam)}`, textContent: exam.exam }),
      exam.matches.length ? el("ul", { className: "found" }, exam.matches.map((match) => el("li", { textContent: match }))) : null],
    exam.region ?? "as said",
    exam.patient ?? "–",
    [state, exam.trouble ? el("p", { className: "remark", textContent: exam.trouble }) : null],
    String(exam.decisions),
  ];
  return el("tr", { role: "row" }, cells.map((cell, place) => el("td", { role: "cell", "data-name": COLUMNS[place] }, cell)));
}

byId("exams").addEventListener("keydown", walk);
recall();
onFind(look);
await look();
learn();
