"""Logic families on the receiving side: what an input reads as low and as high, and what it leaks.

Limits are those that the interface standards or common data sheets guarantee.
"""

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True, slots=True)
class LogicFamily:
    """Input limits of a family.

    Attributes
    ----------
    title : str
        Name for people.
    points : tuple of (float, float, float)
        Logic supply, VIL and VIH, rising in supply; in between they go in straight lines [V].
    sinks : float
        Largest current into an input, down to common [A].
    sources : float
        Largest current out of an input, from its supply [A].
    """

    title: str
    points: tuple
    sinks: float
    sources: float

    @property
    def supply(self):
        """Return the lowest and the highest logic supply for which the limits are stated [V]."""
        return self.points[0][0], self.points[-1][0]

    def limits(self, VCC):
        """Return VIL and VIH; beyond the stated supplies they stay as they are at the nearest one.

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
        supplies, VIL, VIH = zip(*self.points, strict=True)
        return np.interp(VCC, supplies, VIL), np.interp(VCC, supplies, VIH)


def _fixed(VIL, VIH, low, high):
    """Return limits that do not go with the supply."""
    return (low, VIL, VIH), (high, VIL, VIH)


def _shares(VIL, VIH, low, high):
    """Return limits that are shares of the supply."""
    return (low, VIL * low, VIH * low), (high, VIL * high, VIH * high)


FAMILIES = {
    "lvcmos33": LogicFamily("3.3 V CMOS", _fixed(0.8, 2.0, 2.7, 3.6), 5e-6, 5e-6),
    "lvcmos25": LogicFamily("2.5 V CMOS", _fixed(0.7, 1.7, 2.3, 2.7), 5e-6, 5e-6),
    "lvcmos18": LogicFamily("1.8 V CMOS", _shares(0.35, 0.65, 1.65, 1.95), 5e-6, 5e-6),
    "schmitt33": LogicFamily("3.3 V Schmitt", _fixed(0.8, 2.0, 2.7, 3.6), 5e-6, 5e-6),
    "schmitt25": LogicFamily("2.5 V Schmitt", _fixed(0.4, 1.7, 2.3, 2.7), 5e-6, 5e-6),
    "hc": LogicFamily("HC", ((2.0, 0.5, 1.5), (4.5, 1.35, 3.15), (6.0, 1.8, 4.2)), 1e-6, 1e-6),
    "hct": LogicFamily("HCT", _fixed(0.8, 2.0, 4.5, 5.5), 1e-6, 1e-6),
    "ac": LogicFamily("AC", ((3.0, 0.9, 2.1), (4.5, 1.35, 3.15), (5.5, 1.65, 3.85)), 1e-6, 1e-6),
    "cmos": LogicFamily("CMOS, 30/70 %", _shares(0.3, 0.7, 3.0, 18.0), 1e-6, 1e-6),
    "cmos4000": LogicFamily("4000 series", ((5.0, 1.5, 3.5), (10.0, 3.0, 7.0), (15.0, 4.0, 11.0)), 1e-6, 1e-6),
    "cmos4000ub": LogicFamily("4000 unbuffered", ((5.0, 1.0, 4.0), (10.0, 2.0, 8.0), (15.0, 2.5, 12.5)), 1e-6, 1e-6),
    "ttl": LogicFamily("Standard TTL", _fixed(0.8, 2.0, 4.75, 5.25), 40e-6, 1.6e-3),
    "lsttl": LogicFamily("LS TTL", _fixed(0.8, 2.0, 4.75, 5.25), 20e-6, 0.4e-3),
    "mcu": LogicFamily("Controller pin", _shares(0.2, 0.6, 1.8, 5.5), 1e-6, 1e-6),
}
"""Family name to limits, the default first. A Schmitt input reads low below its lowest falling threshold and high above
its highest rising one. `tests/reference/test_logic_levels.py` names the source of each."""


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
    reads : ndarray of int, shape (corners,)
        What every corner reads: 0 low, 1 in between, 2 high.
    farthest : tuple of (int, int)
        The corners of `nearest_above` and `nearest_below`.
    """

    level: str
    sure: bool
    low_limit: float
    high_limit: float
    nearest_above: tuple
    nearest_below: tuple
    reads: object = field(default=None, compare=False, repr=False)
    farthest: tuple = field(default=(0, 0), compare=False, repr=False)


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
        zone,
        (above, below),
    )
