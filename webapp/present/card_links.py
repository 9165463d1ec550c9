"""Where the explorer leads from its coupler: to the card's page, and to a card of one's own."""

from dataclasses import dataclass

from engine import pack_card


@dataclass(frozen=True, slots=True)
class CardLink:
    """One way from the explorer.

    Attributes
    ----------
    id : str
        Name within the page.
    text : str
        What it says.
    route : str
        Name of the route.
    query : str
        Query string.
    path : dict of str to str
        Parts of the path.
    """

    id: str
    text: str
    route: str
    query: str
    path: dict


def card_links(coupling):
    """Return the ways from the coupler of a scenario."""
    name, query, change = coupling.card, "", "Make one of your own"
    source = f"from={name}"
    if coupling.own and name == "own":
        query = source = f"card={pack_card(coupling.data)}"
        change = "Change this card"
    return (
        CardLink("card-page", "Card of this coupler", "coupler", query, {"card": name}),
        CardLink("card-change", change, "new_card", source, {}),
    )
