// What collides on the schematic that is on the page: each fault a line of text. In units of the view box, 460 wide.
// `widest` puts other numbers in place of the readings and ranges first: those that need the most room.
(widest) => {
  const GAP = 1.5; // between text and what must stay clear of it
  const OWN_GAP = 0.5; // between a reading and its own range
  const pencil = document.createElement("canvas").getContext("2d");
  const faults = [];

  const grown = ({ left, top, right, bottom }, by) => ({
    left: left - by, top: top - by, right: right + by, bottom: bottom + by,
  });
  const overlap = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  const within = (a, b) => a.left >= b.left && a.right <= b.right && a.top >= b.top && a.bottom <= b.bottom;
  const stretch = (x0, y0, x1, y1) => ({
    left: Math.min(x0, x1), right: Math.max(x0, x1), top: Math.min(y0, y1), bottom: Math.max(y0, y1),
  });

  // The ink of a run of text, not its line box.
  function ink(text) {
    const style = getComputedStyle(text);
    pencil.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const { actualBoundingBoxAscent: above, actualBoundingBoxDescent: below } =
      pencil.measureText(text.textContent.trim());
    const start = text.getStartPositionOfChar(0);
    const end = text.getEndPositionOfChar(text.getNumberOfChars() - 1);
    return { left: start.x, right: end.x, top: start.y - above, bottom: start.y + below };
  }

  const segments = (line) => {
    const points = line.getAttribute("points").trim().split(/\s+/).map((pair) => pair.split(",").map(Number));
    return points.slice(1).map((point, i) => stretch(...points[i], ...point));
  };

  function widen(svg) {
    for (const reading of svg.querySelectorAll(".reading")) {
      const place = reading.closest(".flag") ? widest.flag : widest.current;
      reading.lastChild.textContent = ` ${place.reading}`;
      const range = reading.parentNode.querySelector(".range:not(:empty)");
      if (range) range.textContent = place.range;
    }
  }

  function textsOf(side, svg, place) {
    const texts = [];
    for (const reading of svg.querySelectorAll(".reading, .range")) {
      const name = reading.textContent.trim();
      if (name) texts.push({ name, owner: reading.closest("g"), box: ink(reading) });
    }
    for (const line of svg.querySelectorAll(".label tspan")) {
      texts.push({ name: line.textContent, owner: line.closest("a") ?? line.closest("text"), box: ink(line) });
    }
    const heading = side.querySelector("h2");
    const range = document.createRange();
    range.selectNodeContents(heading);
    texts.push({ name: heading.textContent, owner: heading, box: place(range), within: place(side) });
    return texts;
  }

  function bodiesOf(svg, place) {
    const bodies = [];
    for (const shape of svg.querySelectorAll(".part path, .part rect, .part circle")) {
      const part = shape.closest(".part");
      const owner = part.closest("a") ?? part;
      bodies.push({ name: part.id || "reference", owner, box: place(shape), holds: part.id === "part-RX" });
    }
    for (const target of svg.querySelectorAll(".target")) {
      if (target.checkVisibility()) bodies.push({ name: "target", owner: target.closest("a"), box: place(target) });
    }
    for (const head of svg.querySelectorAll(".head")) {
      bodies.push({ name: `head of ${head.parentNode.id}`, owner: head.parentNode, box: place(head) });
    }
    for (const dot of svg.querySelectorAll(".dot")) bodies.push({ name: "dot", owner: dot, box: place(dot) });
    return bodies;
  }

  function linesOf(svg) {
    const lines = [];
    for (const wire of svg.querySelectorAll(".wire")) {
      for (const box of segments(wire)) lines.push({ name: "wire", owner: wire, box });
    }
    for (const pole of svg.querySelectorAll(".pole")) {
      const owner = pole.parentNode;
      for (const box of segments(pole)) lines.push({ name: `pole of ${owner.id}`, owner, box });
    }
    const [x0, y0, x1, y1] = svg.querySelector(".half").getAttribute("d").match(/-?\d+/g).map(Number);
    for (const box of [stretch(x0, y0, x1, y0), stretch(x1, y0, x1, y1), stretch(x0, y1, x1, y1)]) {
      lines.push({ name: "coupler's outline", owner: svg, box });
    }
    return lines;
  }

  for (const side of document.querySelectorAll("#schematic .side")) {
    const svg = side.querySelector("svg");
    const [, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    const view = { left: 0, top: 0, right: width, bottom: height };
    const toUnits = svg.getScreenCTM().inverse();
    const place = (element) => {
      const box = element.getBoundingClientRect();
      const a = new DOMPoint(box.left, box.top).matrixTransform(toUnits);
      const b = new DOMPoint(box.right, box.bottom).matrixTransform(toUnits);
      return { left: a.x, top: a.y, right: b.x, bottom: b.y };
    };
    const fault = (what, a, b) => {
      faults.push(`${svg.querySelector("title").textContent}: ${a.name} ${what}${b ? ` ${b.name}` : ""}`);
    };

    if (widest) widen(svg);
    const texts = textsOf(side, svg, place);
    const bodies = bodiesOf(svg, place);
    const lines = linesOf(svg);
    const poles = lines.filter((line) => line.name.startsWith("pole"));
    const flags = [...svg.querySelectorAll(".flag")].map((flag) => ({
      name: flag.id, owner: flag, box: place(flag.querySelector("rect")),
    }));

    texts.forEach((text, i) => {
      const clear = grown(text.box, GAP);
      const foreign = (other) => other.owner !== text.owner;
      if (!within(grown(text.box, 2), text.within ?? view)) fault("leaves its side", text);
      for (const other of texts.slice(i + 1)) {
        if (overlap(grown(text.box, foreign(other) ? GAP : OWN_GAP), other.box)) fault("overlaps", text, other);
      }
      for (const body of bodies.filter(foreign)) {
        if (!body.holds && overlap(clear, body.box)) fault("overlaps", text, body);
      }
      for (const line of lines.filter(foreign)) {
        if (overlap(clear, grown(line.box, 1))) fault("is crossed by", text, line);
      }
      for (const flag of flags) {
        if (foreign(flag) && overlap(clear, flag.box)) fault("overlaps", text, flag);
        if (!foreign(flag) && !within(grown(text.box, 1), flag.box)) fault("does not fit into", text, flag);
      }
    });
    for (const receiver of bodies.filter((body) => body.holds)) {
      for (const text of texts.filter((t) => overlap(t.box, receiver.box))) {
        if (!within(grown(text.box, 1), receiver.box)) fault("does not fit into", text, receiver);
      }
    }
    flags.forEach((flag, i) => {
      const clear = grown(flag.box, 2);
      if (!within(grown(flag.box, 1), view)) fault("leaves its side", flag);
      for (const other of flags.slice(i + 1)) if (overlap(clear, other.box)) fault("overlaps", flag, other);
      for (const body of bodies) if (overlap(clear, body.box)) fault("covers", flag, body);
      for (const line of lines) if (line.owner !== flag.owner && overlap(clear, line.box)) fault("covers", flag, line);
    });
    for (const body of bodies) {
      if (!within(body.box, view)) fault("leaves its side", body);
    }
    for (const head of bodies.filter((body) => body.name.startsWith("head"))) {
      for (const body of bodies) if (body !== head && overlap(head.box, body.box)) fault("covers", head, body);
      for (const pole of poles) if (overlap(head.box, pole.box)) fault("covers", head, pole);
    }
    for (const pole of poles) {
      for (const body of bodies) if (overlap(pole.box, body.box)) fault("crosses", pole, body);
      for (const wire of lines.filter((line) => line.name === "wire")) {
        const shared = Math.min(pole.box.bottom, wire.box.bottom) - Math.max(pole.box.top, wire.box.top);
        if (overlap(grown(pole.box, 0.5), wire.box) && shared > 1) fault("crosses", pole, wire);
      }
    }
  }
  return faults;
}
