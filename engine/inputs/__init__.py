"""Input sides: what drives the LED. One module per kind, every kind a frozen record of its parameters.

A kind wires itself around the LED's anode and cathode; it knows nothing of the output side.
"""

from engine.inputs.contact import ContactHigh, ContactLow
from engine.inputs.limited import CurrentLimited
from engine.inputs.logic_output import LogicOutput
from engine.inputs.mains import AcLine
from engine.inputs.measured import MeasuredDriver
from engine.inputs.sensor import SinkingSensor, SourcingSensor, TwoWireSensor
from engine.inputs.transistor import TransistorDrive

INPUTS = {
    kind.kind: kind
    for kind in (
        ContactLow,
        ContactHigh,
        SinkingSensor,
        SourcingSensor,
        TwoWireSensor,
        LogicOutput,
        TransistorDrive,
        CurrentLimited,
        MeasuredDriver,
        AcLine,
    )
}
"""Name in links to input side, the default first."""

__all__ = [
    "INPUTS",
    "AcLine",
    "ContactHigh",
    "ContactLow",
    "CurrentLimited",
    "LogicOutput",
    "MeasuredDriver",
    "SinkingSensor",
    "SourcingSensor",
    "TransistorDrive",
    "TwoWireSensor",
]
