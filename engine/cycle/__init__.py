"""Alternating current over one cycle of the line: the loop of an LED in its steady state, and figures of waveforms."""

from engine.cycle.branch import Branch, Diode, series
from engine.cycle.dropper import Inrush, impedance, in_series, inrush, reactance, value_for_current
from engine.cycle.loop import BARE, BRIDGE, DIODE, FORMS, HALF_WAVE, INSTANTS, PAIR, AcLoop, Cycle, over_the_cycle
from engine.cycle.march import after_switching, march
from engine.cycle.steady import periodic

__all__ = [
    "BARE",
    "BRIDGE",
    "DIODE",
    "FORMS",
    "HALF_WAVE",
    "INSTANTS",
    "PAIR",
    "AcLoop",
    "Branch",
    "Cycle",
    "Diode",
    "Inrush",
    "after_switching",
    "impedance",
    "in_series",
    "inrush",
    "march",
    "over_the_cycle",
    "periodic",
    "reactance",
    "series",
    "value_for_current",
]
