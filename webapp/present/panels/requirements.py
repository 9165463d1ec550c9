"""What findings and wishes are called where they are named in a row of others."""

from collections.abc import Iterable

from engine import RULES

WISHED = {
    "overdrive": "Overdrive asked for",
    "least-current": "Least LED current asked for",
    "most-current": "Most LED current asked for",
    "edge-time": "Time of an edge asked for",
}
"""Name of a wish for two resistors to what it is called."""


def title_of(code: str) -> str:
    """Return what a finding or a wish is called."""
    return RULES[code].title if code in RULES else WISHED.get(code, code)


def named(codes: Iterable[str]) -> str:
    """Return findings and wishes in a row, in small letters but for symbols."""
    titles = (title_of(code) for code in codes)
    return "; ".join(title if title[:2].isupper() else title[0].lower() + title[1:] for title in titles)
