// Makes nodes. Text only ever enters a page as text: nothing here parses HTML.
const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "class") node.setAttribute("class", value);
    else if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false));
  return node;
}

export const h = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
export const svg = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
export const byId = (id) => document.getElementById(id);

// Writes only what changed. Rewriting a node restarts its flash, loses a press half made and makes readers repeat.
const written = new WeakMap();

export function put(node, key, make) {
  if (written.get(node) === key) return false;
  written.set(node, key);
  const made = make();
  node.replaceChildren(...(Array.isArray(made) ? made.flat(Infinity) : [made]).filter((c) => c !== null && c !== false));
  return true;
}

export function setClass(node, name) {
  if (node.getAttribute("class") !== name) node.setAttribute("class", name);
}

export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

// One live region for everybody; trips and loss of connection interrupt, the rest waits its turn.
export function say(text, urgent = false) {
  const region = byId(urgent ? "say-now" : "say");
  if (region) setText(region, text);
}

export const lines = (...texts) => texts.flatMap((text, i) => (i ? [h("br"), text] : [text]));
