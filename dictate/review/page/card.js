// The one finding that is looked at: why, what was said, what else it may have been, and what to do.

import { el, fill, key, when } from "./dom.js";

const DECIDED = { accepted: "Accepted", changed: "Changed", removed: "Removed", added: "Added" };

export function showCard(node, item, { place, does }) {
  fill(
    node,
    el("p", { className: "place", textContent: place }),
    el("h2", { className: "finding", id: "card-title" }, el("span", { className: "name", textContent: item.name }), " ",
      el("span", { className: "value", textContent: item.value }), " ",
      el("span", { className: "side", textContent: item.side })),
    el("p", { className: "quiet", textContent: standing(item) }),
    item.doubts.length ? el("ul", { className: "doubts" }, item.doubts.map(doubt)) : null,
    said(item, does),
    deeds(item, does),
    el("div", { id: "typed" }),
    choices(item, does),
    history(item),
  );
}

export function showDone(node, { doubts, total, signed, does }) {
  fill(
    node,
    el("h2", { className: "finding", textContent: signed ? "This note is signed" : "Nothing is left to check" }),
    el("p", {
      textContent: doubts ? "Some findings were signed as open; the note says so." : `${total} ${total === 1 ? "finding stands" : "findings stand"} in the note. An unmarked value can be wrong, too: ` +
        "read numbers and sides once more.",
    }),
    el("div", { className: "deeds" },
      el("button", { type: "button", className: "main", on: { click: does.finish } }, signed ? "Show the signature " : "Sign ", key("f")),
      el("button", { type: "button", on: { click: does.add } }, "Add a finding ", key("i"))),
    el("div", { id: "typed" }),
  );
}

function standing(item) {
  const section = item.section.replaceAll("_", " ");
  const parts = [section[0].toUpperCase() + section.slice(1)];
  if (item.decision === "open") parts.push(`confidence ${Math.round(item.confidence * 100)} %`);
  else parts.push(DECIDED[item.decision].toLowerCase());
  if (item.heard) parts.push(`heard as: ${item.heard}`);
  return parts.join(" · ");
}

function doubt(one) {
  return el("li", {}, el("strong", { textContent: one.words }), one.detail ? `: ${one.detail}.` : ".",
    one.suggestion ? ` Perhaps ${one.suggestion}.` : "");
}

function said(item, does) {
  const words = item.words
    ? el("p", { className: "sentence" }, runs(item.words).map(run))
    : el("p", { className: "sentence" }, item.said ? `“${item.said}”` : "Nobody said this; it was added by hand.");
  return el("div", { className: "said" },
    item.sentence_before ? el("p", { className: "quiet neighbour", textContent: item.sentence_before }) : null,
    words,
    item.sentence_after ? el("p", { className: "quiet neighbour", textContent: item.sentence_after }) : null,
    item.sound
      ? el("button", { type: "button", className: "hear", on: { click: () => does.play() } }, "Hear it ", key("s"), ` ${item.clock}`)
      : null);
}

function runs(words) {
  const found = [];
  for (const word of words) {
    const last = found.at(-1);
    if (last && last.of === word.of && last.unclear === word.unclear) last.text += ` ${word.text}`;
    else found.push({ ...word });
  }
  return found;
}

function run(one, index) {
  const space = index ? " " : "";
  const inner = one.unclear ? el("span", { className: "unclear", title: "heard unclearly", textContent: one.text }) : one.text;
  return one.of ? [space, el("mark", {}, inner)] : [space, inner];
}

function choices(item, does) {
  if (!item.alternatives.length) return null;
  return el("div", { className: "choices" },
    el("h3", { id: "choices-title", textContent: "It may also be" }),
    el("ol", { "aria-labelledby": "choices-title" }, item.alternatives.map((other, index) =>
      el("li", {}, el("button", { type: "button", on: { click: () => does.choose(index) } },
        key(String(index + 1)), " ", el("span", { className: "line", textContent: other.line }), " ",
        el("span", { className: "why", textContent: other.why }))))));
}

function deeds(item, does) {
  const button = (label, name, act, main = false) =>
    el("button", { type: "button", className: main ? "main" : "", on: { click: act } }, `${label} `, key(name));
  const removed = item.decision === "removed";
  return el("div", { className: "deeds", role: "group", "aria-label": "What to do with it" },
    button(removed ? "Put back" : "Accept", "a", does.accept, true),
    removed ? null : button("Change", "c", does.change),
    removed ? null : button("In words", "w", does.words),
    removed ? null : button("Remove", "x", does.remove),
    removed ? null : button("Not examined", "n", does.notExamined),
    button("Later", "j", does.next));
}

function history(item) {
  if (!item.history.length) return null;
  const line = (edit) => {
    const who = edit.by || "somebody who gave no name";
    const change = edit.before && edit.after && edit.before !== edit.after ? `${edit.before} → ${edit.after}` : edit.after ?? edit.before ?? "";
    return el("li", { textContent: `${when(edit.at)}, ${who}: ${edit.action}${change ? ` (${change})` : ""}` });
  };
  return el("details", { className: "history" }, el("summary", { textContent: `What was done to it (${item.history.length})` }),
    el("ol", {}, item.history.map(line)));
}
