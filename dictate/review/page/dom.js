// Nodes are built, never parsed from text: whatever was said or typed stays text.

export function el(tag, properties = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "on") for (const [event, act] of Object.entries(value)) node.addEventListener(event, act);
    else if (name in node && name !== "list") node[name] = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

export function fill(node, ...children) {
  node.replaceChildren(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
}

export const byId = (id) => document.getElementById(id);

export function say(text) {
  byId("status").textContent = text;
}

export function warn(text) {
  const alert = byId("alert");
  alert.textContent = text;
  alert.hidden = !text;
}

export const key = (name) => el("kbd", { textContent: name });

// A moment in the time of whoever looks; the journal keeps UTC. Made once: a list shows hundreds of moments.
const clock = new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" });
export const when = (moment) => clock.format(new Date(moment));
