// The review page of one exam: the queue of doubts as one card at a time, the note beside it, and single keys.

import * as api from "./api.js";
import { showCard, showDone } from "./card.js";
import { byId, el, fill, key, say, warn, when } from "./dom.js";
import { openForm, typeIt } from "./form.js";
import { drawNote, drawRest, drawSaid, gapWords, mark, redraw } from "./note.js";
import { openSign } from "./sign.js";
import { play, stop } from "./sound.js";

const state = { items: new Map(), queue: [], said: [], sections: [], signatures: [], since: [], addendum: false, current: null, card: null };
let labels = null;
let busy = false;
let shown = 0; // counts cards asked for: a late answer is not shown over a newer one

// -- what is shown ----------------------------------------------------------------------------------------------------

async function load() {
  const [note, known] = await Promise.all([api.note(), api.get("/labels")]);
  if (!note.ok) {
    byId("title").textContent = "This exam cannot be shown";
    warn(note.why);
    return;
  }
  labels = known.data;
  byId("by").value = sessionStorage.getItem("reviewer") ?? labels.reviewer;
  take(note.data);
  document.title = `Review: ${note.data.exam}`;
  drawNote(state, does);
  drawRest(state);
  await show(first());
  say(counted());
  check();
}

function take(data) {
  const { items, changed, gone, ...rest } = data;
  Object.assign(state, rest);
  if (items) state.items = new Map(items.map((item) => [item.key, item]));
  for (const item of changed ?? []) state.items.set(item.key, item);
  for (const one of gone ?? []) state.items.delete(one);
  head();
}

function head() {
  const region = state.region[0].toUpperCase() + state.region.slice(1);
  byId("title").textContent = `${region} examination, ${when(state.opened_at)}`;
  const injured = state.injured_side ? `injured side: ${state.injured_side === "both" ? "both" : state.injured_side}` : "injured side not said";
  byId("about").textContent = [state.patient, injured, state.length ? `recording ${state.length}` : null,
    `${present()} findings`, counted()].filter(Boolean).join(" · ");
  byId("undo").disabled = !state.undo;
  byId("undo").title = state.undo ? `Undo: ${state.undo}` : "";
  byId("redo").disabled = !state.redo;
  byId("redo").title = state.redo ? `Do again: ${state.redo}` : "";
  byId("finish").firstChild.textContent = state.signatures.length ? "Signature " : "Sign ";
  banners();
}

const present = () => [...state.items.values()].filter((item) => item.decision !== "removed").length;
const isSigned = () => state.signatures.length > 0;
const first = () => (isSigned() && !state.addendum ? null : state.queue[0] ?? null);

function counted() {
  const known = new Set(state.signatures.at(-1)?.open_doubts ?? []);
  const left = state.queue.filter((one) => !known.has(one)).length;
  const open = state.queue.length - left;
  return [left || !open ? `${left || "nothing left"} to check` : null, open ? `${open} signed as open` : null].filter(Boolean).join(", ");
}

function banners() {
  const shownBanners = [];
  const faults = state.faults ?? [];
  if (state.trouble) shownBanners.push(el("p", { className: "alert", textContent:
    `This exam is not as it was written. What is shown is what can be trusted; nothing can be added. ${sentence(faults[0] ?? state.trouble)}` }));
  else for (const fault of faults) shownBanners.push(el("p", { className: "alert", textContent: `Not as it was written: ${fault}.` }));
  const last = state.signatures.at(-1);
  if (last) {
    const since = state.since.length ? ` ${state.since.length} ${state.since.length === 1 ? "change" : "changes"} since, not signed yet.` : "";
    shownBanners.push(el("div", { className: "banner" },
      el("p", { textContent: `Signed by ${last.name}, ${last.role}, ${when(last.at)}. What is shown is what was signed.${since}` }),
      state.addendum ? el("p", { textContent: "An addendum is being written; it needs a signature of its own." })
        : el("button", { type: "button", textContent: "Begin an addendum", on: { click: beginAddendum } })));
  } else if (state.running) {
    shownBanners.push(el("p", { className: "banner", textContent: "This exam is going on now. What is said comes in when you look at this page again." }));
  } else if (!state.closed && state.source !== "text" && !state.trouble) {
    shownBanners.push(el("div", { className: "banner" },
      el("p", { textContent: "This exam was cut off: its end was not recorded." }),
      el("button", { type: "button", textContent: "It is over: record its end", on: { click: endIt } })));
  }
  if (state.gaps?.length) shownBanners.push(el("details", { className: "banner" },
    el("summary", { textContent: `Sound is missing in ${state.gaps.length === 1 ? "1 place" : `${state.gaps.length} places`}: what was said there is not in the note.` }),
    el("ul", {}, state.gaps.map((gap) => el("li", { textContent: gapWords(gap) })))));
  fill(byId("banners"), shownBanners);
}

