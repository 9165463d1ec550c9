// Who comes for the first time is shown the way to the tour in a few words more; afterwards they are away.
const MARK = "lightgap-been-here";

function beenHere() {
  try {
    const been = localStorage.getItem(MARK) !== null;
    localStorage.setItem(MARK, "1");
    return been;
  } catch {
    return false; // nothing may be kept here
  }
}

if (beenHere()) for (const words of document.querySelectorAll("[data-newcomer]")) words.remove();
