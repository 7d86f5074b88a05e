// Signing: who, what it means, and every open doubt one by one.

import { act } from "./api.js";
import { byId, el, fill, key, say, when } from "./dom.js";
import { gapWords } from "./note.js";

const MEANS = [
  "I have read this note. It says what I found when I examined this person, and I answer for it.",
  "The program wrote down what was said. It has not examined, judged or decided anything, and nothing in it is a diagnosis.",
  "What is missing was not heard, which is not the same as not done. An unmarked value can be wrong, too.",
  "After signing the note is frozen. A later change is an addendum with a signature and a reason of its own.",
];

export function openSign(state, { by, done, show, again }) {
  const dialog = byId("sign");
  const signedBefore = state.signatures.length > 0;
  if (signedBefore && !state.since.length) {
    fill(dialog, el("form", { method: "dialog" }, el("h2", { id: "sign-title", textContent: "Signature" }), signatures(state),
      el("p", { textContent: "Nothing was changed since. To change something, begin an addendum." }),
      el("div", { className: "deeds" }, el("button", { className: "main" }, "Close ", key("Esc")))));
    dialog.showModal();
    return;
  }
  const name = el("input", { autocomplete: "off", required: true, maxLength: 120, value: by() });
  const role = el("input", { autocomplete: "off", required: true, maxLength: 120, value: sessionStorage.getItem("role") ?? "" });
  const reason = signedBefore ? el("input", { autocomplete: "off", required: true, maxLength: 1000 }) : null;
  const open = state.queue.map((one) => {
    const item = state.items.get(one);
    const box = el("input", { type: "checkbox", value: one });
    return { box, node: el("li", {},
      el("label", { className: "check" }, box, el("span", {}, el("strong", { textContent: item.line }),
        `: ${item.doubts.map((doubt) => doubt.words.toLowerCase()).join("; ")}. I sign it as open.`)),
      el("button", { type: "button", className: "small", textContent: "Look at it", "aria-label": `Look at it: ${item.line}`,
        on: { click: () => { dialog.close(); show(one); } } })) };
  });
  const fault = el("p", { className: "alert", role: "alert", hidden: true });
  const form = el("form", { method: "dialog", noValidate: true },
    el("h2", { id: "sign-title", textContent: signedBefore ? "Sign the addendum" : "Sign this note" }),
    signedBefore ? signatures(state) : null,
    signedBefore ? el("ol", { className: "changes" }, state.since.map((edit) =>
      el("li", { textContent: `${edit.action}: ${[edit.before, edit.after].filter(Boolean).join(" → ")}` }))) : null,
    (state.faults ?? []).map((one) => el("p", { className: "alert", textContent: `Not as it was written: ${one}.` })),
    state.gaps?.length ? [el("h3", { textContent: "Sound is missing" }),
      el("p", { textContent: "What was said there is not in the note; add what you found." }),
      el("ul", {}, state.gaps.map((gap) => el("li", { textContent: gapWords(gap) })))] : null,
    open.length ? [el("h3", { textContent: `Doubtful and not decided: ${open.length}` }),
      el("p", { textContent: "Decide them, or say of each that you sign it as open. The note will show them as open." }),
      el("ul", { className: "open-doubts" }, open.map((one) => one.node))] : null,
    el("h3", { textContent: "What signing means" }), el("ul", {}, MEANS.map((line) => el("li", { textContent: line }))),
    el("div", { className: "fields" },
      el("label", { className: "field" }, "Your name", name),
      el("label", { className: "field" }, "Your role, such as physiotherapist", role),
      reason ? el("label", { className: "field" }, "Why the signed note is changed", reason) : null),
    fault,
    el("div", { className: "deeds" },
      el("button", { type: "submit", className: "main" }, signedBefore ? "Sign the addendum" : "Sign"),
      el("button", { type: "button", on: { click: () => dialog.close() } }, "Not yet ", key("Esc"))));
  let sending = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (sending) return;
    const wrong = missing({ name, role, reason, open });
    if (wrong) {
      tell(wrong.why);
      wrong.at.focus();
      return;
    }
    sending = true;
    sessionStorage.setItem("role", role.value.trim());
    const answer = await act("sign", {
      name: name.value, role: role.value, addendum: reason?.value ?? null, events: state.events,
      open: open.filter((one) => one.box.checked).map((one) => one.box.value),
    });
    sending = false;
    if (answer.status === 409) { // what was shown here is not what stands now: it is looked at again first
      dialog.close();
      await again(answer.why);
      return;
    }
    if (!answer.ok) {
      tell(answer.why);
      return;
    }
    dialog.close();
    await done(answer.data);
    say(`${signedBefore ? "Addendum signed" : "Signed"} by ${name.value.trim()}. The note is frozen.`);
  });
  fill(dialog, form);
  dialog.showModal();
  (open[0]?.box ?? (name.value ? role : name)).focus();

  function tell(why) {
    fault.textContent = why;
    fault.hidden = false;
  }
}

function missing({ name, role, reason, open }) {
  const undecided = open.find((one) => !one.box.checked);
  if (undecided) return { why: "Each doubtful finding is decided, or signed as open knowingly.", at: undecided.box };
  for (const [input, why] of [[name, "Say who signs."], [role, "Say in which role."], [reason, "Say why the signed note is changed."]])
    if (input && !input.value.trim()) return { why, at: input };
  return null;
}

function signatures(state) {
  return el("ol", {}, state.signatures.map((one) =>
    el("li", {}, `${one.addendum ? "Addendum signed" : "Signed"} by ${one.name}, ${one.role}, ${when(one.at)}.`,
      one.addendum ? ` Reason: ${one.addendum}.` : "", el("br"), el("span", { className: "digest", textContent: `sha256 ${one.digest}` }))));
}
