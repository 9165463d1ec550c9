// After every answer: sliders and hints follow the solved stage, errors go beside their fields, the address follows
// once the hand rests, and the outcome is read out.
import { patchAnswers } from "./patch.js";
import { panelQuery } from "./panels.js";
import { spareUnseen, whole } from "./spare.js";

const QUIET = 700; // ms without a change before the outcome is read out
const CLASS = 1500; // ms over which a class that follows asks for what goes with the picture

const byId = (id) => document.getElementById(id);

// Written only where it differs: a text that is set is laid out anew.
function say(place, text) {
  if (place.textContent !== text) place.textContent = text;
}

function followControls(held) {
  for (const follower of byId("followers").children) {
    const key = follower.dataset.for;
    const hint = byId(`hint-${key}`);
    if (hint) say(hint, follower.textContent);
    const slider = byId(`slider-${key}`);
    if (!slider || slider === held) continue;
    if (slider.value !== follower.dataset.position) slider.value = follower.dataset.position;
    if (slider.ariaValueText !== follower.dataset.stop) slider.ariaValueText = follower.dataset.stop;
  }
}

function placeErrors() {
  const wrong = new Map();
  for (const item of byId("problems").querySelectorAll("li")) wrong.set(item.dataset.for, item.querySelector("span").textContent);
  if (!wrong.size && !document.querySelector("#controls [aria-invalid]")) return;
  for (const field of document.querySelectorAll("#controls .field")) {
    const reason = wrong.get(field.dataset.field);
    const slot = field.querySelector(".error");
    slot.textContent = reason ?? "";
    slot.hidden = !reason;
    const control = field.querySelector("[name]");
    if (reason) control.setAttribute("aria-invalid", "true");
    else control.removeAttribute("aria-invalid");
  }
}

// A value typed beyond its slider, or a resistor that followed a current there, needs a slider with other stops.
function outgrown() {
  return [...byId("followers").children].some(({ dataset }) => byId(`slider-${dataset.for}`)?.max !== dataset.last);
}

// What else belongs to the link: fields that are marked with their usual value.
export const carried = () => [...document.querySelectorAll("[data-carried]")]
  .filter(({ name, value, dataset }) => name && value !== dataset.carried)
  .map(({ name, value }) => `${encodeURIComponent(name)}=${encodeURIComponent(value)}`);

const here = () => location.pathname + location.search;

// Where the page has a stage of its own (`kept`), its bare path means that one, and the usual one is written out.
function address() {
  const { kept, usual } = byId("content").dataset;
  let { query } = byId("followers").dataset;
  if (kept !== undefined) query = query === kept ? "" : query || usual;
  query = [query, panelQuery(), ...carried()].filter(Boolean).join("&");
  return query ? `${location.pathname}?${query}` : location.pathname;
}

export function followStage() {
  let held = null; // the slider under the hand
  let awaited = false; // whether an answer is to be signed as soon as it is shown
  let quiet;
  let entry = here();
  let settled = byId("followers").dataset.query; // the scenario that all outside of the live picture has been told of
  const catchUp = spareUnseen(() => held);
  // Address and title are those of what is shown; not while the hand moves, as both cost the browser a lot.
  // A page that is about more than the stage keeps both.
  const sign = (write) => {
    if (byId("content").hasAttribute("data-own-address")) return;
    if (address() !== here()) history[write](null, "", address());
    entry = here();
    document.title = `${byId("content").dataset.named ?? byId("followers").dataset.title} · Lightgap`;
  };
  const tell = () => {
    const { query } = byId("followers").dataset;
    byId("content").classList.remove("moving");
    if (query === settled) return;
    settled = query;
    byId("content").dispatchEvent(new Event("rested"));
  };
  const rest = () => {
    awaited = false;
    sign("replaceState");
    tell();
    if (outgrown() && !byId("problems").querySelector("li")) byId("content").dispatchEvent(new Event("reshape"));
  };
  document.addEventListener("pointerdown", (event) => {
    if (event.target.matches(".slider")) held = event.target;
  });
  for (const end of ["pointerup", "pointercancel"]) {
    document.addEventListener(end, () => {
      held = null;
      awaited = catchUp();
    });
  }
  patchAnswers((ctx) => {
    byId("connection").hidden = true;
    if (["bands", "speed", "differs"].includes(ctx.sourceElement.id)) return; // they tell nothing new of the controls
    // To what the answer wrote, whatever was typed.
    if (["mending", "led"].includes(ctx.sourceElement.id)) byId("controls").reset();
    placeErrors();
    followControls(held ?? (document.activeElement.matches(".slider") ? document.activeElement : null));
    const { title, summary } = byId("followers").dataset;
    say(byId("subject"), title);
    byId("content").classList.toggle("moving", byId("followers").dataset.query !== settled);
    if (["reshape", "mending"].includes(ctx.sourceElement.id)) {
      sign("pushState");
      tell();
    }
    clearTimeout(quiet);
    const spread = ctx.sourceElement.id === "led" ? Math.random() * CLASS : 0;
    quiet = setTimeout(() => {
      byId("announcer").textContent = summary;
      if (!held && !awaited) rest(); // what is out of view may still be on its way
    }, QUIET + spread);
    if (awaited && whole(ctx)) rest();
  });
  document.addEventListener("htmx:after:swap", (event) => {
    const failed = event.detail.ctx.response.status >= 500;
    byId("connection").hidden = !failed;
    if (!failed) placeErrors();
  });
  document.addEventListener("htmx:error", () => {
    byId("connection").hidden = false;
  });
  document.addEventListener("click", (event) => {
    if (event.target.matches("#problems .close")) byId("problems").replaceChildren();
  });
  for (const why of ["opened", "leaving"]) byId("content").addEventListener(why, () => held || sign("replaceState"));
  document.addEventListener("change", () => {
    if (!awaited) setTimeout(rest, 100);
  });
  window.addEventListener("popstate", () => {
    if (here() !== entry) location.reload(); // a link within the page changes the fragment alone
  });
}
