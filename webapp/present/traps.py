"""Values that look like a beginner's mistake, as they are printed under the findings."""

from dataclasses import dataclass

from engine import query_from
from webapp.present.figures import plain


@dataclass(frozen=True, slots=True)
class TrapView:
    """A trap as printed.

    Attributes
    ----------
    code : str
        Stable name.
    field : str
        Key of the value in the form.
    text : str
        What it looks like and what is so.
    decides : str
        The figure that decides beside the one it is held against.
    mend : str
        A better value; empty if none is offered.
    query : str
        Link to the scenario with it.
    """

    code: str
    field: str
    text: str
    decides: str
    mend: str
    query: str


def trap_views(traps):
    """Return the engine's traps as they are printed, in their order."""
    return tuple(_view(trap) for trap in traps)


def _view(trap):
    """Return one trap."""
    value, limit, unit = trap.decides
    decides = f"{plain(value, unit)} against {plain(limit, unit)}"
    mend, query = (trap.mend.text, query_from(trap.mend.scenario)) if trap.mend else ("", "")
    return TrapView(trap.code, trap.field, trap.text, decides, mend, query)
