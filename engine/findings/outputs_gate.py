"""Findings on a gate driver: its peak current, its power, and the power of driver and LED together."""

from engine.findings.finding import Limit, at_most
from engine.findings.fitting import CLEAR, fitted
from engine.outputs import Gate
from engine.quantity import AMPERE, WATT

_SLOWER = 1.5, 2.5, 4.0, 7.0  # [-], how many times larger a gate resistor is tried where the driver grows too hot


def _peak(point):
    """Hold the peak current of charging the gate against the driver's rating."""
    if not isinstance(point.scenario.output, Gate):
        return None
    rating = min(point.scenario.coupling.data.peak)
    limit = Limit("gate-peak", "Peak current of the driver", AMPERE, "supply high, RL low")
    return at_most(limit, point.states["closed"].quantities["I_peak"], rating)


def _power(point):
    """Hold the driver's power, its share of the gate charge's included, against its rating at this temperature."""
    if not isinstance(point.scenario.output, Gate):
        return None
    rating = point.scenario.coupling.data.output_power.at(point.varied["TA"])
    limit = Limit("gate-power", "Power of the driver", WATT, "supply current high, RL low")
    return at_most(limit, point.states["closed"].quantities["P_driver"], rating)


def _total(point):
    """Hold the power of driver and LED together against what both ratings leave at this temperature."""
    if not isinstance(point.scenario.output, Gate):
        return None
    card, TA = point.scenario.coupling.data, point.varied["TA"]
    rating = card.output_power.at(TA) + card.LED_power.at(TA)
    limit = Limit("gate-total", "Power of the whole coupler", WATT, "supply current high, IF high")
    return at_most(limit, point.states["closed"].quantities["P_total"], rating)


def _mends_of_peak(point):
    """Yield a larger gate resistor."""
    load = point.scenario.output
    if isinstance(load, Gate):
        for clear in CLEAR:
            allowed = min(point.scenario.coupling.data.peak) / clear
            R = (load.VCC_ends[1] - load.VEE) / allowed / (1.0 - point.scenario.conditions.tolerance)
            yield fitted(point, "RL", R, "up")


def _mends_of_power(point):
    """Yield larger gate resistors, which take more of the gate charge's power."""
    if isinstance(point.scenario.output, Gate):
        for times in _SLOWER:
            yield fitted(point, "RL", point.sized["RL"].chosen * times, "up")


RULES = {"gate-peak": _peak, "gate-power": _power, "gate-total": _total}
"""Code of a finding to the function that makes it, in the order of importance."""

REMEDIES = {"gate-peak": _mends_of_peak, "gate-power": _mends_of_power, "gate-total": _mends_of_power}
"""Code of a finding to what yields its possible remedies, the best first."""
