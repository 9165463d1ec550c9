"""What only some output sides have, as a table: coil and clamp, driver and its power, the load on its line."""

from dataclasses import dataclass

from engine import STATES
from webapp.present.figures import Figure, figure

NAMES = {
    "VIN": "voltage of the input",
    "IIN": "current of the input",
    "VK": "voltage of the coil",
    "IK": "current of the coil",
    "V_peak": "peak at the transistor, switching off",
    "t_release": "time until it releases",
    "VG": "voltage of the gate",
    "I_peak": "peak current of the driver",
    "P_bias": "driver, from its supply current",
    "P_switch": "driver, its share of the gate charge",
    "P_driver": "driver",
    "P_LED": "LED, over the duty",
    "P_total": "whole coupler",
    "VLOAD": "voltage of the load, rms",
    "ILOAD": "current of the load, rms",
    "I_crest": "current of the load at the crest",
    "V_trigger": "line voltage where it begins",
    "angle": "angle where it begins",
    "I_surge": "surge through the coupler",
    "P_snubber": "snubber",
    "I_delivered": "current that the receiver gets",
}
"""Symbol to what it is."""


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure of the output side.

    Attributes
    ----------
    name : str
        What it is.
    symbol : str
        Its symbol.
    figures : tuple of Figure or None
        In both states; None where a state has none.
    """

    name: str
    symbol: str
    figures: tuple[Figure | None, ...]


def load_figures(point):
    """Return the figures that only this output side has, in both states."""
    found = [point.states[name].quantities for name in STATES]
    return tuple(
        FigureRow(NAMES[name], name.replace("_", " "), tuple(figure(q[name]) if name in q else None for q in found))
        for name in point.scenario.output.units
        if any(name in quantities for quantities in found)
    )
