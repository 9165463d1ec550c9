"""Input sides: what drives the LED. One module per way of driving, every kind a frozen record of its parameters.

A kind wires itself between the supply and the LED's nodes; it knows nothing of the output side.
"""

from engine.inputs.contact import ContactHigh, ContactLow
from engine.inputs.logic_output import LogicOutput
from engine.inputs.sensor import SinkingSensor, SourcingSensor

INPUTS = {kind.kind: kind for kind in (ContactLow, ContactHigh, SinkingSensor, SourcingSensor, LogicOutput)}
"""Name in links to input side, the default first."""

__all__ = ["INPUTS", "ContactHigh", "ContactLow", "LogicOutput", "SinkingSensor", "SourcingSensor"]
