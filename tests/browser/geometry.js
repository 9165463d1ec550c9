// What collides on the schematic that is on the page: each fault a line of text. In units of the view box, 460 wide.
(widest) => {
  const GAP = 1.5; // between text and what must stay clear of it
  const pencil = document.createElement("canvas").getContext("2d");
  const faults = [];

  const grown = (box, by) => ({ left: box.left - by, top: box.top - by, right: box.right + by, bottom: box.bottom + by });
  const overlap = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  const within = (a, b) => a.left >= b.left && a.right <= b.right && a.top >= b.top && a.bottom <= b.bottom;

  // The ink of a run of text, not its line box.
  function ink(text) {
    const style = getComputedStyle(text);
    pencil.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const { actualBoundingBoxAscent: above, actualBoundingBoxDescent: below } = pencil.measureText(text.textContent.trim());
    const start = text.getStartPositionOfChar(0);
    const end = text.getEndPositionOfChar(text.getNumberOfChars() - 1);
    return { left: start.x, right: end.x, top: start.y - above, bottom: start.y + below };
  }

  const segments = (line) => {
    const points = line.getAttribute("points").trim().split(/\s+/).map((pair) => pair.split(",").map(Number));
    return points.slice(1).map(([x, y], i) => ({
      left: Math.min(x, points[i][0]), right: Math.max(x, points[i][0]), top: Math.min(y, points[i][1]), bottom: Math.max(y, points[i][1]),
    }));
  };

  for (const side of document.querySelectorAll("#schematic .side")) {
    const svg = side.querySelector("svg");
    const [, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    const toUnits = svg.getScreenCTM().inverse();
    const place = (element) => {
      const box = element.getBoundingClientRect();
      const a = new DOMPoint(box.left, box.top).matrixTransform(toUnits);
      const b = new DOMPoint(box.right, box.bottom).matrixTransform(toUnits);
      return { left: a.x, top: a.y, right: b.x, bottom: b.y };
    };

    if (widest) {
      for (const reading of svg.querySelectorAll(".reading")) {
        const number = reading.closest(".flag") ? widest.volts : widest.amperes;
        reading.lastChild.textContent = ` ${number}`;
      }
      for (const range of svg.querySelectorAll(".range:not(:empty)")) range.textContent = range.closest(".flag") ? widest.voltRange : widest.ampereRange;
      for (const label of svg.querySelectorAll(".label")) {
        const last = label.lastElementChild;
        const match = widest.labels.find(([pattern]) => new RegExp(pattern).test(label.textContent.trim()));
        if (match) last.textContent = match[1];
      }
    }

    const texts = [];
    for (const reading of svg.querySelectorAll(".reading, .range")) {
      if (reading.textContent.trim()) texts.push({ name: reading.textContent.trim(), owner: reading.closest("g"), box: ink(reading) });
    }
    for (const line of svg.querySelectorAll(".label tspan")) texts.push({ name: line.textContent, owner: line.closest("a") ?? line.closest("text"), box: ink(line) });
    const heading = side.querySelector("h2");
    const range = document.createRange();
    range.selectNodeContents(heading);
    texts.push({ name: heading.textContent, owner: heading, box: place(range) });

    const bodies = [];
    for (const shape of svg.querySelectorAll(".part path, .part rect, .part circle")) {
      const part = shape.closest(".part");
      bodies.push({ name: part.id || "reference", owner: part.closest("a") ?? part, box: place(shape), holds: part.id === "part-RX" });
    }
    for (const target of svg.querySelectorAll(".target")) bodies.push({ name: "target", owner: target.closest("a"), box: place(target) });
    for (const head of svg.querySelectorAll(".head")) bodies.push({ name: `head of ${head.parentNode.id}`, owner: head.parentNode, box: place(head) });
    for (const dot of svg.querySelectorAll(".dot")) bodies.push({ name: "dot", owner: dot, box: place(dot) });

    const lines = [];
    for (const wire of svg.querySelectorAll(".wire")) for (const box of segments(wire)) lines.push({ name: "wire", owner: wire, box });
    for (const pole of svg.querySelectorAll(".pole")) for (const box of segments(pole)) lines.push({ name: `pole of ${pole.parentNode.id}`, owner: pole.parentNode, box });
    const path = svg.querySelector(".half").getAttribute("d").match(/-?\d+/g).map(Number);
    const [x0, y0, x1, y1] = path;
    for (const [ax, ay, bx, by] of [[x0, y0, x1, y0], [x1, y0, x1, y1], [x0, y1, x1, y1]]) {
      lines.push({ name: "coupler's outline", owner: svg, box: { left: Math.min(ax, bx), right: Math.max(ax, bx), top: Math.min(ay, by), bottom: Math.max(ay, by) } });
    }
    const flags = [...svg.querySelectorAll(".flag")].map((flag) => ({ name: flag.id, owner: flag, box: place(flag.querySelector("rect")) }));

    const view = { left: 0, top: 0, right: width, bottom: height };
    const fault = (what, a, b) => faults.push(`${svg.querySelector("title").textContent}: ${a.name} ${what}${b ? ` ${b.name}` : ""}`);
    texts.forEach((text, i) => {
      if (!within(grown(text.box, 2), view)) fault("leaves its side", text);
      for (const other of texts.slice(i + 1)) if (overlap(grown(text.box, GAP / 2), grown(other.box, GAP / 2))) fault("overlaps", text, other);
      for (const body of bodies) if (body.owner !== text.owner && !body.holds && overlap(grown(text.box, GAP), body.box)) fault("overlaps", text, body);
      for (const line of lines) if (line.owner !== text.owner && overlap(grown(text.box, GAP), grown(line.box, 1))) fault("is crossed by", text, line);
      for (const flag of flags) {
        if (flag.owner === text.owner) {
          if (!within(grown(text.box, 1), flag.box)) fault("does not fit into", text, flag);
        } else if (overlap(grown(text.box, GAP), flag.box)) fault("overlaps", text, flag);
      }
    });
    for (const receiver of bodies.filter((body) => body.holds)) {
      for (const text of texts.filter((t) => overlap(t.box, receiver.box))) if (!within(grown(text.box, 1), receiver.box)) fault("does not fit into", text, receiver);
    }
    flags.forEach((flag, i) => {
      if (!within(grown(flag.box, 1), view)) fault("leaves its side", flag);
      for (const other of flags.slice(i + 1)) if (overlap(grown(flag.box, 2), other.box)) fault("overlaps", flag, other);
      for (const body of bodies) if (overlap(grown(flag.box, 2), body.box)) fault("covers", flag, body);
      for (const line of lines) if (line.owner !== flag.owner && overlap(grown(flag.box, 2), line.box)) fault("covers", flag, line);
    });
    for (const head of bodies.filter((body) => body.name.startsWith("head"))) {
      for (const body of bodies) if (body !== head && overlap(head.box, body.box)) fault("covers", head, body);
      for (const line of lines) if (line.name.startsWith("pole") && overlap(head.box, line.box)) fault("covers", head, line);
    }
    for (const pole of lines.filter((line) => line.name.startsWith("pole"))) {
      for (const body of bodies) if (overlap(pole.box, body.box)) fault("crosses", pole, body);
      for (const wire of lines.filter((line) => line.name === "wire")) {
        const shared = overlap(grown(pole.box, 0.5), wire.box) && Math.max(pole.box.top, wire.box.top) < Math.min(pole.box.bottom, wire.box.bottom) - 1;
        if (shared) fault("crosses", pole, wire);
      }
    }
  }
  return faults;
}
