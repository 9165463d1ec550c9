"""Findings on a gate driver: its peak current, its power, and the power of driver and LED together."""

from engine.findings.finding import Limit, Rule, at_most, listed
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


RULES = listed(
    Rule(
        code="gate-peak",
        title="Peak gate current",
        asks="Is the peak current of charging the gate within what the driver can give?",
        why="The driver is overloaded at every edge, or limits the current and switches slower than meant.",
        limit_from="Card, line output.peak_rating, the smaller of both directions.",
        worst_where="Output supply high, RL low.",
        mends="A larger gate resistor.",
        measure=_peak,
        remedies=_mends_of_peak,
    ),
    Rule(
        code="gate-power",
        title="Driver power",
        asks="Can the driver turn its power into heat, its share of the gate charge's included?",
        why="The driver becomes hotter than it may.",
        limit_from="Card, line output.power_rating, which falls with the ambient temperature.",
        worst_where="Supply current high, RL low, hot.",
        mends="A larger gate resistor, which takes more of the gate charge's power.",
        measure=_power,
        remedies=_mends_of_power,
    ),
    Rule(
        code="gate-total",
        title="Coupler power",
        asks="Can the coupler turn the power of driver and LED together into heat?",
        why="Both warm each other in one body, which becomes hotter than it may.",
        limit_from="Card, lines output.power_rating and LED.power_rating together, at the ambient temperature.",
        worst_where="Supply current high, LED current high, hot.",
        mends="A larger gate resistor.",
        measure=_total,
        remedies=_mends_of_power,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
