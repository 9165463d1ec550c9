"""Over the cycle of the line: what an input on alternating voltage does in one period, and what the output makes."""

from engine.cycling.period import Electrical, OverCycle, over_cycle
from engine.cycling.pulses import PulseTable, pulse_tables
from engine.cycling.response import OBSERVED
from engine.cycling.switched import lamp_switched, switched

__all__ = [
    "OBSERVED",
    "Electrical",
    "OverCycle",
    "PulseTable",
    "lamp_switched",
    "over_cycle",
    "pulse_tables",
    "switched",
]
