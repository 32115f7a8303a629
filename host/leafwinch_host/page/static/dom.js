// The small means to make and change elements; text is only ever set as text.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value != null) node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child != null));
  return node;
}

/** Make an element of HTML. */
export function el(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** Make an element of SVG. */
export function svg(tag, attributes, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

export const byId = (id) => document.getElementById(id);

/** Set a text, but only where it differs, so that nothing is laid out anew for nothing. */
export function say(node, words) {
  const text = String(words);
  if (node.textContent !== text) node.textContent = text;
}

/** Set an attribute, but only where it differs. */
export function mark(node, name, value) {
  const text = String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}

/** Show or hide a node. */
export function show(node, visible) {
  if (node instanceof SVGElement) mark(node, "visibility", visible ? "visible" : "hidden");
  else if (node.hidden === visible) node.hidden = !visible;
}

/** A button that does something at once. */
export function button(label, act, attributes) {
  return el("button", { type: "button", onclick: act, ...attributes }, label);
}

/** Bench time in words: seconds with the millisecond. */
export const seconds = (ms) => `${(ms / 1000).toFixed(3)} s`;

/** Let a text file be saved. */
export function save(name, text, kind = "text/csv") {
  const address = URL.createObjectURL(new Blob([text], { type: kind }));
  const link = el("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
