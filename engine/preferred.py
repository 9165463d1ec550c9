"""Preferred numbers of IEC 60063: the series E3 to E192 and rounding to them.

Numbers only; what is rounded, and in which direction, is decided by the caller.
"""

import math
from bisect import bisect_left

_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
# The three-digit series follow the rounded geometric progression but for one member: 919 is printed as 920.
_E192 = tuple(920 if k == 185 else round(100 * 10 ** (k / 192)) for k in range(192))

SERIES = {
    "E3": tuple(10 * n for n in _E24[::8]),
    "E6": tuple(10 * n for n in _E24[::4]),
    "E12": tuple(10 * n for n in _E24[::2]),
    "E24": tuple(10 * n for n in _E24),
    "E48": _E192[::4],
    "E96": _E192[::2],
    "E192": _E192,
}
"""Members of one decade of each series, as three-digit integers."""

TOLERANCE = {"E3": 0.4, "E6": 0.2, "E12": 0.1, "E24": 0.05, "E48": 0.02, "E96": 0.01, "E192": 0.005}
"""Tolerance that goes with each series [-]; E3 is above 20 % and here taken as 40 %."""

ROUNDINGS = ("nearest", "up", "down")

_SAME = 1e-9  # relative distance below which a value is taken to be the preferred value itself


def _neighbours(value, series):
    """Return the largest preferred value not above `value` and the smallest not below it."""
    exponent = math.floor(math.log10(value)) - 2
    members = SERIES[series]
    mantissa = value / 10.0**exponent
    ladder = (members[-1] / 10, *members, members[0] * 10)
    above = bisect_left(ladder, mantissa * (1 - _SAME))
    if above == 0:
        return _scaled(ladder[0], exponent), _scaled(ladder[0], exponent)
    if above == len(ladder):
        return _scaled(ladder[-1], exponent), _scaled(ladder[-1], exponent)
    high = ladder[above]
    low = high if abs(high - mantissa) <= _SAME * mantissa else ladder[above - 1]
    return _scaled(low, exponent), _scaled(high, exponent)


def _scaled(mantissa, exponent):
    """Return mantissa * 10**exponent as the float nearest to the decimal number."""
    return float(f"{mantissa}e{exponent}")


def preferred(value, series="E24", rounding="nearest"):
    """Return the preferred value next to `value`.

    Parameters
    ----------
    value : float
        Positive finite number to round, in any unit [-].
    series : str
        Name of the series, a key of `SERIES`.
    rounding : str
        "nearest" (by difference; half-way goes down), "up" or "down"; a value that is preferred already stays.

    Returns
    -------
    float
        The preferred value, in the unit of `value` [-].

    Raises
    ------
    ValueError
        If `value` is not positive and finite, or `series` or `rounding` is unknown.

    References
    ----------
    IEC 60063, Preferred number series for resistors and capacitors.

    Examples
    --------
    >>> preferred(1050.0, "E24")
    1000.0
    >>> preferred(466.7, "E12", "up")
    470.0
    """
    if not (value > 0 and math.isfinite(value)):
        raise ValueError(f"a preferred value needs a positive finite number, not {value}")
    if series not in SERIES:
        raise ValueError(f"unknown series {series}; known are {', '.join(SERIES)}")
    if rounding not in ROUNDINGS:
        raise ValueError(f"unknown rounding {rounding}; known are {', '.join(ROUNDINGS)}")
    low, high = _neighbours(value, series)
    if rounding == "up":
        return high
    if rounding == "down":
        return low
    return low if value - low <= (high - value) * (1 + _SAME) else high


def ladder(low, high, series="E24"):
    """Return every preferred value between two bounds.

    Parameters
    ----------
    low : float
        Lower bound, positive [-].
    high : float
        Upper bound [-].
    series : str
        Name of the series, a key of `SERIES`.

    Returns
    -------
    tuple of float
        Preferred values from `low` to `high`, both included, rising [-].

    Raises
    ------
    ValueError
        If `low` is not positive or `series` is unknown.

    References
    ----------
    IEC 60063, Preferred number series for resistors and capacitors.

    Examples
    --------
    >>> ladder(100.0, 500.0, "E6")
    (100.0, 150.0, 220.0, 330.0, 470.0)
    """
    start = preferred(low, series, "up")
    first = math.floor(math.log10(start) + _SAME)
    last = math.floor(math.log10(high))
    values = (_scaled(m, e - 2) for e in range(first, last + 1) for m in SERIES[series])
    return tuple(v for v in values if low * (1 - _SAME) <= v <= high * (1 + _SAME))
