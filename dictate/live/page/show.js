// A view, as the program sends it, onto the page. Only what changed is touched: a screen reader says what is touched.

const REGIONS = {
  cervical: "cervical spine", thoracic: "thoracic spine", lumbar: "lumbar spine", sacroiliac: "sacroiliac joints",
};
const COVERAGE = { done: "done", partial: "partial", deferred: "deferred", untouched: "untouched" };
const STATES = { // word, shape, what it means and what to do (nothing while listening), whether it is calm
  starting: ["Starting", "paused", "Wait: nothing is heard yet.", true],
  listening: ["Listening", "listening", "", true],
  standing_by: ["Standing by", "paused", "What is said now makes no findings.", true],
  microphone_lost: ["Microphone lost", "stopped", "What is said now is not heard. The program keeps looking for it.", false],
  disk_full: ["Disk full", "stopped", "Make room: what is said now is not written yet, and is lost after five minutes.", false],
  closed: ["Examination closed", "closed", "Nothing is heard any more. The note waits for its review.", true],
};
const LEVELS = {
  good: "Sound good", quiet: "Sound too quiet: come nearer or speak up", clipping: "Sound too loud: microphone further away",
  silent: "No sound for a while",
};
const LATE_S = 2; // from here on the delay stands beside the state
const BEHIND_S = 10; // from here on it is shown large, until it is half of that: a banner that comes and goes is no calm
const SIZES = 6; // of the last finding, in live.css
const READABLE = 5; // of these are large enough while the plan is there

const by = (id) => document.getElementById(id);

export function setText(id, text) {
  const element = by(id);
  if (element.textContent !== text) element.textContent = text;
}

export function setHidden(id, hidden) {
  const element = by(id);
  if (element.hidden !== hidden) element.hidden = hidden;
}

function setShape(use, name) {
  const href = `#shape-${name}`;
  if (use.getAttribute("href") !== href) use.setAttribute("href", href);
}

// view: the program's; trouble: [what, what to do] that the page itself has (line, microphone), or null
export function show(view, trouble) {
  const [word, shape, does, calm] = STATES[view.state] ?? [String(view.state), "stopped", "Reload this page.", false];
  document.body.dataset.state = view.state;
  showPlace(view);
  setShape(by("alarm-shape"), trouble ? "stopped" : does ? shape : "behind");
  by("alarm").classList.toggle("behind", !trouble && !does);
  showAlarm(trouble ?? (does ? [word, view.notice && !calm ? `${does} ${view.notice}` : does] : behind(view)), trouble ? false : calm);
  const late = view.state === "listening" && view.lag_s >= LATE_S ? `, ${Math.round(view.lag_s)} s behind` : "";
  setText("state-word", trouble ? trouble[0] : word + late);
  setShape(by("state-shape"), trouble ? "stopped" : shape);
  showNews(view);
  setText("notice", calm && view.notice ? view.notice : "");
  showPlan(view);
  showQuiet(view);
  document.title = `${trouble ? trouble[0] : word}: ${where(view)}`;
  fit();
}

let isBehind = false;

function behind(view) {
  isBehind = view.lag_s > (isBehind ? BEHIND_S / 2 : BEHIND_S);
  if (!isBehind) return ["", ""];
  return [`Behind by ${Math.round(view.lag_s)} seconds`, "Go on; everything is kept and will be shown."];
}

function showAlarm([what, todo], calm) {
  by("alarm").classList.toggle("calm", calm);
  by("alarm").dataset.shown = what ? "yes" : "no";
  setText("alarm-what", what);
  setText("alarm-do", todo);
}

function where(view) {
  const region = view.region ? (REGIONS[view.region] ?? view.region) : "";
  const section = view.section ? view.section.replaceAll("_", " ") : "";
  const text = [region, section].filter(Boolean).join(": ");
  return text ? text[0].toUpperCase() + text.slice(1) : "Where: not said yet";
}

function showPlace(view) {
  setText("place", where(view));
  const side = view.side ?? "none";
  document.body.dataset.side = side;
  setHidden("side-left", !(side === "left" || side === "both"));
  setHidden("side-right", !(side === "right" || side === "both"));
  const middle = side === "midline" ? "MIDLINE" : "Side: not said";
  setHidden("side-none", side === "left" || side === "right" || side === "both");
  setText("side-none", middle);
}

