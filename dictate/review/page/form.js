// Changing a finding: typed as one would say it, or field by field.

import { act } from "./api.js";
import { byId, el, fill, key } from "./dom.js";

const SECTIONS = ["introduction", "history", "inspection", "palpation", "active_motion", "passive_motion", "resisted_motion",
  "neurological", "vascular", "adjacent_joints", "referred_pain", "special_tests", "function", "measurement"];
const REGIONS = ["knee", "hip", "ankle", "foot", "shoulder", "elbow", "wrist", "hand", "cervical", "thoracic", "lumbar", "sacroiliac"];
const SIDES = ["left", "right", "both", "midline"];
const STATUS = ["present", "absent", "normal", "reduced", "increased", "positive", "negative", "equivocal", "not_examined"];
const SEVERITY = ["trace", "mild", "moderate", "severe"];
const UNITS = ["cm", "mm", "s", "1"];

// -- in words ---------------------------------------------------------------------------------------------------------

export function typeIt({ item = null, utterance = null, take, leave, text = "" }) {
  const place = byId("typed");
  let findings = [];
  let asked = 0;
  let readOf = null; // the words that `findings` were read from, and that are shown
  const input = el("input", { id: "typed-text", autocomplete: "off", spellcheck: false, maxLength: 2000, value: text,
    "aria-describedby": "typed-reads", enterKeyHint: "done" });
  const reads = el("div", { id: "typed-reads", className: "reads", "aria-live": "polite" });
  const fault = el("p", { className: "alert", role: "alert", hidden: true });
  const button = el("button", { type: "button", className: "main", disabled: true, on: { click: () => submit() } },
    item ? "Take it " : "Add ", key("Enter"));

  async function read() {
    const mine = ++asked;
    const words = input.value;
    if (!words.trim()) {
      findings = [];
      readOf = words;
      fill(reads, el("p", { className: "quiet", textContent: "Type it as you would say it. What it would record is shown here." }));
      button.disabled = true;
      return;
    }
    const answer = await act("read", { text: words, key: item?.key ?? null, utterance });
    if (mine !== asked) return; // more was typed meanwhile
    findings = answer.ok ? answer.data.findings : [];
    readOf = words;
    show(answer);
    reads.scrollIntoView({ block: "nearest" });
  }

  function show(answer) {
    button.disabled = item ? findings.length !== 1 : !findings.length;
    if (!answer.ok) fill(reads, el("p", { textContent: answer.why }));
    else if (!findings.length) fill(reads, el("p", { textContent: "These words record nothing." }));
    else
      fill(reads,
        el("p", { className: "quiet", textContent: item && findings.length > 1 ? "These words are more than one finding; take one of them:" : "This would be recorded:" }),
        el("ul", {}, findings.map((one) => el("li", {},
          item && findings.length > 1
            ? el("button", { type: "button", textContent: one.line, on: { click: () => submit([one]) } })
            : el("strong", { textContent: one.line }),
          ` (${one.section})`, one.remarks.length ? el("span", { className: "remark", textContent: ` ${one.remarks.join("; ")}` }) : null))));
  }

  async function submit(chosen = findings) {
    if (input.value !== readOf) { // more was typed since: what is taken is what is shown
      clearTimeout(typeIt.timer); // its reading would pass this one by, and Enter with it
      await read();
      if (input.value !== readOf) return;
      chosen = findings;
    }
    if (!chosen.length || (item && chosen.length !== 1)) return;
    const why = await take(chosen.map((one) => one.finding), input.value.trim());
    fault.textContent = why ?? "";
    fault.hidden = !why;
    if (why) input.focus();
  }

  input.addEventListener("input", () => {
    clearTimeout(typeIt.timer);
    typeIt.timer = setTimeout(read, 120);
  });
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.isComposing) {
      event.preventDefault();
      submit();
    }
    if (event.key === "Escape") {
      event.stopPropagation();
      fill(place);
      leave();
    }
  });
  fill(place, el("div", { className: "typed" },
    el("label", { htmlFor: "typed-text", textContent: item ? "In place of it" : utterance === null ? "Add a finding" : `Add a finding after sentence ${utterance + 1}` }),
    el("div", { className: "inline" }, input, button,
      el("button", { type: "button", on: { click: () => { fill(place); leave(); } } }, "Leave it ", key("Esc"))),
    fault, reads));
  input.focus();
  read();
}

// -- field by field ---------------------------------------------------------------------------------------------------

