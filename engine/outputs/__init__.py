"""Output sides: what the detector works on. One module per kind, every kind a frozen record of its parameters.

A kind wires itself around the detector's collector and emitter; it knows nothing of the input side.
"""

from engine.outputs.controller import ControllerInput
from engine.outputs.indicator import Indicator
from engine.outputs.load import Seen
from engine.outputs.pulled import PullDown, PullUp

OUTPUTS = {kind.kind: kind for kind in (PullUp, PullDown, Indicator, ControllerInput)}
"""Name in links to output side, the default first."""

__all__ = ["OUTPUTS", "ControllerInput", "Indicator", "PullDown", "PullUp", "Seen"]
