// The live page: follows the exam, and says so loudly when it does not.
import { Line } from "/live/socket.js";
import { Recorder } from "/live/sound.js";
import { fit, setHidden, show } from "/live/show.js";

const MICROPHONE = { // what the page itself knows of its microphone
  asking: ["Microphone not allowed yet", "Allow it in the browser's question; nothing is heard until then."],
  muted: ["Microphone muted", "What is said now is not heard. Turn it on at the device or in the browser."],
  denied: ["Microphone not allowed", "Allow it for this page in the browser; it is asked for again by itself."],
  missing: ["Microphone lost", "What is said now is not heard. Plug it in; this page keeps looking for it."],
  blocked: ["Microphone held back", "Touch the page or press any key once, then the browser lets it be heard."],
  full: ["Sound is being lost", "The line to the program has been down for more than ten minutes."],
};
const EMPTY = { state: "starting", plan: [], trace: [], findings: 0, doubts: 0, seconds: 0 };
const REFUSED_MS = 10000;
const SOUNDS = ["understood", "unsure", "section"];

let view = EMPTY;
let viewAt = null; // when it came
let following = false;
let lost = "gone";
let begunAt = performance.now();
let microphone = null; // problem
let refused = { why: "", until: 0 }; // what the program did not take of us
let recorder = null;
let sounds = null; // by name, once they are on

const line = new Line("/live/socket", {
  opened() {
    if (recorder) recorder.greet();
    else line.send({ type: "hello", microphone: false });
  },
  message(message) {
    if (message.type === "view") {
      view = message;
      viewAt = performance.now();
      following = true;
      render();
    } else if (message.type === "welcome") {
      if (message.microphone === "browser" && !recorder) {
        recorder = new Recorder(line, { microphone: (problem) => { if (problem !== microphone) { microphone = problem; render(); } } });
        recorder.greet();
      }
    } else if (message.type === "arrived") recorder?.arrived(message.sample);
    else if (message.type === "taken") recorder?.taken();
    else if (message.type === "sound") sounds?.get(message.name)?.play().catch(() => {});
    else if (message.type === "refused") {
      refused = { why: message.why, until: performance.now() + REFUSED_MS };
      render();
    }
  },
  lost(why) {
    following = false;
    lost = why;
    recorder?.lineLost();
    render();
  },
});

function trouble() {
  if (view.state === "closed") return null; // the program ends after an exam; what stands here stays true
  if (!following) {
    if (viewAt === null && performance.now() - begunAt < 2000) return null;
    const since = viewAt === null ? "" : ` What stands below is ${ago(performance.now() - viewAt)} old.`;
    const kept = recorder?.unsentSeconds >= 1 ? ` ${Math.round(recorder.unsentSeconds)} seconds of sound are kept here.` : "";
    if (lost === "link") return ["Not following", `The program was started again: open its new link.${since}${kept}`];
    return ["Not following", `The program cannot be reached; tried again by itself.${since}${kept}`];
  }
  return MICROPHONE[microphone] ?? null;
}

function ago(ms) {
  const seconds = Math.round(ms / 1000);
  return seconds < 60 ? `${seconds} seconds` : `${Math.floor(seconds / 60)} minutes`;
}

function render() {
  document.body.dataset.following = following || view.state === "closed" ? "yes" : "no";
  setHidden("allow", microphone !== "blocked");
  setHidden("finish", view.state === "closed");
  show(refused.until > performance.now() ? { ...view, notice: refused.why } : view, trouble());
}

setInterval(() => { if (!following) render(); }, 1000);
new ResizeObserver(fit).observe(document.documentElement);
document.fonts.ready.then(fit);

function toggleSounds() {
  sounds = sounds ? null : new Map(SOUNDS.map((name) => [name, new Audio(`/live/sound/${name}.wav`)]));
  const button = document.getElementById("sounds");
  button.setAttribute("aria-pressed", String(Boolean(sounds)));
  button.textContent = sounds ? "Sounds on" : "Sounds off";
  sounds?.get("understood").play().catch(() => {});
}

const THEMES = [["", "auto"], ["light", "light"], ["dark", "dark"]];
let theme = 0;
function nextTheme() {
  theme = (theme + 1) % THEMES.length;
  const [value, name] = THEMES[theme];
  if (value) document.documentElement.dataset.theme = value;
  else delete document.documentElement.dataset.theme;
  document.getElementById("theme").textContent = `Colours: ${name}`;
}

function finish() {
  const dialog = document.getElementById("ask");
  if (!dialog.open && view.state !== "closed") dialog.showModal();
}

document.getElementById("ask").addEventListener("close", (event) => {
  if (event.target.returnValue === "finish") line.send({ type: "close" });
  event.target.returnValue = "";
});
document.getElementById("sounds").addEventListener("click", toggleSounds);
document.getElementById("theme").addEventListener("click", nextTheme);
document.getElementById("finish").addEventListener("click", finish);
// Keys go with Alt: a single letter could be typed by accident, or by a voice control (WCAG 2.2, 2.1.4).
const KEYS = { KeyS: toggleSounds, KeyC: nextTheme, KeyX: finish };
addEventListener("keydown", (event) => {
  recorder?.context && recorder.wake();
  if (!event.altKey || event.ctrlKey || event.metaKey || !KEYS[event.code]) return;
  event.preventDefault();
  KEYS[event.code]();
});
addEventListener("pointerdown", () => { if (recorder?.context) recorder.wake(); });
// Sound that the program does not have yet would be lost with the page.
addEventListener("beforeunload", (event) => { if (recorder?.unsentSeconds >= 1) event.preventDefault(); });
render();
