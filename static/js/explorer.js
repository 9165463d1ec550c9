// Starts the explorer's behaviour; each module minds one thing.
import { askBands } from "./bands.js";
import { driveControls } from "./controls.js";
import { readCurves } from "./curves.js";
import { drawAtRandom } from "./draws.js";
import { followStage } from "./follow.js";
import { holdStages } from "./held.js";
import { keepInView } from "./inview.js";
import { mendInPlace } from "./mend.js";
import { openPanels } from "./panels.js";
import { leadToProjector } from "./projecting.js";
import { askSpeed } from "./speed.js";
import { switchStates } from "./switch.js";

document.documentElement.classList.add("script");
driveControls();
followStage();
switchStates();
mendInPlace();
openPanels();
askSpeed();
readCurves();
drawAtRandom();
askBands();
keepInView();
holdStages();
leadToProjector();
