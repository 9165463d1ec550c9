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
from engine.circuit.stores import Capacitor, Coil, JunctionCharge
from engine.circuit.transient import Course, transient

__all__ = [
    "Capacitor",
    "Coil",
    "Course",
    "Detector",
    "Junction",
    "JunctionCharge",
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
    "transient",
]
