// What of the page cannot be read where it stands: cut off, out of its box, on other text or on a control; each fault
// a line of text. What the schematic's drawing says is left to geometry.js.
(mayScroll) => {
  const SLACK = 1; // CSS pixels; boxes end between pixels
  const UNREAD = ".unseen, .skip, datalist, option, svg"; // not shown, or drawn
  const BOXES = /^(block|flex|grid|list-item|table|table-cell|inline-block|inline-flex)$/;
  const faults = [];
  const fault = (...words) => faults.push(words.join(" "));

  const named = (element) => {
    const sign = element.id ? `#${element.id}` : [...element.classList].map((name) => `.${name}`).join("");
    return element.tagName.toLowerCase() + sign;
  };
  // A browser's own rectangle is asked for each edge anew.
  const plain = ({ left, right, top, bottom }) => ({ left, right, top, bottom });
  const shown = (element) => element.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  const known = new Map(); // each element is measured once
  function measured(element) {
    if (known.has(element)) return known.get(element);
    const style = getComputedStyle(element);
    const found = {
      box: plain(element.getBoundingClientRect()),
      isBox: BOXES.test(style.display),
      scrolls: /auto|scroll/.test(style.overflowX),
      cuts: /hidden|clip/.test(style.overflowX) || /content|strict|paint/.test(style.contain),
      ends: style.textOverflow === "ellipsis", // says itself that there is more
      unseen: style.clipPath !== "none",
      floats: style.position === "fixed", // over the page, which it may cover
    };
    known.set(element, found);
    return found;
  }

  const chains = new Map(); // each element's way up is walked once
  function upwards(element) {
    if (!element || element === document.documentElement) return [];
    if (!chains.has(element)) chains.set(element, [element, ...upwards(element.parentElement)]);
    return chains.get(element);
  }
  const layerOf = (element) => upwards(element).find((at) => measured(at).floats);

  const texts = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    const name = walker.currentNode.textContent.trim().replace(/\s+/g, " ");
    if (!name || element.closest(UNREAD) || !shown(element)) continue;
    if (upwards(element).some((at) => measured(at).unseen || measured(at).ends)) continue;
    const range = document.createRange();
    range.selectNodeContents(walker.currentNode);
    const layer = layerOf(element);
    for (const line of range.getClientRects()) texts.push({ name: `"${name}"`, element, layer, box: plain(line) });
  }
  const controls = [...document.querySelectorAll("input:not([type=hidden]), select, button")].filter(shown);
  const placed = controls.map((element) => ({
    name: named(element), element, layer: layerOf(element), box: measured(element).box,
  }));
  const drawings = [...document.querySelectorAll("svg:not(svg svg)")].filter(shown);
  const drawn = drawings.map((element) => ({ name: "a drawing", element, box: measured(element).box }));
  const all = [...texts, ...placed, ...drawn];

  // A text may not leave the nearest box around it; nor may anything leave a box that cuts, or the page.
  const page = document.documentElement;
  for (const { name, element, box } of all) {
    let nearest = true;
    let reachable = true;
    for (const at of upwards(element)) {
      const outer = measured(at);
      if (at !== element && outer.scrolls) reachable = false; // it can be brought into sight there
      if (!outer.isBox || !reachable) continue;
      const out = Math.max(outer.box.left - box.left, box.right - outer.box.right);
      if ((nearest || outer.cuts) && out > SLACK) fault(name, "sticks out of", named(at), "by", out.toFixed(1));
      const below = box.bottom - outer.box.bottom;
      if (outer.cuts && below > SLACK) fault(name, "is cut off by", named(at), "by", below.toFixed(1));
      nearest = false;
    }
    const out = Math.max(-box.left, box.right - page.clientWidth);
    if (reachable && out > SLACK) fault(name, "leaves the page by", out.toFixed(1));
  }

  // The ink of a line of text is lower than its box.
  const inked = ({ top, bottom, left, right }) => {
    const margin = (bottom - top) / 6;
    return { top: top + margin, bottom: bottom - margin, left: left + 0.5, right: right - 0.5 };
  };
  const lies = (a, b) => a.top < b.bottom && b.top < a.bottom && a.left < b.right && b.left < a.right;
  const inks = texts.map((text, order) => ({ ...text, order, ink: inked(text.box) }));
  inks.sort((a, b) => a.ink.top - b.ink.top);
  inks.forEach((text, i) => {
    for (let j = i + 1; j < inks.length && inks[j].ink.top < text.ink.bottom; j += 1) {
      const other = inks[j];
      if (other.layer !== text.layer || !lies(text.ink, other.ink)) continue;
      const [first, second] = text.order < other.order ? [text, other] : [other, text];
      fault(first.name, "lies on", second.name);
    }
    for (const control of placed) {
      if (!lies(text.ink, control.box) || control.layer !== text.layer) continue;
      if (!control.element.contains(text.element)) fault(text.name, "lies on", control.name);
    }
  });

  // What a select needs beside its text is the same for each, and is measured on one that takes what it needs.
  const pencil = document.createElement("canvas").getContext("2d");
  const lengthOf = (select) => {
    const style = getComputedStyle(select);
    pencil.font = style.font;
    const padding = ["paddingLeft", "paddingRight"].reduce((sum, edge) => sum + parseFloat(style[edge]), 0);
    return pencil.measureText(select.selectedOptions[0].text).width + padding;
  };
  const selects = controls.filter((control) => control.matches("select"));
  if (selects.length && window.arrowWidth === undefined) {
    const free = selects[0].cloneNode();
    free.append(selects[0].selectedOptions[0].cloneNode(true));
    Object.assign(free.style, { position: "absolute", width: "max-content", maxWidth: "none" });
    selects[0].after(free);
    window.arrowWidth = free.offsetWidth - lengthOf(free);
    free.remove();
  }
  for (const select of selects) {
    const lacking = lengthOf(select) + window.arrowWidth - select.offsetWidth;
    if (lacking > SLACK) fault(named(select), `cuts off "${select.selectedOptions[0].text}" by`, lacking.toFixed(1));
  }
  // What cannot be taken may be of any length.
  for (const field of controls.filter((control) => control.matches("input:not([type=range], [aria-invalid])"))) {
    const lacking = field.scrollWidth - field.clientWidth;
    if (lacking > SLACK) fault(named(field), `cuts off "${field.value}" by`, lacking);
  }

  if (!mayScroll) {
    for (const [element, { scrolls }] of known) {
      const hidden = element.scrollWidth - element.clientWidth;
      if (!scrolls || element.matches("input, select")) continue;
      if (hidden > SLACK) fault(named(element), "has to be scrolled by", hidden);
    }
  }
  if (page.scrollWidth > page.clientWidth) fault("the page is too wide by", page.scrollWidth - page.clientWidth);
  return faults;
}
