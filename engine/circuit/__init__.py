"""Circuits: nodes and elements, and the batched direct-current solver.

Knows voltages, currents and device equations; not stages, cards or text.
"""

from engine.circuit.dc import Solution, solve
from engine.circuit.elements import (
    Detector,
    Junction,
    LightPath,
    LimitedInput,
    Mosfet,
    Resistor,
    TabledSource,
    ThresholdPath,
)
from engine.circuit.netlist import Netlist, NetlistBuilder
from engine.circuit.storage import Storage

__all__ = [
    "Detector",
    "Junction",
    "LightPath",
    "LimitedInput",
    "Mosfet",
    "Netlist",
    "NetlistBuilder",
    "Resistor",
    "Solution",
    "Storage",
    "TabledSource",
    "ThresholdPath",
    "solve",
]
