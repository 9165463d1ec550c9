// One key leads from the explorer to the same stage for a room, with the panel that is open and what is held.
import { carried } from "./follow.js";
import { typing } from "./keys.js";
import { panelQuery } from "./panels.js";

const link = () => document.getElementById("to-projector");

// The values themselves, as the last one may not be answered yet; the server makes a short link of them.
function whole() {
  const values = new URLSearchParams(new FormData(document.getElementById("controls"))).toString();
  const { projector = link().pathname } = document.getElementById("content").dataset; // that of the class that is led
  link().href = `${projector}?${[values, panelQuery(), ...carried()].filter(Boolean).join("&")}`;
}

export function leadToProjector() {
  for (const how of ["click", "auxclick", "contextmenu"]) {
    document.addEventListener(how, (event) => {
      if (link()?.contains(event.target)) whole(); // then the browser follows it, wherever it is to be opened
    });
  }
  document.addEventListener("keydown", (event) => {
    if (event.key.toLowerCase() !== "p" || event.ctrlKey || event.metaKey || event.altKey) return;
    if (typing(event.target) || !link()) return;
    event.preventDefault();
    whole();
    location.assign(link().href);
  });
}
