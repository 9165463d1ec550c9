"""Over the cycle of the line: what an input on alternating voltage does in one period, and what the output makes."""

from engine.cycling.period import Electrical, OverCycle, over_cycle
from engine.cycling.pulses import PulseTable, pulse_tables

__all__ = ["Electrical", "OverCycle", "PulseTable", "over_cycle", "pulse_tables"]
