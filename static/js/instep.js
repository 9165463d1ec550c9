// Windows of one browser that lead the same class show the same: when one is moved, the others follow.
const OWN = ["controls", "reshape", "mending"]; // what asks for a picture because something was changed in this window

const byId = (id) => document.getElementById(id);
const here = () => byId("followers").dataset.query;
const picture = byId("led");
let wanted = null; // what another window shows, as long as this one follows it
let asking = false;

function follow() {
  if (wanted === null || asking || here() === wanted) return;
  asking = true;
  picture.setAttribute("hx-get", `${picture.dataset.explorer}?${wanted || byId("content").dataset.usual}`);
  picture.dispatchEvent(new Event("show"));
}

// The windows are told what the returned function is given, unless they were moved themselves since.
export function keepInStep(taken, moved) {
  const channel = new BroadcastChannel(`lightgap.lead.${byId("class").dataset.code}`);
  channel.addEventListener("message", ({ data }) => {
    if (data.query === undefined) return;
    wanted = data.query;
    taken(wanted);
    follow();
  });
  document.addEventListener("htmx:config:request", (event) => {
    if (!OWN.includes(event.detail.ctx.sourceElement.id)) return;
    [wanted, asking] = [null, false];
    moved();
  });
  for (const end of ["htmx:after:request", "htmx:error"]) {
    document.addEventListener(end, (event) => {
      if (event.detail.ctx?.sourceElement !== picture) return;
      asking = false;
      if (event.detail.ctx.response?.status === 200) setTimeout(follow, 50); // once the answer is shown
    });
  }
  return (query) => channel.postMessage({ query });
}
