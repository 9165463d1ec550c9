"""Circuits: nodes and elements, and the batched direct-current solver.

Knows voltages, currents and device equations; not stages, cards or text.
"""

from engine.circuit.dc import Solution, solve
from engine.circuit.elements import Detector, Junction, LightPath, Mosfet, Resistor
from engine.circuit.netlist import Netlist, NetlistBuilder

__all__ = ["Detector", "Junction", "LightPath", "Mosfet", "Netlist", "NetlistBuilder", "Resistor", "Solution", "solve"]
