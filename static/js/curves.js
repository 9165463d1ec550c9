// The reading beside a chart follows the pointer, and the arrow keys once the chart has the focus. Its numbers are the table's.
const drawn = (event) => event.target.closest?.("[data-graph]");
const rowsOf = (graph) => [...graph.closest("figure").querySelectorAll("[data-readings] tbody tr")];
const at = (row) => Number(row.dataset.at);

function show(graph, rows, number, spoken = false) {
  const row = rows[number];
  if (!row) return;
  graph.dataset.row = number;
  graph.querySelector(".cursor").setAttribute("d", `M${row.dataset.at} ${graph.dataset.top}V${graph.dataset.bottom}`);
  const figure = graph.closest("figure");
  const texts = [...row.cells].map((cell) => cell.textContent);
  const entries = figure.querySelectorAll(".readout > div");
  entries.forEach((entry, k) => { entry.lastElementChild.textContent = texts[k]; });
  if (spoken) {
    const words = [...entries].slice(0, 4).map((entry) => `${entry.firstElementChild.textContent} ${entry.lastElementChild.textContent}`);
    figure.querySelector("[data-spoken]").textContent = words.join(", ");
  }
}

const nearest = (rows, x) => rows.reduce((best, row, k) => (Math.abs(at(row) - x) < Math.abs(at(rows[best]) - x) ? k : best), 0);

function present(graph, rows) {
  if (graph.dataset.row) return Number(graph.dataset.row);
  return nearest(rows, parseFloat(graph.querySelector(".cursor").getAttribute("d").slice(1)));
}

export function readCurves() {
  for (const name of ["pointermove", "pointerdown"]) document.addEventListener(name, (event) => {
    const graph = drawn(event);
    if (!graph) return;
    const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(graph.getScreenCTM().inverse());
    const rows = rowsOf(graph);
    if (rows.length) show(graph, rows, nearest(rows, place.x));
  });
  document.addEventListener("keydown", (event) => {
    const graph = drawn(event);
    if (!graph || event.ctrlKey || event.metaKey || event.altKey) return;
    const rows = rowsOf(graph), now = present(graph, rows), last = rows.length - 1;
    const by = event.shiftKey ? 5 : 1;
    const next = { ArrowLeft: now - by, ArrowRight: now + by, Home: 0, End: last }[event.key];
    if (next === undefined) return;
    event.preventDefault();
    show(graph, rows, Math.min(Math.max(next, 0), last), true);
  });
  document.addEventListener("htmx:after:swap", () => {
    for (const graph of document.querySelectorAll("[data-graph][data-row]")) delete graph.dataset.row;
  });
}
