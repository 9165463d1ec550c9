// The explorer on the page of something that is kept: links to stages stay on it, and what is saved is what is shown.
const content = document.getElementById("content");

document.addEventListener("click", (event) => {
  const link = event.target.closest("#content a[href^='/stage']");
  if (!link || link.pathname !== "/stage" || link.hasAttribute("data-leaves")) return;
  link.href = `${location.pathname}?${link.search.slice(1) || content.dataset.usual}`;
}, { capture: true });

document.addEventListener("submit", (event) => {
  const scenario = event.target.querySelector("[data-follows]");
  if (scenario) scenario.value = document.getElementById("followers").dataset.query;
});
