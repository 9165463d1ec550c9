// The explorer on the page of something that is kept: links to stages stay on it, and what is saved is what is shown.
const content = document.getElementById("content");
const shown = () => document.getElementById("followers").dataset.query;

document.addEventListener("click", (event) => {
  const copy = event.target.closest("[data-copies]"); // of what is shown now, though the hand may not have rested
  if (copy) copy.href = `${copy.pathname}?of=${copy.dataset.copies}&${shown()}`;
  const link = event.target.closest("#content a[href^='/stage']");
  if (!link || link.pathname !== "/stage") return;
  link.href = `${location.pathname}?${link.search.slice(1) || content.dataset.usual}`;
}, { capture: true });

document.addEventListener("submit", (event) => {
  const scenario = event.target.querySelector("[data-follows]");
  if (scenario) scenario.value = shown();
});

// The controls that differ from what is kept are marked.
function mark() {
  const differing = new Set([...document.querySelectorAll("#differs li")].map((item) => item.dataset.for));
  for (const field of document.querySelectorAll("#controls .field")) {
    field.classList.toggle("differs", differing.has(field.dataset.field));
  }
}

document.addEventListener("htmx:after:swap", mark);
mark();
