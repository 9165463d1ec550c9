"""Logic families on the receiving side: what an input reads as low and as high, and what it leaks.

Limits are those that the interface standards or common data sheets guarantee.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class LogicFamily:
    """Input limits of a family.

    Attributes
    ----------
    title : str
        Name for people.
    VIL : float
        Largest voltage that surely reads low, fixed part [V].
    VIH : float
        Smallest voltage that surely reads high, fixed part [V].
    VIL_ratio : float
        The part of VIL that goes with the logic supply [-].
    VIH_ratio : float
        The part of VIH that goes with the logic supply [-].
    leakage : float
        Largest current into or out of an input within its supply [A].
    supply : tuple of (float, float)
        Logic supply for which the limits hold [V].
    """

    title: str
    VIL: float
    VIH: float
    VIL_ratio: float
    VIH_ratio: float
    leakage: float
    supply: tuple

    def limits(self, VCC):
        """Return VIL and VIH.

        Parameters
        ----------
        VCC : float or ndarray
            Logic supply [V].

        Returns
        -------
        VIL : float or ndarray
            Largest voltage that surely reads low [V].
        VIH : float or ndarray
            Smallest voltage that surely reads high [V].
        """
        return self.VIL + self.VIL_ratio * VCC, self.VIH + self.VIH_ratio * VCC


FAMILIES = {
    "lvcmos33": LogicFamily("3.3 V CMOS", 0.8, 2.0, 0.0, 0.0, 5e-6, (2.7, 3.6)),  # JESD8-C
    "lvcmos25": LogicFamily("2.5 V CMOS", 0.7, 1.7, 0.0, 0.0, 5e-6, (2.3, 2.7)),  # JESD8-5A
    "lvcmos18": LogicFamily("1.8 V CMOS", 0.0, 0.0, 0.35, 0.65, 5e-6, (1.65, 1.95)),  # JESD8-7A
    "cmos": LogicFamily("CMOS, 30/70 %", 0.0, 0.0, 0.3, 0.7, 1e-6, (3.0, 18.0)),  # common practice
    "ttl": LogicFamily("TTL levels", 0.8, 2.0, 0.0, 0.0, 40e-6, (4.75, 5.25)),  # common practice
}
"""Family name to limits, the default first."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is read off an output.

    Attributes
    ----------
    level : str
        "low", "high" or "undefined" at a receiver; "dark", "lit" or "dim" at an indicator.
    sure : bool
        Whether every corner reads the same definite level.
    low_limit : float
        Largest value that surely reads low or dark, at the nominal supply [V or A].
    high_limit : float
        Smallest value that surely reads high or lit, at the nominal supply [V or A].
    nearest_above : tuple of (float, float)
        Value and low limit at the corner whose value lies highest against it [V or A].
    nearest_below : tuple of (float, float)
        Value and high limit at the corner whose value lies lowest against it [V or A].
    """

    level: str
    sure: bool
    low_limit: float
    high_limit: float
    nearest_above: tuple
    nearest_below: tuple


def judge(values, low_limit, high_limit, words=("low", "undefined", "high")):
    """Return the verdict on a nominal value and its corners.

    Parameters
    ----------
    values : ndarray, shape (corners,)
        The nominal value first, then the corners [V or A].
    low_limit : ndarray, shape (corners,)
        Largest value that surely reads low, at each corner [V or A].
    high_limit : ndarray, shape (corners,)
        Smallest value that surely reads high, at each corner [V or A].
    words : tuple of str
        What low, in between and high are called.

    Returns
    -------
    Verdict
        The level at the nominal value and whether every corner agrees.
    """
    zone = np.where(values <= low_limit, 0, np.where(values >= high_limit, 2, 1))
    level = int(zone[0])
    above, below = int(np.argmax(values - low_limit)), int(np.argmin(values - high_limit))
    return Verdict(
        words[level],
        bool(level != 1 and (zone == level).all()),
        float(low_limit[0]),
        float(high_limit[0]),
        (float(values[above]), float(low_limit[above])),
        (float(values[below]), float(high_limit[below])),
    )
