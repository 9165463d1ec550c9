"""Driver on the input side that is known by its table of voltage and current."""

from webapp.present.drawings.ladder import Ladder, branch


def measured(side):
    """Return the layout of a driver that feeds R1."""
    ladder = Ladder(side)
    ladder.supply(kind="driver")
    ladder.flag_top("VS", 100)
    return branch(ladder)
