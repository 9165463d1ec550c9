// Sections out of view are not asked for while the hand moves, and made good once it rests or they come into view.
import { drive } from "./controls.js";

const LATER = ["worked", "tables"];
const HEADER = "Lightgap-Unseen";

export const whole = (ctx) => !ctx.request.headers[HEADER];

export function spareUnseen(moving) {
  const unseen = new Set();
  let behind = false; // whether a section shows older values than the rest
  const catchUp = () => {
    if (behind) drive();
    return behind;
  };
  const watch = new IntersectionObserver((entries) => {
    for (const { target, isIntersecting } of entries) {
      if (isIntersecting) unseen.delete(target.id);
      else unseen.add(target.id);
    }
    if (unseen.size < LATER.length) catchUp();
  });
  for (const id of LATER) watch.observe(document.getElementById(id));
  document.addEventListener("htmx:config:request", (event) => {
    const { request } = event.detail.ctx;
    const left = moving() ? [...unseen] : [];
    if (left.length) request.headers[HEADER] = left.join(" ");
    behind = left.length > 0;
  });
  return catchUp;
}
