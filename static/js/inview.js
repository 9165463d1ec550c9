// Keeps the picture in view over the controls where the window is narrow (phone.css): the page is told its height, and
// whether both sides stand in a strip, of which that side is shown that the slider in use acts on.
const NARROW = matchMedia("(max-width: 880px)");
const MOST = 0.66; // share of the window that both sides may take under each other
const LEAST_SCALE = 0.83; // of a drawing that can still be read, as in schematic.css
const LARGEST_SCALE = 0.9; // of a drawing that leaves room, as in phone.css

const ROOM = 90; // CSS pixels that are needed for what both states read

const root = document.documentElement;
const told = new CSSStyleSheet(); // what is measured, without a style attribute
const picture = () => document.getElementById("schematic");

function stackedHeight() {
  return [...picture().querySelectorAll(".side > svg")].reduce((sum, { viewBox }) => {
    const { width, height } = viewBox.baseVal;
    return sum + height * Math.max(LEAST_SCALE, Math.min(LARGEST_SCALE, innerWidth / width));
  }, 0);
}

function measure() {
  root.classList.toggle("strip", NARROW.matches && stackedHeight() > MOST * innerHeight);
  told.replaceSync(`:root { --picture: ${picture().offsetHeight}px }`);
  root.classList.add("pictured");
}

// A finger does not give a slider the focus everywhere; what is read then stands where it does not hide the slider.
function use(event) {
  if (!event.target.matches(".slider")) return;
  root.classList.toggle("low", event.target.getBoundingClientRect().bottom > innerHeight - ROOM);
  if (event.type === "pointerdown") event.target.focus({ preventScroll: true, focusVisible: false });
  else showSideOf(event);
}

function showSideOf(event) {
  const group = event.target.closest(".group:is(.input, .coupler, .output)");
  if (!group || picture().scrollWidth <= picture().clientWidth) return;
  const side = picture().querySelector(group.matches(".input") ? ".side.input" : ".side.output");
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  picture().scrollTo({ left: side.offsetLeft, behavior: calm ? "instant" : "smooth" });
}

export function keepInView() {
  if (!picture()) return;
  document.adoptedStyleSheets = [...document.adoptedStyleSheets, told];
  new ResizeObserver(measure).observe(picture());
  addEventListener("resize", measure);
  for (const what of ["pointerdown", "focusin"]) document.addEventListener(what, use);
}