export function openForm(item, labels, { save }) {
  const dialog = byId("form");
  let version = item.version;
  const f = item.finding;
  const number = (value) => (value === null ? "" : String(value));
  const grade = f.grade ?? { scale: "", value: "" };
  const measure = f.measure ?? { value: null, unit: "cm", comparator: null };
  const values = el("datalist", { id: "values" });
  const fields = {
    finding: text("Finding", f.finding, "l-findings", labels.findings),
    structure: text("Structure", f.structure ?? "", "l-structures", labels.structures),
    side: choice("Side", f.side, SIDES),
    status: choice("Result", f.status, STATUS),
    degrees: text("Angle, degrees", number(f.degrees)),
    at_degrees: text("Position, degrees", number(f.at_degrees)),
    scale: choice("Grade: scale", grade.scale || null, Object.keys(labels.scales)),
    value: text("Grade: value", grade.value, "values"),
    measure: text("Measure", number(measure.value)),
    unit: choice("Measure: unit", measure.unit, UNITS, false),
    comparator: choice("Measure: sign", measure.comparator, ["<", ">"]),
    severity: choice("Severity", f.severity, SEVERITY),
    end_feel: text("End feel", f.end_feel ?? "", "l-ends", labels.end_feels),
    limited_by: text("Limited by (commas between)", f.limited_by.join(", "), "l-limiters", labels.limiters),
    with: text("With (commas between)", f.with.join(", "), "l-companions", labels.companions),
    section: choice("Section", f.section, SECTIONS, false),
    region: choice("Region", f.region, REGIONS, false),
  };
  const offer = () => fill(values, (labels.scales[fields.scale.input.value] ?? []).map((one) => el("option", { value: one })));
  fields.scale.input.addEventListener("change", offer);
  offer();
  const fault = el("p", { className: "alert", role: "alert", hidden: true });
  const now = el("p", { className: "quiet", textContent: `Now: ${item.line}` });
  const form = el("form", { method: "dialog" },
    el("h2", { id: "form-title", textContent: "Change this finding" }), now,
    el("div", { className: "fields" }, Object.values(fields).map((one) => one.node)), values, fault,
    el("div", { className: "deeds" },
      el("button", { type: "submit", className: "main" }, "Change it ", key("Enter")),
      el("button", { type: "button", on: { click: () => dialog.close() } }, "Leave it ", key("Esc"))));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const read = collect(fields, f);
    const why = read.why ?? (await save(read.finding, version, (fresh) => {
      version = fresh.version;
      now.textContent = `Now: ${fresh.line}`;
    }));
    fault.textContent = why ?? "";
    fault.hidden = !why;
    if (!why) dialog.close();
  });
  fill(dialog, form);
  dialog.showModal();
  fields.finding.input.focus();
}

function text(label, value, list, options) {
  const input = el("input", { value, autocomplete: "off", spellcheck: false, list });
  const known = options ? el("datalist", { id: list }, options.map((one) => el("option", { value: one }))) : null;
  return { input, node: el("label", { className: "field" }, label, input, known) };
}

function choice(label, value, options, blank = true) {
  const input = el("select", {}, blank ? el("option", { value: "", textContent: "–" }) : null,
    options.map((one) => el("option", { value: one, textContent: one.replaceAll("_", " "), selected: one === value })));
  input.value = value ?? (blank ? "" : options[0]);
  return { input, node: el("label", { className: "field" }, label, input) };
}

function collect(fields, base) {
  const value = (name) => fields[name].input.value.trim();
  const list = (name) => value(name).split(",").map((one) => one.trim()).filter(Boolean);
  const faults = [];
  const number = (name, label) => {
    const written = value(name).replace("\u2212", "-").replace(",", ".").replace("°", "");
    if (!written) return null;
    const read = Number(written);
    if (!Number.isFinite(read)) faults.push(`${label}: “${value(name)}” is no number`);
    return read;
  };
  if (!value("finding")) faults.push("Finding: say what it is");
  if (Boolean(value("scale")) !== Boolean(value("value"))) faults.push("Grade: give both the scale and the value, or neither");
  const measured = number("measure", "Measure");
  const finding = {
    ...base,
    section: value("section"), region: value("region"), side: value("side") || null, structure: value("structure") || null,
    finding: value("finding"), status: value("status") || null, degrees: number("degrees", "Angle"),
    grade: value("scale") ? { scale: value("scale"), value: value("value") } : null,
    measure: measured === null ? null : { value: measured, unit: value("unit"), comparator: value("comparator") || null },
    at_degrees: number("at_degrees", "Position"), severity: value("severity") || null, end_feel: value("end_feel") || null,
    limited_by: list("limited_by"), with: list("with"),
  };
  return faults.length ? { why: `${faults.join(". ")}.` } : { finding };
}
