"""Output sides: what the detector works on. One module per kind, every kind a frozen record of its parameters.

A kind wires itself around the detector's collector and emitter; it knows nothing of the input side.
"""

from engine.outputs.ac_load import AcLoad, AcTriac
from engine.outputs.controller import ControllerInput
from engine.outputs.dc_load import DcLoad
from engine.outputs.gate import Gate
from engine.outputs.indicator import Indicator
from engine.outputs.load import Seen
from engine.outputs.pulled import PullDown, PullUp
from engine.outputs.relay import Relay

OUTPUTS = {
    kind.kind: kind for kind in (PullUp, PullDown, Indicator, ControllerInput, Relay, Gate, DcLoad, AcLoad, AcTriac)
}
"""Name in links to output side, the default first."""

__all__ = [
    "OUTPUTS",
    "AcLoad",
    "AcTriac",
    "ControllerInput",
    "DcLoad",
    "Gate",
    "Indicator",
    "PullDown",
    "PullUp",
    "Relay",
    "Seen",
]
