// The signal rate takes long to judge: it is asked for once the hand rests, and only where one is wanted.
const byId = (id) => document.getElementById(id);

export function askSpeed() {
  byId("content").addEventListener("rested", () => {
    const row = byId("edge-rate");
    if (!row) return;
    row.classList.add("asking"); // until the answer takes its place
    byId("speed").dispatchEvent(new Event("ask"));
  });
}
