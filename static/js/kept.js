// This browser remembers the links that were made with it: here only, until they are forgotten.
const NAME = "lightgap.kept";
const MOST = 200;
const OURS = /^\/[a-z]+\/[\w/-]{1,120}$/; // a path of this server

export function remembered() {
  try {
    const found = JSON.parse(localStorage.getItem(NAME) ?? "[]");
    return found.filter(({ view, edit, title }) => OURS.test(view) && OURS.test(edit) && typeof title === "string");
  } catch {
    return []; // nothing that is ours, or a browser that keeps nothing
  }
}

function remember(entries) {
  try {
    if (entries.length) localStorage.setItem(NAME, JSON.stringify(entries.slice(0, MOST)));
    else localStorage.removeItem(NAME);
  } catch {
    // a browser that keeps nothing: the links work all the same
  }
}

export function forget(view) {
  remember(remembered().filter((entry) => entry.view !== view));
}

function link(text, href) {
  return Object.assign(document.createElement("a"), { textContent: text, href });
}

function row(entry) {
  const item = document.createElement("li");
  const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Forget" });
  button.setAttribute("aria-label", `Forget ${entry.title}`);
  button.addEventListener("click", () => {
    forget(entry.view);
    list(document.getElementById("remembered"));
  });
  item.append(link(entry.title, entry.view), " · ", link("change it", entry.edit), " ", button);
  return item;
}

function list(place) {
  const entries = remembered();
  place.querySelector("ul").replaceChildren(...entries.map(row));
  place.querySelector("[data-none]").hidden = entries.length > 0;
  const all = place.querySelector("[data-forget-all]");
  all.hidden = entries.length === 0;
  all.onclick = () => {
    remember([]);
    list(place);
  };
}

const page = document.getElementById("content").dataset;
if (page.remember) {
  const { remember: title, view, edit } = page;
  remember([{ title, view, edit }, ...remembered().filter((entry) => entry.view !== view)]);
}
if (page.forget) forget(page.forget);
const place = document.getElementById("remembered");
if (place) list(place);
