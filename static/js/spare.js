// Sections out of view are not asked for while the hand moves, and made good once it rests or they come into view.
import { drive } from "./controls.js";

const LATER = ["cycle", "worked", "tables"];
const HEADER = "Lightgap-Unseen";

export const whole = (ctx) => !ctx.request.headers[HEADER];

export function spareUnseen(moving) {
  const unseen = new Set();
  const watched = new Map();
  let behind = false; // whether a section shows older values than the rest
  const catchUp = () => {
    const late = behind; // as asking is noted at once
    if (late) drive();
    return late;
  };
  const watch = new IntersectionObserver((entries) => {
    for (const { target, isIntersecting } of entries) {
      if (isIntersecting) unseen.delete(target.id);
      else if (target.isConnected) unseen.add(target.id);
    }
    if (unseen.size < watched.size) catchUp();
  });
  // A stage may have a section that the one before had not.
  const look = () => {
    for (const id of LATER) {
      const section = document.getElementById(id);
      if (section === (watched.get(id) ?? null)) continue;
      unseen.delete(id);
      if (section) watched.set(id, section);
      else watched.delete(id);
      if (section) watch.observe(section);
    }
  };
  look();
  document.addEventListener("htmx:config:request", (event) => {
    look();
    const { request } = event.detail.ctx;
    const left = moving() ? [...unseen] : [];
    if (left.length) request.headers[HEADER] = left.join(" ");
    behind = left.length > 0;
  });
  return catchUp;
}
