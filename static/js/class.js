// A class: the picture follows what is shown there, until one tries something of one's own; the banner leads back.
const [NARROW, BROAD] = [80, 400]; // ms over which a class asks for the same picture: the slower the answers, the longer
const [SOONEST, LATEST] = [300, 8000]; // ms until the connection is tried again
const SILENCE = 35_000; // ms without a sign of life after which a connection counts as lost
const OWN = ["controls", "reshape", "mending"]; // what asks for a picture because somebody has changed something

const byId = (id) => document.getElementById(id);
const [banner, content, picture] = [byId("class"), byId("content"), byId("led")];
let { number, query } = banner.dataset; // what the class is shown, as far as is known here
let own = banner.dataset.own === "yes";
let ended = banner.dataset.state === "ended";
let lost = false;
let shown = own ? null : query; // what of the class is seen here
let asked = null; // what of it is on its way
let waits = SOONEST;
let spread = NARROW;
let since = 0; // when the picture was asked for

function tell() {
  const state = ended ? "ended" : own ? "own" : "following";
  banner.dataset.state = state;
  banner.className = `class-banner ${state}`;
  for (const part of banner.querySelectorAll("[data-when]")) {
    part.hidden = part.dataset.when === "lost" ? !lost : part.dataset.when !== state;
  }
  banner.querySelector(".class-back").hidden = !own;
  banner.querySelector("[data-led]").href = query ? `${banner.dataset.stage}?${query}` : banner.dataset.stage;
  content.toggleAttribute("data-own-address", !own);
}

function show() {
  if (own || asked !== null || shown === query) return;
  asked = query;
  picture.setAttribute("hx-get", asked ? `${picture.dataset.explorer}?${asked}` : picture.dataset.explorer);
  setTimeout(() => {
    since = performance.now();
    picture.dispatchEvent(new Event("show"));
  }, Math.random() * spread);
}

function leave() {
  if (own) return;
  [own, shown] = [true, null];
  tell();
}

function comeBack(event) {
  if (event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  own = false;
  history.replaceState(null, "", byId("class-back").href);
  tell();
  show();
  banner.focus(); // the way back is gone
}

function failed() {
  asked = null;
  setTimeout(show, SOONEST + Math.random() * LATEST / 4);
}

function listen() {
  const source = new EventSource(`${banner.dataset.events}?after=${number}`);
  let silence;
  const alive = () => {
    clearTimeout(silence);
    silence = setTimeout(() => source.onerror(), SILENCE);
  };
  alive();
  for (const name of ["scenario", "alive"]) source.addEventListener(name, alive);
  source.onopen = () => {
    [lost, waits] = [false, SOONEST];
    alive();
    tell();
  };
  source.addEventListener("scenario", ({ data, lastEventId }) => {
    [number, query] = [lastEventId, data.slice(1)];
    tell();
    show();
  });
  source.addEventListener("ended", () => {
    ended = true;
    clearTimeout(silence);
    source.close();
    tell();
    show();
  });
  // A browser's own way would ask all at the same time, and give up where a server answers that it is not ready.
  source.onerror = () => {
    clearTimeout(silence);
    source.close();
    if (ended) return;
    lost = true;
    tell();
    setTimeout(listen, waits * (0.5 + Math.random()));
    waits = Math.min(2 * waits, LATEST);
  };
}

document.addEventListener("htmx:config:request", (event) => {
  if (OWN.includes(event.detail.ctx.sourceElement.id)) leave();
});
for (const name of ["input", "change"]) {
  document.addEventListener(name, (event) => {
    if (event.target.closest("#controls")) leave();
  }, { capture: true });
}
document.addEventListener("htmx:after:request", (event) => {
  const { ctx } = event.detail;
  if (ctx.sourceElement !== picture) return;
  const arrived = asked;
  spread = Math.min(BROAD, Math.max(NARROW, 3 * (performance.now() - since)));
  if (ctx.response.status === 200 && !own) {
    [asked, shown] = [null, arrived];
    show();
    return;
  }
  event.preventDefault();
  event.stopImmediatePropagation(); // whoever is on their own keeps what is theirs
  if (ctx.response.status >= 500) failed();
  else asked = null;
}, { capture: true });
document.addEventListener("htmx:error", (event) => {
  if (event.detail.ctx?.sourceElement === picture) failed();
});
byId("class-back").addEventListener("click", comeBack);
tell();
if (!ended) listen();
