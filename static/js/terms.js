// Symbols explain themselves without script. With it one is open at a time, Escape closes it, and it is read out.
const OPEN = ".said:popover-open";

const opener = (note) => [...document.querySelectorAll(`.term[popovertarget="${note.id}"]`)].find((button) => button.checkVisibility());

function close(note) {
  const inside = note.contains(document.activeElement);
  note.hidePopover();
  if (inside) opener(note)?.focus();
}

document.addEventListener("beforetoggle", (event) => {
  if (!event.target.matches(".said")) return;
  if (event.newState !== "open") return;
  for (const other of document.querySelectorAll(OPEN)) other.hidePopover();
}, true);

document.addEventListener("toggle", (event) => {
  if (!event.target.matches(".said")) return;
  const spoken = document.getElementById("term-spoken");
  spoken.textContent = event.newState === "open" ? event.target.querySelector("p").innerText : "";
}, true);

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const note of document.querySelectorAll(OPEN)) close(note);
});

// The cross lies in what it closes: the focus goes back to the symbol.
document.addEventListener("click", (event) => {
  const cross = event.target.closest(".said button");
  if (!cross) return;
  event.preventDefault();
  close(cross.closest(".said"));
});