async function show(wanted) {
  const mine = ++shown;
  stop();
  state.current = wanted;
  state.card = null; // a key pressed before the next finding is seen decides nothing
  const card = byId("card");
  card.setAttribute("aria-busy", String(wanted !== null)); // what stands there still is the finding before
  if (wanted === null) {
    showDone(card, { doubts: state.queue.length, total: present(), signed: isSigned(), does });
    mark(null);
    card.focus({ preventScroll: true });
    return;
  }
  const answer = await api.card(wanted);
  if (mine !== shown) return;
  card.setAttribute("aria-busy", "false");
  if (!answer.ok) {
    warn(answer.why);
    return;
  }
  state.card = answer.data;
  const at = state.queue.indexOf(wanted);
  showCard(card, answer.data, { place: at >= 0 ? `To check: ${at + 1} of ${state.queue.length}` : "From the note", does });
  mark(wanted);
  card.focus({ preventScroll: true });
  if (innerWidth < 1000) card.scrollIntoView({ block: "start" });
}

async function check() {
  const answer = await api.ask("check");
  if (!answer.ok) return;
  state.faults = answer.data.faults;
  banners();
}

// -- what is done -----------------------------------------------------------------------------------------------------

const sentence = (line) => `${line[0].toUpperCase()}${line.slice(1)}${line.endsWith(".") ? "" : "."}`;
const by = () => byId("by").value.trim();

async function decide(action, { after = null, text = "", item = state.card, version = item?.version ?? "" } = {}) {
  if (busy) return "One moment: the decision before is being written.";
  busy = true;
  warn("");
  try {
    const answer = await api.act("decide", {
      action, item: item?.key ?? "", version, after, text, by: by(), addendum: state.addendum,
    });
    if (!answer.ok) {
      if (answer.status === 409) await again();
      return answer.why;
    }
    const before = state.queue;
    take(answer.data);
    redraw(answer.data.changed, answer.data.gone, state, does);
    rest();
    return { before, changed: answer.data.changed };
  } finally {
    busy = false;
  }
}

function rest() {
  drawRest(state);
  if (!byId("said").hidden) drawSaid(state, does);
}

async function again() { // the whole exam anew: somebody else changed it
  const note = await api.note();
  if (!note.ok) return;
  take(note.data);
  drawNote(state, does);
  rest();
  if (state.current !== null && state.items.has(state.current) && !byId("typed")?.firstChild && !byId("form").open) await show(state.current);
}

async function decideAndGoOn(action, words, more = {}) {
  if (!state.card) return;
  const key = state.card.key;
  const done = await decide(action, more);
  if (typeof done === "string") {
    warn(sentence(done));
    return;
  }
  goOn(key, done.before, `${words}: ${state.items.get(key)?.line ?? ""}`);
}

async function goOn(key, before, words) {
  const at = before.indexOf(key);
  const following = at < 0 ? key : before.slice(at + 1).find((one) => state.queue.includes(one)) ?? state.queue[0] ?? null;
  await show(following);
  say(`${words}. ${counted()[0].toUpperCase()}${counted().slice(1)}.`);
}

