// A stage that is held to compare the shown one with. In the explorer it is the one before; a projected stage changes
// places with it, so that what is held is the one after while the one before is shown.
const byId = (id) => document.getElementById(id);
const shown = () => byId("followers").dataset.query;
const WORDS = { "": "Hold as the before", before: "Show the before", after: "Show the after" };

function name(what, query) {
  Object.assign(byId("held"), { name: what, value: query });
  if (byId("hold")) byId("hold").textContent = WORDS[what];
  if (byId("let-go")) byId("let-go").hidden = !what;
  byId("content").dispatchEvent(new Event("opened")); // the address carries it
  if (byId("panel").dataset.name === "before") byId("panel").dispatchEvent(new Event("ask"));
  else if (what) document.querySelector("[data-panel=before]")?.click();
}

function exchange() {
  const [held, mending] = [byId("held"), byId("mending")];
  const other = held.value;
  Object.assign(held, { name: held.name === "before" ? "after" : "before", value: shown() });
  mending.setAttribute("hx-get", `${mending.dataset.explorer}?${other}`);
  mending.dispatchEvent(new Event("mend"));
}

export function holdOrExchange() {
  if (byId("held").name) {
    exchange();
    return;
  }
  name("before", shown());
  byId("announcer").textContent = "This stage is held as the before.";
}

export function holdStages() {
  document.addEventListener("click", (event) => {
    const { target } = event;
    if (event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (target.id === "hold") holdOrExchange();
    else if (target.matches("#let-go, [data-let-go]")) name("", "");
    else if (target.matches("[data-hold]")) name("before", shown());
    else return;
    event.preventDefault();
  });
}
