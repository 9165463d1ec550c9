// A projected stage is driven without a pointer.
import { carried } from "./follow.js";
import { holdOrExchange } from "./held.js";
import { ledPath } from "./ledkey.js";
import { panelQuery } from "./panels.js";
import { flip } from "./switch.js";

const FAR = 20; // so many big steps from one end of a slider to the other
const STEPS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 };
const byId = (id) => document.getElementById(id);
const sliders = () => [...document.querySelectorAll("#controls .field:not([hidden]) .slider")];
let current = 0; // place of the slider that was used last

export const typing = (target) => target.closest("input:not([type=range]), select, textarea");

function choose(place) {
  current = place;
  sliders()[place]?.focus();
}

function move(slider, by) {
  const before = slider.value;
  slider.value = Number(before) + by; // the browser keeps it within its ends
  if (slider.value === before) return;
  for (const what of ["input", "change"]) slider.dispatchEvent(new Event(what, { bubbles: true }));
}

function arrow(event) {
  const held = event.target.matches(".slider") ? event.target : null;
  if ((held && !event.shiftKey) || (!held && event.target !== document.body)) return; // the browser's own
  event.preventDefault();
  const slider = held ?? sliders()[current];
  slider.focus();
  move(slider, STEPS[event.key] * (event.shiftKey ? Math.ceil(slider.max / FAR) : 1));
}

// The explorer goes on with the stage, the panel and what is held: that of who leads a class, where a class is led.
function leave() {
  const { leave: alone, usual = "" } = byId("content").dataset;
  const { name } = byId("panel").dataset;
  const held = carried().filter((pair) => /^(before|after)=/.test(pair));
  const query = [byId("followers").dataset.query || usual, name && `panel=${name}`, panelQuery(), ...held].filter(Boolean).join("&");
  location.assign(`${ledPath() ?? alone}${query ? `?${query}` : ""}`);
}

function fullScreen() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.documentElement.requestFullscreen();
}

const showCode = () => byId("code-sheet")?.togglePopover(); // of the class that is led from here

const LETTERS = { b: holdOrExchange, f: fullScreen, p: leave, q: showCode };

export function driveByKeys() {
  document.addEventListener("focusin", ({ target }) => {
    if (target.matches(".slider")) current = sliders().indexOf(target);
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape" && !document.querySelector(":popover-open")) {
      if (typing(event.target)) event.target.blur();
      else leave();
      return;
    }
    if (typing(event.target)) return;
    if (event.key in STEPS) arrow(event);
    else if (event.key === " " && event.target.matches(".slider")) {
      event.preventDefault();
      flip();
    } else if (["1", "2", "3"].includes(event.key)) choose(Number(event.key) - 1);
    else LETTERS[event.key.toLowerCase()]?.();
  });
  document.addEventListener("click", (event) => {
    if (event.target.id !== "leave" || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    leave();
  });
}
