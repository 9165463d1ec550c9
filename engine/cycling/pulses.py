"""How wide the pulse around the zero crossing is, over R1, over the pull-up, and over the coupler's transfer ratio."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.constants import ZERO_CELSIUS
from engine.cycle import over_the_cycle
from engine.cycle.waveform import share_above
from engine.cycling.period import NOMINAL, drive_values, output_values, settles_slowly
from engine.cycling.response import OBSERVED, response_of
from engine.preferred import ladder
from engine.sizing import LEAST, MOST, size

_SPREAD = 6.0  # [-], how far a table goes below and above the value in force
_SERIES = {"R1": "E6", "RL": "E3"}
_COUPLERS = -1, 0, 1


@dataclass(frozen=True, slots=True)
class PulseTable:
    """Width of the longest pulse in which the output is not read as lit, over one resistor.

    Attributes
    ----------
    over : str
        "R1" or "RL".
    ohms : tuple of float
        Values of the resistor, rising [ohm].
    widths : tuple of (float, float, float)
        For each of them the width with the weakest, the nominal and the strongest coupler; half a period and more
        where it is never read as lit [s].
    """

    over: str
    ohms: tuple
    widths: tuple


@lru_cache(maxsize=32)
def pulse_tables(scenario):
    """Return the widths over R1 and over RL, everything else as it is.

    Parameters
    ----------
    scenario : Scenario
        A stage whose input side is on alternating voltage.

    Returns
    -------
    tuple of PulseTable
        None where the output is not followed over the cycle, or a capacitor settles it.

    Raises
    ------
    ScenarioError
        If an "auto" part cannot be sized.
    """
    if scenario.output.observed not in OBSERVED or settles_slowly(scenario):
        return ()
    sized = size(scenario)
    R1, RL = (_values(sized[name].chosen, _SERIES[name]) for name in ("R1", "RL"))
    waves = _waves(scenario, sized, np.array([*R1, sized["R1"].chosen]))
    ends = [(coupler, 0, 0, 0, 0) for coupler in _COUPLERS]
    nominal = response_of(scenario, output_values(scenario, sized, ends), float(waves.max())).thresholds()
    over_R1 = [tuple(_width(scenario, wave, IF) for IF in nominal) for wave in waves[:-1]]
    values = output_values(scenario, sized, [end for _ in RL for end in ends]) | {"RL": np.repeat(RL, len(ends))}
    loaded = response_of(scenario, values, float(waves[-1].max())).thresholds().reshape(len(RL), -1)
    over_RL = [tuple(_width(scenario, waves[-1], IF) for IF in row) for row in loaded]
    return PulseTable("R1", R1, tuple(over_R1)), PulseTable("RL", RL, tuple(over_RL))


def _values(chosen, series):
    """Return the resistors of a table around the one in force."""
    low, high = max(chosen / _SPREAD, LEAST), min(chosen * _SPREAD, MOST)
    return tuple(sorted({*ladder(low, high, series), chosen}))


def _waves(scenario, sized, R1):
    """Return the LED current over the period for every R1, shape (members, time)."""
    values = {name: np.full(len(R1), array[NOMINAL]) for name, array in drive_values(scenario, sized).items()}
    T = scenario.conditions.TA + ZERO_CELSIUS
    return over_the_cycle(scenario.input.loop_of(scenario.coupling.model.led, T, values | {"R1": R1})).IF


def _width(scenario, wave, threshold):
    """Return how long the output is unlit in each half cycle, in the whole cycle where only one half lights it."""
    halves = 1.0 if scenario.input.form == "diode" else 2.0
    if threshold < 0.0:
        return 0.0
    lit = float(share_above(wave, threshold)) if np.isfinite(threshold) else 0.0
    return (1.0 - lit) / halves / scenario.input.f
