"""Scripts for a page that tell what on it collides, is cut off or is too wide."""

from collections import defaultdict
from pathlib import Path

HERE = Path(__file__).parent

TOOLS = f"""() => {{
  window.collisions = {(HERE / "geometry.js").read_text()};
  window.cut = {(HERE / "cut.js").read_text()};
}}"""
"""Gives the page the functions that look for faults."""


def restyled(css: str) -> str:
    """Return a script that adds rules to the page's style, in place of those that it added before."""
    sheet = "const sheet = new CSSStyleSheet(); document.adoptedStyleSheets = [sheet];"
    return f"() => {{ {sheet} sheet.replaceSync(`{css}`); }}"


def told(faults: dict[str, list[str]]) -> str:
    """Return each fault once, with a page that shows it."""
    found = defaultdict(list)
    for page, texts in faults.items():
        for text in texts:
            found[text].append(page)
    return "\n".join(f"{text} ({len(pages)} times, as with {pages[0]})" for text, pages in found.items())
