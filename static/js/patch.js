// An answer waits for the next frame, while the next request is on its way already; of several answers only the last
// is shown. Then what is shown is brought up to it, and only what differs is touched: the focus stays, much is spared.
const KEPT = "open"; // whether details are open is the reader's choice, not the answer's
const APART = "data-apart"; // what stands there comes by another answer

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
  if (wanted.hasAttribute(APART)) return;
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

export function patchAnswers(then) {
  let waiting = null;
  const show = () => {
    if (!waiting) return;
    const ctx = waiting;
    waiting = null;
    const wanted = document.createElement("template");
    wanted.innerHTML = ctx.text;
    for (const part of wanted.content.children) {
      const shown = document.getElementById(part.id); // none where the controls are those of another stage by now
      if (shown) patch(shown, part);
    }
    then(ctx);
  };
  document.addEventListener("htmx:after:request", (event) => {
    const { ctx } = event.detail;
    const patched = ctx.swap === "patch" && ctx.response.status === 200;
    if (!patched || waiting?.sourceElement !== ctx.sourceElement) show();
    if (!patched) return;
    event.preventDefault(); // htmx need not wait: it goes on to the next request
    if (!waiting) requestAnimationFrame(show);
    waiting = ctx;
  });
}
