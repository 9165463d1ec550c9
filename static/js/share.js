// Copies a text beside its button; where the clipboard is closed to the page, the text is left selected.
import { drawPicture } from "./picture.js";

async function copied(field) {
  field.select();
  try {
    await navigator.clipboard.writeText(field.value);
    return true;
  } catch {
    return document.execCommand("copy"); // pages that are not served over a secure connection
  }
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-copies]");
  if (!button) return;
  const id = button.dataset.copies;
  const done = await copied(document.getElementById(id));
  document.getElementById(`told-${id}`).textContent = done ? "Copied." : "Press Ctrl+C to copy what is selected.";
});

document.getElementById("png").addEventListener("click", async ({ target }) => {
  const told = document.getElementById("told-png");
  told.textContent = "";
  try {
    await drawPicture(document.getElementById(target.dataset.picture).src, target.dataset.name);
    told.textContent = "The picture is among your downloads.";
  } catch {
    told.textContent = "This browser could not draw the picture; take the SVG.";
  }
});

document.documentElement.classList.add("script");
