// Starts a projected stage: the explorer's live picture, driven by keys.
import { askBands } from "./bands.js";
import { drive, driveControls } from "./controls.js";
import { readCurves } from "./curves.js";
import { drawAtRandom } from "./draws.js";
import { followStage } from "./follow.js";
import { holdStages } from "./held.js";
import { driveByKeys } from "./keys.js";
import { mendInPlace } from "./mend.js";
import { openPanels } from "./panels.js";
import { askSpeed } from "./speed.js";
import { switchStates } from "./switch.js";

const byId = (id) => document.getElementById(id);

// The field of a slider changes places with that of the one that is chosen in its stead.
function exchange(choice) {
  const [gone, come] = [choice.closest(".field"), byId(`field-${choice.value}`)];
  choice.value = gone.dataset.field;
  if (gone === come) return;
  const place = document.createComment("");
  come.replaceWith(place);
  gone.replaceWith(come);
  place.replaceWith(gone);
  [gone.hidden, come.hidden] = [come.hidden, gone.hidden];
  byId("sliders").value = [...document.querySelectorAll("#controls .field:not([hidden])")].map(({ dataset }) => dataset.field).join(",");
  byId(`choice-${come.dataset.field}`).focus();
}

// What is part of the live picture comes with that, a panel by itself.
function show(choice) {
  const [content, panel] = [byId("content"), byId("panel")];
  const asked = "asked" in choice.selectedOptions[0].dataset;
  content.classList.toggle("beside", choice.value === "nothing");
  content.classList.toggle("stacked", choice.value !== "nothing");
  for (const form of panel.querySelectorAll(".panel-form")) form.remove(); // its values belong to the panel that closes
  panel.dataset.name = asked ? choice.value : "";
  panel.hidden = !asked;
  drive();
  if (asked) panel.dispatchEvent(new Event("ask"));
}

function choosePanels() {
  document.addEventListener("change", ({ target }) => {
    if (target.matches(".choice")) exchange(target);
    else if (target.id === "shown-choice") show(target);
  });
  byId("content").addEventListener("rested", () => {
    if (byId("panel").dataset.name) byId("panel").dispatchEvent(new Event("ask"));
  });
}

document.documentElement.classList.add("script");
driveControls();
followStage();
switchStates();
mendInPlace();
openPanels();
choosePanels();
holdStages();
driveByKeys();
askSpeed();
readCurves();
drawAtRandom();
askBands();
