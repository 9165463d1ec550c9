"""What pages print of a class."""

from dataclasses import dataclass

from webapp.classes.codes import in_address, read_out
from webapp.classes.room import Shown


@dataclass(frozen=True, slots=True)
class ClassView:
    """A class as its pages print it.

    Attributes
    ----------
    code : str
        As it stands in addresses.
    spoken : str
        As it is shown to be read out.
    number : int
        Which scenario it is shown.
    query : str
        Query string of that scenario.
    state : str
        "following", "own" or "ended".
    """

    code: str
    spoken: str
    number: int
    query: str
    state: str


def class_view(shown: Shown, own: bool = False) -> ClassView:
    """Return the record of a class, for somebody who follows it or is on their own."""
    state = "ended" if shown.ended else "own" if own else "following"
    return ClassView(in_address(shown.code), read_out(shown.code), shown.number, shown.scenario, state)
