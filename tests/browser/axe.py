"""axe-core in a page: what it finds that keeps somebody out."""

from playwright.sync_api import Page

from tests.tree import ROOT

SOURCE = (ROOT / "node_modules/axe-core/axe.min.js").read_text()

# A box that scrolls is reached with the keyboard where the browser lets it have the focus; axe does not try.
RUN = """async ({ within, rules }) => {
  const options = { iframes: false, resultTypes: ["violations"] };
  if (rules.length) options.runOnly = { type: "rule", values: rules };
  const { violations } = await axe.run({ include: [within || "html"] }, options);
  const reached = (selector) => {
    const box = document.querySelector(selector);
    box.focus();
    return document.activeElement === box;
  };
  return violations.flatMap(({ id, nodes }) => nodes
    .filter(({ target }) => id !== "scrollable-region-focusable" || !reached(target[0]))
    .map(({ html, failureSummary }) => `${id}: ${html.slice(0, 120)}: ${failureSummary.replaceAll(/\\s+/g, " ")}`));
}"""

CONTRAST = ("color-contrast",)


def violations(page: Page, within: str = "", rules: tuple[str, ...] = ()) -> list[str]:
    """Return what axe objects to on a page or in one part of it, by all of its rules or by some."""
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(SOURCE)
    return page.evaluate(RUN, {"within": within, "rules": list(rules)})
