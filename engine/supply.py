"""What varies: parts, and a supply as it is met: one value, one with a tolerance, a range whose ends both hold."""

from dataclasses import dataclass

from engine.errors import Problem
from engine.quantity import VOLT, in_query

FROM_TOLERANCE = "tol"
"""Word for an end of a supply that follows from its tolerance."""


@dataclass(frozen=True, slots=True)
class Spread:
    """What a part may be.

    Attributes
    ----------
    low : float
        Lower end [unit].
    nominal : float
        As it usually is [unit].
    high : float
        Upper end [unit].
    more : int
        Which end gives more current, to the LED or to the load: 1 the upper, -1 the lower.
    """

    low: float
    nominal: float
    high: float
    more: int


def supply_ends(nominal, tolerance, low, high):
    """Return the ends of a supply; an end that is given does not exclude the nominal value.

    Parameters
    ----------
    nominal : float
        The supply as it usually is [V].
    tolerance : float
        Deviation either way, for an end that is not given [-].
    low : float or str
        Lowest supply, or "tol" [V].
    high : float or str
        Highest supply, or "tol" [V].

    Returns
    -------
    low : float
        Lowest supply to reckon with [V].
    high : float
        Highest supply to reckon with [V].

    Examples
    --------
    >>> supply_ends(12.0, 0.1, 5.0, "tol")
    (5.0, 13.200000000000001)
    """
    low = nominal * (1.0 - tolerance) if low == FROM_TOLERANCE else low
    high = nominal * (1.0 + tolerance) if high == FROM_TOLERANCE else high
    return min(low, nominal), max(high, nominal)


def crossed_ends(key, symbol, low, high):
    """Yield what is wrong with the ends of a supply: that they are the wrong way round.

    Parameters
    ----------
    key : str
        Field of the lower end.
    symbol : str
        Symbol of the supply.
    low : float or str
        Lowest supply, or "tol" [V].
    high : float or str
        Highest supply, or "tol" [V].

    Yields
    ------
    Problem
        At the lower end.
    """
    if FROM_TOLERANCE not in (low, high) and low > high:
        reason = f"{symbol} min is above {symbol} max"
        yield Problem(key, in_query(low, VOLT), f"a value up to {symbol} max", reason)