function step(by) {
  const order = state.queue.length ? state.queue : [...state.items.keys()];
  const at = order.indexOf(state.current);
  const next = order[(at + by + order.length) % order.length];
  if (next !== undefined) show(next);
}

async function back(what) {
  if (busy) return;
  busy = true;
  warn("");
  const answer = await api.act(what, { by: by(), addendum: state.addendum });
  busy = false;
  if (!answer.ok) {
    warn(sentence(answer.why));
    return;
  }
  take(answer.data);
  redraw(answer.data.changed, answer.data.gone, state, does);
  rest();
  await show(state.items.has(answer.data.item) ? answer.data.item : state.queue[0] ?? null);
  say(what === "undo" ? "Taken back." : "Done again.");
}

async function beginAddendum() {
  state.addendum = true;
  banners();
  await show(first());
  say("An addendum has begun: findings can be changed now. It needs a signature of its own.");
}

async function endIt() {
  const answer = await api.act("end", { by: by() });
  if (!answer.ok) warn(answer.why);
  else {
    take(answer.data);
    drawNote(state, does);
    rest();
    await show(state.queue[0] ?? null);
    say("The end of the exam was recorded.");
  }
}

const does = {
  show,
  next: () => step(1),
  previous: () => step(-1),
  play: (how) => play(state.card?.sound, how),
  playSaid: (one) => play({ from: Math.max(0, one.time[0] - 0.3), to: Math.min(one.time[1] + 0.3, one.time[0] + 59) }),
  accept: () => decideAndGoOn("accept", state.card?.decision === "removed" ? "Put back" : "Accepted"),
  remove: () => decideAndGoOn("remove", "Removed"),
  notExamined: () => decideAndGoOn("not_examined", "Not examined"),
  choose: (index) => {
    const other = state.card?.alternatives[index];
    if (other) decideAndGoOn("change", "Changed", { after: other.finding });
  },
  change: () => {
    if (!state.card) return;
    const item = state.card;
    openForm(item, labels, {
      save: async (after, version, fresh) => {
        const done = await decide("change", { after, item, version });
        if (typeof done === "string") {
          if (state.items.has(item.key)) fresh(state.items.get(item.key));
          return sentence(done);
        }
        goOn(item.key, done.before, `Changed: ${state.items.get(item.key)?.line ?? ""}`);
        return null;
      },
    });
  },
  words: () => {
    if (!state.card) return;
    const item = { ...state.card };
    typeIt({
      item,
      leave: () => byId("card").focus(),
      take: async ([after], text) => {
        const done = await decide("change", { after, text, item });
        if (typeof done === "string") {
          if (state.items.has(item.key)) {
            const fresh = state.items.get(item.key);
            item.version = fresh.version;
            return `${sentence(done)} It is now: ${fresh.line}${fresh.decision === "removed" ? " (removed)" : ""}.`;
          }
          return sentence(done);
        }
        goOn(item.key, done.before, `Changed: ${state.items.get(item.key)?.line ?? ""}`);
        return null;
      },
    });
  },
  add: (utterance) => {
    const after = typeof utterance === "number" ? utterance : state.items.get(state.current)?.utterance ?? null;
    typeIt({
      utterance: after,
      leave: () => byId("card").focus(),
      take: async (findings, text) => {
        const lines = [];
        for (const finding of findings) {
          const done = await decide("add", { after: finding, text, item: null });
          if (typeof done === "string") return done;
          lines.push(...done.changed.map((item) => item.line));
        }
        say(`Added: ${lines.join("; ")}.`);
        fill(byId("typed"));
        byId("card").focus();
        return null;
      },
    });
  },
  finish: () => openSign(state, {
    by,
    done: async (data) => {
      state.addendum = false;
      take(data);
      drawNote(state, does);
      rest();
      await show(null);
    },
    show,
    again: async (why) => {
      await again();
      warn(sentence(why));
    },
  }),
  undo: () => back("undo"),
  redo: () => back("redo"),
  everything: () => {
    const said = byId("said");
    said.hidden = !said.hidden;
    byId("rows").hidden = !said.hidden;
    byId("everything").setAttribute("aria-pressed", String(!said.hidden));
    byId("note-title").textContent = said.hidden ? "The note" : "All that was said";
    if (!said.hidden) drawSaid(state, does);
  },
  help: () => {
    openHelp();
  },
};

