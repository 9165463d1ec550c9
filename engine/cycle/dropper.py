"""Droppers of line voltage: reactance, inrush, and how many resistors in series share a voltage and a power.

Each of these is a closed form; what the current is over the cycle is solved in `engine.cycle.loop`.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.cycle.branch import series

_NO_CURRENT = 1e-30  # [A], what is as good as none and still has a logarithm
_NEAR_ENOUGH = 1e-9  # [-], relative distance from the wanted current
_ASIDE = 0.1  # [-], logarithm by which the second trial differs from the first
_STRIDE = 3.0  # [-], logarithm by which a trial may differ from the one before
_MOST_TRIALS = 60


def reactance(C, f):
    """Return the reactance of a capacitor.

    Parameters
    ----------
    C : float or ndarray
        Capacitance [F].
    f : float or ndarray
        Frequency [Hz].

    Returns
    -------
    float or ndarray
        XC = 1 / (2 pi f C) [ohm].

    References
    ----------
    Common practice.

    Examples
    --------
    >>> round(reactance(0.47e-6, 50.0))
    6773
    """
    return 1.0 / (2.0 * np.pi * f * C)


def impedance(R, C, f):
    """Return the magnitude of the impedance of a resistor and a capacitor in series.

    Parameters
    ----------
    R : float or ndarray
        Resistance [ohm].
    C : float or ndarray
        Capacitance [F].
    f : float or ndarray
        Frequency [Hz].

    Returns
    -------
    float or ndarray
        Magnitude [ohm].

    References
    ----------
    Common practice.

    Examples
    --------
    >>> round(float(impedance(40.0, 88.42e-6, 60.0)), 2)
    50.0
    """
    return np.hypot(R, reactance(C, f))


def in_series(peak, voltage_rating, power, power_rating):
    """Return how many equal resistors in series carry a voltage and a power between them.

    Parameters
    ----------
    peak : float
        Peak voltage across all of them [V].
    voltage_rating : float
        What one may have across it, above zero [V].
    power : float
        Power of all of them, from the rms current [W].
    power_rating : float
        What one may turn into heat, above zero [W].

    Returns
    -------
    int
        The fewest that do, at least one [-].

    References
    ----------
    Common practice.

    Examples
    --------
    >>> in_series(373.0, 250.0, 0.4, 0.25)
    2
    """
    return max(1, math.ceil(peak / voltage_rating), math.ceil(power / power_rating))


@dataclass(frozen=True, slots=True)
class Inrush:
    """What flows when a loop with a capacitor is switched on at the worst instant.

    Attributes
    ----------
    current : ndarray, shape (batch,)
        Peak current of R1 [A].
    IF : ndarray, shape (batch,)
        Peak current of the LED [A].
    duration : ndarray, shape (batch,)
        Time in which the current of R1 falls to 1/e [s].
    energy : ndarray, shape (batch,)
        Energy that R1 turns into heat, at most [J].
    """

    current: np.ndarray
    IF: np.ndarray
    duration: np.ndarray
    energy: np.ndarray


def inrush(loop, residual=0.0):
    """Return the inrush of a loop that is switched on at the crest of the line.

    Parameters
    ----------
    loop : AcLoop
        The loops, with a series capacitor, a smoothing capacitor or both.
    residual : float or ndarray, shape (batch,)
        Voltage that the series capacitor was left with, against the crest: the worst there is [V].

    Returns
    -------
    Inrush
        Currents, time and energy.

    Notes
    -----
    In the first instant an empty capacitor is a short circuit: I = (Vcrest + Vresidual - VF(I)) / R1. The crest is
    taken to last: right where R1 times the capacitance is far below the period, too much otherwise. The charge goes
    to both capacitors alike, so behind the bridge CS rises to its share of the voltage, and the LED's current
    through RF stays below the one that this share would drive.

    References
    ----------
    Derived here.
    """
    volts = (loop.crest + residual)[:, None]
    current = np.maximum(loop.forward().current(volts)[0][:, 0], 0.0)
    filled = [C for C in (loop.CD, loop.CS) if C is not None]
    C = 1.0 / sum(1.0 / one for one in filled)
    if loop.CS is None:
        IF = current
    else:
        beyond = np.maximum(volts[:, 0] - series(0.0, loop.rectifier.twice()).voltage(current[:, None])[:, 0], 0.0)
        highest = beyond if loop.CD is None else beyond * loop.CD / (loop.CD + loop.CS)
        IF = np.maximum(loop.behind().current(highest[:, None])[0][:, 0], 0.0)
    duration = loop.R1 * C
    return Inrush(current, np.minimum(IF, current), duration, current**2 * loop.R1 * duration / 2.0)


def value_for_current(current_of, wanted, start, bounds):
    """Return the resistance or capacitance at which a loop's current is the wanted one.

    Parameters
    ----------
    current_of : callable
        From a value [ohm or F] to the current [A], falling or rising throughout.
    wanted : float
        Current, above zero [A].
    start : float
        A first guess within the bounds [ohm or F].
    bounds : tuple of float
        Least and largest value to try [ohm or F].

    Returns
    -------
    float
        The value, or the bound beyond which it lies [ohm or F].

    References
    ----------
    Derived here: the secant method on logarithms, in which both dependences are nearly straight.
    """
    least, most = np.log(bounds)

    def excess(x):
        return math.log(max(current_of(math.exp(x)), _NO_CURRENT) / wanted)

    before = math.log(start)
    here = before + (_ASIDE if before + _ASIDE < most else -_ASIDE)
    off_before, off = excess(before), excess(here)
    for _ in range(_MOST_TRIALS):
        if abs(off) < _NEAR_ENOUGH or off == off_before:
            break
        step = -off * (here - before) / (off - off_before)
        before, off_before = here, off
        here = float(np.clip(here + np.clip(step, -_STRIDE, _STRIDE), least, most))
        if here == before:
            break
        off = excess(here)
    return math.exp(here)
