"""What is left of an LED's light: planning figures over years, and stress tests brought to the conditions of use.

Pure functions on floats and arrays: no scenario, no card. A share of 1 is the light of a new part. Both laws let the
light fall exponentially; that form is our choice (common practice, no source): published figures state one loss after
one time, and the exponential is the one law that loses the same share in every year.
"""

from dataclasses import dataclass

import numpy as np

from engine.constants import BOLTZMANN_EV

HOURS_PER_YEAR = 8766.0  # [h], 365.25 days


@dataclass(frozen=True, slots=True)
class Plan:
    """A planning figure: so much of the light is lost over so many years.

    Attributes
    ----------
    loss : float
        Share of the light that is lost, 0 up to but not 1 [-].
    years : float
        Time over which it is lost, above 0 [year].
    """

    loss: float
    years: float


PLANS = {"slow": Plan(0.20, 10.0), "fast": Plan(0.50, 5.0)}
"""Published planning figures; the tests in tests/reference name the sources. They differ six-fold in pace."""


@dataclass(frozen=True, slots=True)
class StressTest:
    """An accelerated life test: what was lost, how hard it was, and how ageing follows current and temperature.

    Attributes
    ----------
    I : float
        LED current of the test, above 0 [A].
    T : float
        Absolute temperature of the LED's junction in the test [K].
    hours : float
        Length of the test, above 0 [h].
    loss : float
        Share of the light that was lost, 0 up to but not 1 [-].
    N : float
        Exponent of the current, not negative [-].
    Ea_eV : float
        Activation energy, not negative [eV].
    """

    I: float  # noqa: E741  the trade's symbol
    T: float
    hours: float
    loss: float
    N: float
    Ea_eV: float


def remaining(loss, over, years):
    """Return the share of light that is left after some years.

    Parameters
    ----------
    loss : float or ndarray
        Share of the light that is lost over `over`, 0 up to but not 1 [-].
    over : float or ndarray
        Time over which it is lost, above 0; infinite for a part that does not age [year].
    years : float or ndarray
        Time in service, not negative [year].

    Returns
    -------
    float or ndarray
        (1 - loss)^(years / over), between 0 and 1; the shape of the arguments together [-].

    References
    ----------
    Common practice, no source: the exponential form is our choice.
    """
    return _plain(np.power(1.0 - np.asarray(loss, dtype=float), np.divide(years, over)))


def years_until(needed, loss, over):
    """Return the time after which no more than a given share of the light is left.

    Parameters
    ----------
    needed : float or ndarray
        The share [-].
    loss : float or ndarray
        As of `remaining` [-].
    over : float or ndarray
        As of `remaining` [year].

    Returns
    -------
    float or ndarray
        Time; 0 where a new part has no more than that, infinite where that never comes [year].

    References
    ----------
    Derived here: the inverse of `remaining`.
    """
    needed = np.clip(needed, 0.0, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = over * (np.log(needed) / np.log1p(-np.asarray(loss, dtype=float)))
    return _plain(np.where(needed >= 1.0, 0.0, np.where(np.equal(loss, 0.0), np.inf, found)))


def acceleration(I_stress, I_use, T_stress, T_use, N, Ea_eV):
    """Return how many times longer a part lasts in use than under stress.

    Parameters
    ----------
    I_stress : float
        LED current under stress [A].
    I_use : float or ndarray
        LED current in use, not negative [A].
    T_stress : float
        Absolute temperature of the LED's junction under stress [K].
    T_use : float or ndarray
        Absolute temperature of the LED's junction in use [K].
    N : float
        Exponent of the current, not negative [-].
    Ea_eV : float
        Activation energy [eV].

    Returns
    -------
    float or ndarray
        Acceleration factor (I_stress / I_use)^N exp(Ea/k (1/T_use - 1/T_stress)); infinite without current [-].

    Notes
    -----
    One exponent holds over part of the range of currents only: parts driven near their rating age faster than an
    exponent found at small currents tells.

    References
    ----------
    S. Arrhenius, Zeitschrift für physikalische Chemie 4, 226-248, 1889, for the temperature; a power law of the current
    is common practice, no source.
    """
    with np.errstate(divide="ignore", over="ignore"):
        by_current = np.divide(I_stress, I_use) ** N
        by_warmth = np.exp(Ea_eV / BOLTZMANN_EV * (np.divide(1.0, T_use) - 1.0 / T_stress))
        return _plain(by_current * by_warmth)


def years_in_use(test, I_use, T_use, duty=1.0):
    """Return the time in use that ages a part as much as a stress test does.

    Parameters
    ----------
    test : StressTest
        The test.
    I_use : float or ndarray
        LED current in use, while it is lit [A].
    T_use : float or ndarray
        Absolute temperature of the LED's junction in use, while it is lit [K].
    duty : float or ndarray
        Share of the time that the LED is lit, 0 to 1; it ages only then [-].

    Returns
    -------
    float or ndarray
        Time; infinite where the LED is never lit [year].

    References
    ----------
    Derived here, on `acceleration`. That an LED ages only while it is lit is common practice, no source.
    """
    factor = acceleration(test.I, I_use, test.T, T_use, test.N, test.Ea_eV)
    with np.errstate(divide="ignore"):
        return _plain(np.divide(test.hours / HOURS_PER_YEAR * factor, duty))


def remaining_from_stress(test, I_use, T_use, years, duty=1.0):
    """Return the share of light that is left after some years in use, by what a stress test lost.

    Parameters
    ----------
    test : StressTest
        The test.
    I_use : float or ndarray
        As of `years_in_use` [A].
    T_use : float or ndarray
        As of `years_in_use` [K].
    years : float or ndarray
        Time in service, not negative [year].
    duty : float or ndarray
        As of `years_in_use` [-].

    Returns
    -------
    float or ndarray
        Between 0 and 1; the shape of the arguments together [-].

    References
    ----------
    Derived here, on `acceleration` and `remaining`.
    """
    return remaining(test.loss, years_in_use(test, I_use, T_use, duty), years)


def years_until_from_stress(test, I_use, T_use, needed, duty=1.0):
    """Return the time in use after which no more than a given share is left, by what a stress test lost.

    Parameters
    ----------
    test : StressTest
        The test.
    I_use : float or ndarray
        As of `years_in_use` [A].
    T_use : float or ndarray
        As of `years_in_use` [K].
    needed : float or ndarray
        The share [-].
    duty : float or ndarray
        As of `years_in_use` [-].

    Returns
    -------
    float or ndarray
        Time; 0 where a new part has no more than that, infinite where that never comes [year].

    References
    ----------
    Derived here: the inverse of `remaining_from_stress`.
    """
    return years_until(needed, test.loss, years_in_use(test, I_use, T_use, duty))


def _plain(found):
    """Return an array as it is, and a single number as a float."""
    return found if np.ndim(found) else float(found)
