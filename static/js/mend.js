// A remedy is applied in place: its link leads to the mended stage, which is shown like another kind of side.
const byId = (id) => document.getElementById(id);

// What was pressed may be gone, as its finding holds now.
function kept(text) {
  byId("announcer").textContent = `${text}: done.`;
  if (document.activeElement !== document.body) return;
  (document.querySelector("#verdict [data-mend]") ?? document.querySelector(".findings summary")).focus();
}

export function mendInPlace() {
  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-mend]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const [content, mending, text] = [byId("content"), byId("mending"), link.textContent.trim()];
    content.dispatchEvent(new Event("leaving")); // what is shown gets its address, for the way back
    content.addEventListener("rested", () => kept(text), { once: true });
    mending.setAttribute("hx-get", `${mending.dataset.explorer}${link.search}`);
    mending.dispatchEvent(new Event("mend"));
  });
}
