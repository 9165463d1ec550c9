// Puts the leads on what is pressed in the drawing: the red one first, then the black one, in turn.
const schematic = document.getElementById("schematic");
let turn = 0;

function place(flag) {
  const lead = document.getElementById(turn === 0 ? "lead-red" : "lead-black");
  const point = flag.id.replace("flag-", "");
  if (!lead || ![...lead.options].some((option) => option.value === point)) return;
  lead.value = point;
  turn = 1 - turn;
  mark();
}

function mark() {
  const leads = ["red", "black"].map((name) => document.getElementById(`lead-${name}`)?.value);
  if (!leads[0] || !leads[1]) return;
  for (const flag of schematic.querySelectorAll(".flag")) {
    const point = flag.id.replace("flag-", "");
    flag.classList.toggle("on-red", point === leads[0]);
    flag.classList.toggle("on-black", point === leads[1]);
  }
  // Flipping the switch leaves the leads where they are.
  for (const link of document.querySelectorAll("#toggle, .hunt-states a")) {
    const address = new URL(link.getAttribute("href"), location.href);
    address.searchParams.set("red", leads[0]);
    address.searchParams.set("black", leads[1]);
    link.setAttribute("href", address.pathname + address.search);
  }
}

schematic.addEventListener("click", (event) => {
  const flag = event.target.closest(".flag");
  if (flag) place(flag);
});
document.addEventListener("change", (event) => {
  if (event.target.closest("#leads")) mark();
});
document.documentElement.classList.add("script");
mark();
