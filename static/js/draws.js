// Panels that draw at random: a long run with its progress, and the next draw.
let source = null;

function stop() {
  source?.close();
  source = null;
}

function run(button) {
  stop();
  const bar = button.parentElement.querySelector("progress");
  const told = button.parentElement.querySelector(".spread-told");
  const shown = performance.now();
  button.disabled = true;
  source = new EventSource(button.dataset.run);
  const end = (text) => {
    stop();
    button.disabled = false;
    bar.hidden = true;
    told.textContent = text;
  };
  source.addEventListener("progress", ({ data }) => {
    if (!button.isConnected) return stop();
    const [done, all] = data.split(" ").map(Number);
    bar.max = all;
    bar.value = done;
    bar.hidden = performance.now() - shown < 500; // what is soon over needs no progress
    if (!bar.hidden) told.textContent = `${done.toLocaleString("en")} of ${all.toLocaleString("en")}`;
  });
  source.addEventListener("result", ({ data }) => {
    const result = document.getElementById("spread-result");
    if (result && button.isConnected) result.outerHTML = data;
    end("");
  });
  source.addEventListener("refused", ({ data }) => end(data));
  source.onerror = () => end("No answer from the server.");
}

export function drawAtRandom() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-run]");
    if (button) run(button);
    const again = event.target.closest("[data-again]");
    if (!again || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const field = document.getElementById(again.dataset.again);
    field.value = again.dataset.next;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  });
  // Another stage or another question: what is still being drawn is of no use.
  document.addEventListener("ask", stop, true);
  document.getElementById("content").addEventListener("rested", stop);
  const begin = () => {
    const wanted = document.querySelector("[data-run][data-at-once]");
    if (!wanted || source || wanted.dataset.begun === wanted.dataset.run) return;
    wanted.dataset.begun = wanted.dataset.run;
    run(wanted);
  };
  document.addEventListener("htmx:after:swap", begin);
  begin();
}
