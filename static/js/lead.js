// Leading a class: it is shown the scenario of the page whenever that changes, also during a drag.
import { keepInStep } from "./instep.js";

const PACE = 125; // ms between two scenarios
const COUNTED = 2000; // ms after which it is asked how many follow
const [SOONEST, LATEST] = [500, 8000]; // ms until what was not taken is tried again

const byId = (id) => document.getElementById(id);
const banner = byId("class");
const here = () => byId("followers").dataset.query;
let led = ""; // the path of who leads
let follows = false; // whether it is another window that leads at present
let tellWindows = () => {};
let known = banner.dataset.query; // what the class is shown
let busy = false;
let timer = 0;
let counting = 0;
let last = 0;
let waits = SOONEST;

export function tell(state) {
  for (const part of banner.querySelectorAll("[data-when]")) part.hidden = part.dataset.when !== state;
}

function later(wait) {
  clearTimeout(timer);
  timer = setTimeout(() => {
    timer = 0;
    show();
  }, wait);
}

const send = (query, keepalive = false) =>
  fetch(`${led}/scenario`, { method: "POST", body: new URLSearchParams({ scenario: query }), keepalive });

async function show() {
  if (follows || busy || timer || here() === known) return;
  const soon = last + PACE - performance.now();
  if (soon > 0) {
    later(soon);
    return;
  }
  const query = here();
  busy = true;
  last = performance.now();
  tellWindows(query);
  const status = await send(query).then((answer) => answer.status, () => 503);
  busy = false;
  if (status === 200) {
    waits = SOONEST;
    if (!follows) known = query;
    tell("shown");
    show();
  } else if (status === 429 || status >= 500) {
    tell("behind");
    later(waits * (0.5 + Math.random()));
    waits = Math.min(2 * waits, LATEST);
  } else {
    known = query; // it would be refused again
    tell("refused");
  }
}

// Not by htmx: what it asks for and swaps, the page takes for answers of its own.
async function count() {
  const answer = document.hidden ? null : await fetch(`${led}/followers`).catch(() => null);
  if (!answer?.ok) return;
  byId("class-followers").outerHTML = await answer.text();
  if (byId("class-followers").dataset.state !== "ended") return;
  clearInterval(counting);
  tell("ended");
}

export function lead(path) {
  led = path;
  tellWindows = keepInStep((query) => [known, follows] = [query, true], () => follows = false);
  counting = setInterval(count, COUNTED);
  new MutationObserver(show).observe(byId("live"), { subtree: true, attributeFilter: ["data-query"] });
  window.addEventListener("pagehide", () => {
    if (!follows && here() !== known) send(here(), true);
  });
  window.addEventListener("pageshow", ({ persisted }) => {
    if (!persisted) return;
    [known, follows] = [null, false]; // another page may have led meanwhile
    show();
  });
  show();
  count();
}
