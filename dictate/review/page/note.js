// The note beside what was said: one row a finding. Rows are kept and only those that changed are drawn again.

import { byId, el, fill, when } from "./dom.js";

const rows = new Map(); // key -> node
const MARKS = { accepted: "accepted", changed: "changed", removed: "removed", added: "added by hand" };

export function drawNote(state, does) {
  const bySection = new Map();
  for (const item of state.items.values()) {
    if (!bySection.has(item.section)) bySection.set(item.section, []);
    bySection.get(item.section).push(item);
  }
  fill(byId("rows"), state.sections.filter(([section]) => bySection.has(section)).map(([section, title]) =>
    el("section", { className: "part", "aria-label": title }, el("h3", { textContent: title }),
      el("ul", { "data-section": section }, bySection.get(section).map((item) => {
        const node = row(item, state, does);
        rows.set(item.key, node);
        return node;
      })))));
  if (!state.items.size) fill(byId("rows"), el("p", { textContent: "No findings were recorded." }));
}

export function redraw(changed, gone, state, does) {
  const moved = changed.some((item) => {
    const node = rows.get(item.key);
    return !node?.isConnected || node.parentElement.dataset.section !== item.section;
  });
  if (moved || gone.length) {
    drawNote(state, does);
    return;
  }
  for (const item of changed) {
    const node = row(item, state, does);
    rows.get(item.key).replaceWith(node);
    rows.set(item.key, node);
  }
}

export function mark(key) {
  for (const node of document.querySelectorAll("#rows [aria-current]")) node.removeAttribute("aria-current");
  const button = rows.get(key)?.querySelector("button");
  if (!button) return;
  button.setAttribute("aria-current", "true");
  const pane = byId("note");
  if (pane.scrollHeight <= pane.clientHeight + 1) return; // it is no pane of its own on a narrow screen: the page stays
  const box = button.getBoundingClientRect();
  const frame = pane.getBoundingClientRect();
  if (box.top < frame.top + 60 || box.bottom > frame.bottom - 20) pane.scrollTop += box.top - frame.top - frame.height / 3;
}

function row(item, state, does) {
  const note = item.open ? (state.signatures.at(-1)?.open_doubts.includes(item.key) ? "signed as open" : "to check") : MARKS[item.decision] ?? "";
  return el("li", { className: `row ${item.open ? "check-it" : item.decision}` },
    el("button", { type: "button", "data-key": item.key, on: { click: () => does.show(item.key) } },
      el("span", { className: "line", textContent: item.line }),
      note ? el("span", { className: "tag", textContent: note }) : null),
    el("span", { className: "words" }, item.clock ? el("span", { className: "clock", textContent: item.clock }) : null,
      item.said ? ` “${item.said}”` : ""));
}

// Where sound is missing: what was said there is in no sentence.
export function gapWords(gap) {
  const long = gap.seconds ? `, ${gap.seconds < 10 ? gap.seconds : Math.round(gap.seconds)} s` : "";
  return `${gap.clock}${long}: ${gap.why}`;
}

function withGaps(state) {
  const lines = state.said.map((one) => ({ at: one.time?.[0] ?? 0, one }));
  for (const gap of state.gaps ?? []) {
    const later = lines.findIndex((line) => line.at >= gap.from);
    lines.splice(later < 0 ? lines.length : later, 0, { at: gap.from, gap });
  }
  return lines;
}

export function drawSaid(state, does) {
  const found = new Map();
  for (const item of state.items.values()) {
    if (item.utterance === null) continue;
    if (!found.has(item.utterance)) found.set(item.utterance, []);
    found.get(item.utterance).push(item);
  }
  fill(byId("said"), el("ol", { className: "transcript" }, withGaps(state).map(({ one, gap }) => gap
    ? el("li", { className: "missing" }, el("p", { textContent: `Sound is missing. ${gapWords(gap)}.` }))
    : el("li", { className: found.has(one.n) ? "" : "unread" },
      el("p", {}, one.clock ? el("span", { className: "clock", textContent: `${one.clock} ` }) : null, one.text),
      el("div", { className: "under" },
        (found.get(one.n) ?? []).map((item) =>
          el("button", { type: "button", on: { click: () => does.show(item.key) }, textContent: item.line })),
        one.time && state.sound ? el("button", { type: "button", className: "small", on: { click: () => does.playSaid(one) }, textContent: "Hear",
          "aria-label": `Hear sentence ${one.n + 1}` }) : null,
        el("button", { type: "button", className: "small", on: { click: () => does.add(one.n) }, textContent: "Add here",
          "aria-label": `Add here, after sentence ${one.n + 1}` }))))));
}

export function drawRest(state) {
  const history = state.signatures.map((one) =>
    el("li", {}, `${one.addendum ? "Addendum signed" : "Signed"} by ${one.name}, ${one.role}, ${when(one.at)}.`,
      one.addendum ? ` Reason: ${one.addendum}.` : "",
      one.open_doubts.length ? ` ${one.open_doubts.length} signed as open.` : "",
      el("br"), el("span", { className: "digest", textContent: `sha256 ${one.digest}` })));
  const since = state.since.map((edit) =>
    el("li", { textContent: `${when(edit.at)}, ${edit.by || "no name given"}: ${edit.action}: ${[edit.before, edit.after].filter(Boolean).join(" → ")}` }));
  fill(byId("rest"),
    history.length ? [el("h3", { textContent: "Signatures" }), el("ol", {}, history)] : null,
    since.length ? [el("h3", { textContent: "Changed since, not signed yet" }), el("ol", { id: "since" }, since)] : null,
    state.coverage.length ? [el("h3", { textContent: "Coverage of the exam plan" }), el("ul", {}, state.coverage.map((line) => el("li", { textContent: line })))] : null,
    state.prompts.length ? [el("h3", { textContent: "To think of" }),
      el("ul", {}, state.prompts.map((prompt) => el("li", { textContent: `${prompt.text} (${prompt.source})` })))] : null,
    el("p", { className: "quiet", textContent: state.signatures.length
      ? "What was signed is frozen. It is no diagnosis."
      : "Draft from speech; to be checked and signed by the examiner. Not a diagnosis." }));
}
