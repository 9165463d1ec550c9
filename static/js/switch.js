// The switch: a press on it, on a verdict, or the space bar.
export function flip(state) {
  const control = document.getElementById("controls").elements.namedItem("sw");
  control.value = state ?? (control.value === "closed" ? "open" : "closed");
  control.dispatchEvent(new Event("change", { bubbles: true }));
}

export function switchStates() {
  document.addEventListener("click", (event) => {
    const toggle = event.target.closest("#toggle, [data-switch]");
    if (!toggle || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    flip(toggle.dataset.switch);
  });
  document.addEventListener("keydown", (event) => {
    const busy = event.target.closest("input, select, textarea, button, summary, a:not(#toggle)");
    if (event.key !== " " || busy) return;
    event.preventDefault();
    flip();
  });
}