function showNews(view) {
  const last = view.last;
  const isAnswer = Boolean(view.answer);
  const text = view.answer || last?.text || (view.findings ? "" : "No finding yet.");
  const element = by("last");
  if (element.textContent !== text) {
    element.textContent = text;
    element.classList.remove("new");
    requestAnimationFrame(() => element.classList.add("new"));
  }
  const more = (view.recent ?? []).length - 1;
  setText("label", isAnswer ? "Answer" : last ? `Finding ${last.number}${more > 0 ? `, and ${more} more before it` : ""}` : "");
  const doubt = isAnswer ? "" : doubtOf(view);
  setText("doubt-why", doubt);
  setHidden("doubt", !doubt);
  setText("again-what", view.say_again || "");
  setHidden("again", !view.say_again);
  setHidden("fine", isAnswer || !last || Boolean(doubt) || Boolean(view.say_again));
}

// One sentence can make several findings: the last stands there large, and a doubt of any of them is told.
function doubtOf(view) {
  if (view.last?.doubt) return view.last.doubt;
  const other = (view.recent ?? []).findLast((one) => one.doubt);
  return other ? `${other.text}: ${other.doubt}` : "";
}

function showPlan(view) {
  const plan = view.plan ?? [];
  const done = plan.filter((one) => one.coverage === "done").length;
  setText("plan-title", plan.length ? `Plan: ${done} of ${plan.length} done` : "Plan");
  const here = plan.find((one) => one.section === view.section);
  setText("missing", here?.missing.length ? `Still to do here: ${here.missing.join(", ")}` : "");
  const list = by("plan");
  while (list.children.length > plan.length) list.lastChild.remove();
  while (list.children.length < plan.length) list.append(planItem());
  plan.forEach((one, index) => showSection(list.children[index], one, one.section === view.section));
}

function planItem() {
  const item = document.createElement("li");
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("aria-hidden", "true");
  svg.append(document.createElementNS("http://www.w3.org/2000/svg", "use"));
  const name = document.createElement("span");
  const how = document.createElement("span");
  how.className = "how";
  item.append(svg, name, how);
  return item;
}

function showSection(item, one, isHere) {
  const [svg, name, how] = item.children;
  setShape(svg.firstChild, one.coverage);
  const label = one.section.replaceAll("_", " ");
  if (name.textContent !== label) name.textContent = label;
  const detail = `${COVERAGE[one.coverage] ?? one.coverage}${oneSide(one)}`;
  if (how.textContent !== detail) how.textContent = detail;
  if (isHere) item.setAttribute("aria-current", "step");
  else item.removeAttribute("aria-current");
}

function oneSide(one) {
  return one.sides?.length === 1 ? `, ${one.sides[0]} only` : "";
}

function showQuiet(view) {
  const list = by("trace");
  const lines = (view.trace ?? []).slice(-6);
  if ([...list.children].map((line) => line.textContent).join("\n") !== lines.join("\n")) {
    list.replaceChildren(...lines.map((line) => Object.assign(document.createElement("li"), { textContent: line })));
  }
  setText("partial", view.partial ? `${view.partial} …` : "");
  const seconds = Math.floor(view.seconds ?? 0);
  const time = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  const injured = view.injured_side ? `injured: ${view.injured_side} · ` : "";
  setText("figures", `${LEVELS[view.level] ?? ""} · ${injured}${view.findings ?? 0} findings, ${view.doubts ?? 0} doubtful · ${time}`);
  document.body.dataset.level = view.level ?? "";
}

// The largest size at which everything said fits; if that is too small for three metres, the plan's list makes room.
export function fit() {
  const said = by("said");
  for (const room of ["plan", "said"]) {
    document.body.dataset.room = room;
    for (let size = 0; size < (room === "plan" ? READABLE : SIZES); size += 1) {
      said.dataset.size = String(size);
      if (fits(said) && fits(by("news"))) return;
    }
  }
}

function fits(element) {
  return element.scrollHeight <= element.clientHeight + 1;
}
