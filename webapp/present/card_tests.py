"""The tests of a card's data sheet as its page lists them, each with a way to its stage."""

from dataclasses import dataclass

from engine import query_from, sheet_stages

_PANEL = "panel=timing"
"""What opens the panel of edges beside a stage."""


@dataclass(frozen=True, slots=True)
class SheetView:
    """One test.

    Attributes
    ----------
    name : str
        What is tested.
    condition : str
        Under which condition.
    lines : tuple of LineView
        What the card states of it, beside the model.
    query : str
        Query string of the stage; empty where there is none.
    why : str
        Why there is none; empty where there is one.
    """

    name: str
    condition: str
    lines: tuple
    query: str
    why: str


def card_tests(card, lines):
    """Return the tests of a card.

    Parameters
    ----------
    card : Card
        The card.
    lines : iterable of LineView
        Its lines as printed.

    Returns
    -------
    tuple of SheetView
        In the engine's order.
    """
    by_name = {line.name: line for line in lines}
    return tuple(
        SheetView(test.name, test.condition, tuple(by_name[name] for name in test.lines), stage_query(test), test.why)
        for test in sheet_stages(card)
    )


def stage_query(test):
    """Return the query string that opens a test as a stage, empty where it is none."""
    if test.scenario is None:
        return ""
    return f"{query_from(test.scenario)}{f'&{_PANEL}' if test.over_time else ''}"
