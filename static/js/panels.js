// One panel is open at a time. It is asked for once the hand rests, when another tab is chosen, when its own form changes.
const panel = () => document.getElementById("panel");

function ask(name) {
  if (name) {
    document.getElementById("panel-name").value = name;
    for (const form of panel().querySelectorAll(".panel-form")) form.remove(); // its values belong to the panel that closes
  }
  panel().dispatchEvent(new Event("ask"));
}

export function openPanels() {
  document.addEventListener("click", (event) => {
    const tab = event.target.closest("[data-panel]");
    if (!tab || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    panel().dataset.asked = "";
    ask(tab.dataset.panel);
  });
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("[data-panel-form]")) return;
    event.preventDefault();
    ask();
  });
  document.addEventListener("change", (event) => {
    if (event.target.closest("[data-panel-form]")) ask();
  });
  document.addEventListener("htmx:after:swap", () => {
    // What is for browsers without script would be sent too: what htmx puts in place is read as if there were none.
    for (const plain of panel().querySelectorAll("noscript")) plain.remove();
    // What one has opened belongs to the address, so that the link shows it too.
    document.getElementById("content").dispatchEvent(new Event("opened"));
  });
  const first = panel().querySelector("[data-panel]");
  if (first && !panel().dataset.name) ask(first.dataset.panel);
}

// The query of the panel that is open, where it is another than the one that opens by itself.
export function panelQuery() {
  const shown = panel();
  const first = shown?.querySelector("[data-panel]")?.dataset.panel;
  const own = [...shown?.querySelectorAll(".panel-form [name^='p.']") ?? []]
    .filter((field) => !(field.type === "radio" || field.type === "checkbox") || field.checked)
    .filter((field) => field.value !== (field.dataset.usual ?? ""))
    .map((field) => `${encodeURIComponent(field.name)}=${encodeURIComponent(field.value)}`);
  if (document.getElementById("shown-choice")) return own.join("&"); // what is projected is named there
  if (!shown?.dataset.name || (shown.dataset.name === first && !own.length)) return "";
  return [`panel=${shown.dataset.name}`, ...own].join("&");
}
