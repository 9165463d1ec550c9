// Moved sliders and typed values become requests; kinds of sides reshape the form.
const TYPING_PAUSE = 250; // ms without a key before a typed value is taken

const form = () => document.getElementById("controls");
const field = (key) => form().elements.namedItem(key);

export function drive() {
  form().dispatchEvent(new Event("drive"));
}

// A moved current sizes its resistor again; a moved resistor is taken as it is.
function reset(input) {
  const key = input.dataset.resets;
  if (key) field(key).value = "auto";
}

function slide(slider) {
  const stop = slider.dataset.stops.split("|")[slider.value];
  const input = field(slider.dataset.for);
  input.value = stop;
  slider.setAttribute("aria-valuetext", stop);
  reset(input);
  drive();
}

export function driveControls() {
  let pause;
  const typed = (input) => {
    clearTimeout(pause);
    reset(input);
    drive();
  };
  document.addEventListener("input", (event) => {
    const target = event.target;
    if (!target.closest("#controls")) return;
    if (target.matches(".slider")) slide(target);
    else if (target.matches("input")) {
      clearTimeout(pause);
      pause = setTimeout(typed, TYPING_PAUSE, target);
    }
  });
  document.addEventListener("change", (event) => {
    const target = event.target;
    if (target.dataset.sets) { // a field of the stage that stands elsewhere too
      field(target.dataset.sets).value = target.value;
      typed(field(target.dataset.sets));
      return;
    }
    if (!target.closest("#controls") || target.matches(".slider")) return;
    if (target.matches("[data-reshapes]")) target.dispatchEvent(new Event("reshape", { bubbles: true }));
    else typed(target);
  });
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("#controls, .panel-sets")) return; // others are sent as they are, or minded elsewhere
    event.preventDefault();
    drive();
  });
}
