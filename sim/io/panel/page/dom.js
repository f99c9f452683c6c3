/// Small hands on the document. What has not changed is not touched, so that ten states a second cost little.

/// A new element: el('p', {class: 'x', onclick: f}, 'text', child...). Nothing is ever parsed as HTML.
export function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith('on')) node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, '');
    else node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

const SVG = 'http://www.w3.org/2000/svg';
export function svg(tag, attributes = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...children);
  return node;
}

export const byId = (id) => document.getElementById(id);

const texts = new WeakMap();
/// Sets the text of a node that holds text only.
export function say(node, text) {
  const wanted = text ?? '';
  if (texts.get(node) === wanted) return;
  texts.set(node, wanted);
  node.textContent = wanted;
}

export function show(node, yes) {
  if (node.hidden === Boolean(yes)) node.hidden = !yes;
}

export function mark(node, name, value) {
  if (node.dataset[name] !== value) node.dataset[name] = value;
}

export function attribute(node, name, value) {
  if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

/// Length of a bar, 0 to 1.
export function stretch(node, share) {
  const wanted = `scaleX(${Math.max(0, Math.min(1, share || 0)).toFixed(3)})`;
  if (node.style.transform !== wanted) node.style.transform = wanted;
}

const keys = new WeakMap();
/// Fills a node anew with what `make` gives, only when `key` (plain data) differs from the last time. Focus stays
/// on the child of the same data-key, or else on the node itself.
export function refill(node, key, make) {
  const wanted = JSON.stringify(key);
  if (keys.get(node) === wanted) return false;
  keys.set(node, wanted);
  const focused = node.contains(document.activeElement) ? document.activeElement : null;
  const name = focused?.dataset.key;
  node.replaceChildren(...make());
  if (focused) {
    const again = name && [...node.querySelectorAll('[data-key]')].find((child) => child.dataset.key === name);
    const next = again || node.querySelector('button, input, select, summary') || node;
    if (next === node) node.tabIndex = -1;
    next.focus({preventScroll: true});
  }
  return true;
}
