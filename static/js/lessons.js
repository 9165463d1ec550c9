// Remembers in this browser which lessons are changed in it, and offers them where a stage is to be put into one.
const KEY = "lightgap-lessons";
const MOST = 20;
const PATH = /^\/lesson\/[\w-]{1,64}\/edit\/[\w-]{1,64}$/;

function remembered() {
  try {
    const found = JSON.parse(localStorage.getItem(KEY) ?? "[]");
    return found.filter(({ path, title }) => PATH.test(path) && typeof title === "string");
  } catch {
    return []; // nothing may be kept here, or something else was
  }
}

function keep(lessons) {
  try {
    localStorage.setItem(KEY, JSON.stringify(lessons.slice(0, MOST)));
  } catch {
    // without room it is just not remembered
  }
}

function remember({ lesson, own }) {
  keep([{ path: own, title: lesson }, ...remembered().filter(({ path }) => path !== own)]);
}

function offer(section, adds) {
  const lessons = remembered();
  section.hidden = lessons.length === 0;
  const rows = lessons.map(({ path, title }) => {
    const link = document.createElement("a");
    link.href = adds ? `${path}/new${section.dataset.query ? `?${section.dataset.query}` : ""}` : path;
    link.textContent = title;
    const row = document.createElement("li");
    row.append(link);
    return row;
  });
  section.querySelector("ul").replaceChildren(...rows);
}

const content = document.getElementById("content");
const { own } = content.dataset;
if (own) remember(content.dataset);
document.querySelector("#delete form")?.addEventListener("submit", () => keep(remembered().filter(({ path }) => path !== own)));
const section = document.getElementById("own-lessons");
if (section) {
  offer(section, new URLSearchParams(location.search).has("add"));
  document.getElementById("forget-lessons").addEventListener("click", () => {
    keep([]);
    offer(section, false);
  });
}
