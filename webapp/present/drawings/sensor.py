"""A sensor on the input side: three wires, sinking or sourcing the LED's current, or two in series with the LED."""

from webapp.present.drawings.contact import return_rail
from webapp.present.drawings.ladder import Ladder, branch
from webapp.present.drawings.logic_output import sinking, sourcing


def sinking_sensor(side):
    """Return the layout of a sensor between LED and return."""
    return sinking(side, "sensor")


def sourcing_sensor(side):
    """Return the layout of a sensor between supply and LED."""
    return sourcing(side, "sensor")


def two_wire_sensor(side):
    """Return the layout of a sensor in series with the LED."""
    ladder = Ladder(side)
    ladder.supply()
    ladder.flag_top("VS", 100)
    if side.low:
        return_rail(ladder, [("B1", "Q")])
        return branch(ladder)
    ladder.along_top("B1", "Q")
    if "RB" in side.shunts and side.bypass_at == "switch":
        ladder.across_switch(164, upper=True)
    return branch(ladder)
