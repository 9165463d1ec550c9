// The bands under the sliders are asked for whenever the hand has rested, and at first as soon as all is listening.
export function askBands() {
  const bands = document.getElementById("bands");
  const first = () => bands.dispatchEvent(new Event("first"));
  if (bands.hasAttribute("data-htmx-powered")) first();
  else document.addEventListener("htmx:after:process", first, { once: true });
}
