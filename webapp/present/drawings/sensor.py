"""Three-wire sensor on the input side, sinking or sourcing the LED's current."""

from webapp.present.drawings.logic_output import sinking, sourcing


def sinking_sensor(side):
    """Return the layout of a sensor between LED and return."""
    return sinking("sensor", "B1", "Q")


def sourcing_sensor(side):
    """Return the layout of a sensor between supply and LED."""
    return sourcing("sensor", "B1", "Q")
