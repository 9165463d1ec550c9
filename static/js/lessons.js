// Offers the lessons that this browser remembers where a stage is to be put into one; one that is deleted is forgotten.
import { forget, remembered } from "./kept.js";

const EDITED = /^\/lesson\/[\w-]+\/edit\/[\w-]+$/;

function row({ title, edit }, query) {
  const link = document.createElement("a");
  link.textContent = title;
  link.href = query === null ? edit : `${edit}/new${query && "?"}${query}`;
  const item = document.createElement("li");
  item.append(link);
  return item;
}

const section = document.getElementById("own-lessons");
if (section) {
  const lessons = remembered().filter(({ edit }) => EDITED.test(edit));
  section.hidden = lessons.length === 0;
  section.querySelector("ul").replaceChildren(...lessons.map((lesson) => row(lesson, section.dataset.query ?? null)));
}
const { view } = document.getElementById("content").dataset;
document.querySelector("#delete form")?.addEventListener("submit", () => forget(view));
