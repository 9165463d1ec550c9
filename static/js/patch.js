// Brings what is shown up to what is wanted and touches only what differs, so that the focus stays and much is spared.
const KEPT = "open"; // whether details are open is the reader's choice, not the answer's

const alike = (shown, wanted) => shown.nodeName === wanted.nodeName && shown.id === wanted.id;

function patchAttributes(shown, wanted) {
  for (const { name, value } of wanted.attributes) {
    if (shown.getAttribute(name) !== value) shown.setAttribute(name, value);
  }
  for (const { name } of [...shown.attributes]) {
    if (name !== KEPT && !wanted.hasAttribute(name)) shown.removeAttribute(name);
  }
}

function patch(shown, wanted) {
  if (shown.isEqualNode(wanted)) return;
  if (shown.nodeType !== Node.ELEMENT_NODE) {
    shown.nodeValue = wanted.nodeValue;
    return;
  }
  patchAttributes(shown, wanted);
  patchChildren(shown, wanted);
}

function patchChildren(shown, wanted) {
  let old = shown.firstChild;
  for (const next of [...wanted.childNodes]) {
    let match = old;
    while (match && !alike(match, next)) match = match.nextSibling;
    if (!match) {
      shown.insertBefore(next, old);
      continue;
    }
    while (old !== match) {
      const gone = old;
      old = old.nextSibling;
      gone.remove();
    }
    old = match.nextSibling;
    patch(match, next);
  }
  while (old) {
    const gone = old;
    old = old.nextSibling;
    gone.remove();
  }
}

export function offerPatch() {
  htmx.registerExtension("patch", {
    handle_swap(style, target, fragment) {
      if (style !== "patch") return false;
      patchChildren(target, fragment);
      return []; // nothing in it is htmx's to set up
    },
  });
}