// -- keys -------------------------------------------------------------------------------------------------------------

const KEYS = [
  [["a", "Enter"], "accept", does.accept],
  [["1", "…", "9"], "take what it may also be", null],
  [["c"], "change it, field by field", does.change],
  [["w"], "change it in words", does.words],
  [["x"], "remove it", does.remove],
  [["n"], "mark as not examined", does.notExamined],
  [["s", "Space"], "hear it; again to stop", () => does.play()],
  [["l"], "hear it slowly", () => does.play({ slowly: true })],
  [["j", "ArrowDown"], "the next one", does.next],
  [["k", "ArrowUp"], "the one before", does.previous],
  [["u"], "undo", does.undo],
  [["y"], "do again what was undone", does.redo],
  [["i"], "add a finding in words", () => does.add()],
  [["t"], "show all that was said, or the note", does.everything],
  [["f"], "sign", does.finish],
  [["?"], "these keys", does.help],
];

const singleKeys = () => localStorage.getItem("single-keys") !== "off";

function openHelp() {
  const dialog = byId("help");
  fill(dialog, el("form", { method: "dialog" },
    el("h2", { id: "help-title", textContent: "Keys" }),
    el("table", {}, el("tbody", {}, KEYS.map(([names, what]) =>
      el("tr", {}, el("th", { scope: "row" }, names.map((name) => [key(name.replace("Arrow", "")), " "])), el("td", { textContent: what }))))),
    el("p", { textContent: "Everything can also be reached with Tab and Enter, by mouse and by touch. In the note, the arrow keys go from row to row." }),
    el("label", { className: "check" },
      el("input", { type: "checkbox", checked: singleKeys(), on: { change: (event) => localStorage.setItem("single-keys", event.target.checked ? "on" : "off") } }),
      "Single keys work (switch them off if you steer by voice)"),
    el("div", { className: "deeds" }, el("button", { className: "main" }, "Close ", key("Esc")))));
  dialog.showModal();
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || document.querySelector("dialog[open]")) return;
  const target = event.target;
  if (target.matches("input, textarea, select")) return;
  if (target.closest("#rows") && (event.key === "ArrowDown" || event.key === "ArrowUp")) {
    const buttons = [...document.querySelectorAll("#rows button")];
    buttons[buttons.indexOf(target) + (event.key === "ArrowDown" ? 1 : -1)]?.focus();
    event.preventDefault();
    return;
  }
  const pressed = event.key === " " ? "Space" : event.key;
  if (["Enter", "Space"].includes(pressed) && target.matches("button, a, summary")) return;
  if (event.repeat && pressed !== "ArrowDown" && pressed !== "ArrowUp") return; // a key held down decides once
  if (!singleKeys()) return;
  if (/^[1-9]$/.test(pressed)) {
    does.choose(Number(pressed) - 1);
    event.preventDefault();
    return;
  }
  const found = KEYS.find(([names]) => names.includes(pressed) || names.includes(pressed.toLowerCase()));
  if (!found?.[2]) return;
  event.preventDefault();
  found[2]();
});

for (const [id, deed] of [["undo", does.undo], ["redo", does.redo], ["add", () => does.add()], ["finish", does.finish],
  ["keys", does.help], ["everything", does.everything]]) byId(id).addEventListener("click", deed);
byId("by").addEventListener("change", () => sessionStorage.setItem("reviewer", by()));
addEventListener("focus", async () => { // another tab or program may have gone on
  if (!state.events || busy) return;
  const answer = await api.ask("events");
  if (answer.ok && answer.data.events !== state.events) await again();
});

load();
