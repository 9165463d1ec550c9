// A symbol is a link to the page of terms. A press shows what it means at the foot of the window instead, and has it
// read out; Escape closes it. What all of them mean is fetched once, and a press before it is there is not lost.
const byId = (id) => document.getElementById(id);
const SILENT = "What it means is not here: the server does not answer.";

let asked = null;
let wanted = "";

function fetched() {
  asked ??= fetch(byId("terms-said").dataset.terms).then((answer) => {
    if (!answer.ok) throw new Error(answer.statusText);
    return answer.json();
  });
  asked.catch(() => { asked = null; }); // the next press asks again
  return asked;
}

const opened = () => byId("term-note").matches(":popover-open");
const opener = () => [...document.querySelectorAll(`a.term[href="/terms#${wanted}"]`)].find((link) => link.checkVisibility());

function fill([symbol, name, unit, sentence], address) {
  const note = byId("term-note");
  const [word, named, measured, meaning] = note.querySelectorAll("b, span, small");
  word.textContent = symbol;
  named.textContent = name && ` ${name}`;
  measured.textContent = unit && ` in ${unit}`;
  meaning.textContent = sentence;
  note.querySelector("a").href = address;
  note.setAttribute("aria-label", symbol);
  note.querySelector("button").setAttribute("aria-label", `Close ${symbol}`);
}

async function explain(link) {
  const id = link.hash.slice(1);
  if (opened() && wanted === id) {
    close();
    return;
  }
  wanted = id;
  const silent = [link.textContent, "", "", SILENT];
  const told = await fetched().then((terms) => terms[id], () => silent);
  if (wanted !== id) return; // another one was pressed meanwhile
  const note = byId("term-note");
  if (opened()) note.hidePopover();
  fill(told, link.href);
  note.showPopover({ source: link });
}

function close() {
  const note = byId("term-note");
  const inside = note.contains(document.activeElement);
  note.hidePopover();
  if (inside) opener()?.focus();
}

document.addEventListener("toggle", (event) => {
  if (event.target.id !== "term-note") return;
  byId("term-spoken").textContent = event.newState === "open" ? event.target.querySelector("p").innerText : "";
}, true);

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && opened()) close();
  if (event.key !== " " || !event.target.matches("a.term")) return;
  event.preventDefault();
  if (!event.repeat) explain(event.target);
});

document.addEventListener("click", (event) => {
  const link = event.target.closest("a.term");
  if (link && !(event.ctrlKey || event.metaKey || event.shiftKey || event.altKey)) {
    event.preventDefault();
    explain(link);
  }
  if (!event.target.closest("#term-note button")) return; // the cross lies in what it closes: the focus goes back
  event.preventDefault();
  close();
});

addEventListener("load", () => {
  if (document.querySelector("a.term")) fetched();
});
