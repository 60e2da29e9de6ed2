/**
 * Turns what stands in an element into newer HTML from our own server, touching only what differs: focus, open
 * details and what someone types stay. What has a data-key is replaced by what has another. Everything in `html` was escaped where it was written.
 */
export function morph(place, html) {
  const fresh = document.createElement('template');
  fresh.innerHTML = html;
  children(place, fresh.content);
}

function children(from, to) {
  const old = [...from.childNodes], next = [...to.childNodes];
  next.forEach((n, i) => { i < old.length ? node(old[i], n) : from.append(n); });
  old.slice(next.length).forEach((n) => n.remove());
}

function node(from, to) {
  if (from.nodeType !== to.nodeType || from.nodeName !== to.nodeName || from.dataset?.key !== to.dataset?.key) { from.replaceWith(to); return; }
  if (from.nodeType !== Node.ELEMENT_NODE) {
    if (from.nodeValue !== to.nodeValue) from.nodeValue = to.nodeValue;
    return;
  }
  if (from === document.activeElement && from.matches('input, textarea, select')) return;
  for (const { name } of [...from.attributes]) {
    if (!to.hasAttribute(name) && !(name === 'open' && from.nodeName === 'DETAILS')) from.removeAttribute(name);
  }
  for (const { name, value } of to.attributes) if (from.getAttribute(name) !== value) from.setAttribute(name, value);
  children(from, to);
}
