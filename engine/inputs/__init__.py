"""Input sides: what drives the LED. One module per way of driving, every kind a frozen record of its parameters.

A kind wires itself between the supply and the LED's nodes "A" and "K"; it knows nothing of the output side.
"""

from engine.inputs.contact import ContactHigh, ContactLow
from engine.inputs.logic_output import LogicOutput

INPUTS = {kind.kind: kind for kind in (ContactLow, ContactHigh, LogicOutput)}
"""Name in links to input side, the default first."""

__all__ = ["INPUTS", "ContactHigh", "ContactLow", "LogicOutput"]
