"""Warmth: junction temperatures from powers, and ratings that fall with the ambient temperature.

Pure functions on floats and arrays: no scenario, no card. Temperatures in degrees Celsius, thermal resistances in
kelvins per watt. A single number comes back as a float.
"""

from dataclasses import dataclass

import numpy as np

FILM_KNEE = 70.0  # [degC], ambient temperature up to which a film resistor takes its rating; common practice, no source
FILM_ZERO = 155.0  # [degC], ambient temperature at which nothing of it is left; common practice, no source


def derated(limit, knee_degC, zero_degC, TA_degC):
    """Return a rating that holds up to a knee and falls in a straight line to nothing.

    Parameters
    ----------
    limit : float or ndarray
        Rating up to the knee [A or W].
    knee_degC : float
        Ambient temperature at which it begins to fall [degC].
    zero_degC : float
        Ambient temperature at which nothing is left, not below the knee [degC].
    TA_degC : float or ndarray
        Ambient temperature [degC].

    Returns
    -------
    float or ndarray
        The rating, never negative [A or W].

    References
    ----------
    Common practice, no source: the derating line of every data sheet.
    """
    if not np.ndim(limit) and not np.ndim(TA_degC) and TA_degC <= knee_degC:
        return float(limit)
    falling = limit * (zero_degC - np.asarray(TA_degC, dtype=float)) / ((zero_degC - knee_degC) or 1.0)
    return _plain(np.where(np.less_equal(TA_degC, knee_degC), limit, np.clip(falling, 0.0, limit)))


def resistor_rating(rating, TA_degC):
    """Return what is left of a film resistor's power rating.

    Parameters
    ----------
    rating : float or ndarray
        Power rating up to `FILM_KNEE` [W].
    TA_degC : float or ndarray
        Ambient temperature [degC].

    Returns
    -------
    float or ndarray
        Power that it may take, nothing from `FILM_ZERO` on [W].

    References
    ----------
    Common practice, no source: full rating up to 70 degC, a straight line to zero at 155 degC.
    """
    return derated(rating, FILM_KNEE, FILM_ZERO, TA_degC)


def implied_resistance(limit, knee_degC, zero_degC):
    """Return the thermal resistance that a derating line of a power rating stands for.

    Parameters
    ----------
    limit : float
        Power rating up to the knee, above 0 [W].
    knee_degC : float
        Ambient temperature at which it begins to fall [degC].
    zero_degC : float
        Ambient temperature at which nothing is left, which the junction then has by itself [degC].

    Returns
    -------
    float
        Thermal resistance from junction to ambient [K/W].

    Notes
    -----
    Along the falling line the junction stays at `zero_degC`, so the line's slope is one over the resistance.

    References
    ----------
    Derived here.
    """
    return (zero_degC - knee_degC) / limit


def junction_temperature(TA_degC, P, Rth):
    """Return the temperature of a junction that warms itself alone.

    Parameters
    ----------
    TA_degC : float or ndarray
        Ambient temperature [degC].
    P : float or ndarray
        Power that becomes heat in it [W].
    Rth : float or ndarray
        Thermal resistance from junction to ambient [K/W].

    Returns
    -------
    float or ndarray
        TA + P Rth [degC].

    References
    ----------
    Definition of the thermal resistance.
    """
    return _plain(TA_degC + np.multiply(P, Rth))


def limiting_current(TJ_degC, TA_degC, Rth, V):
    """Return the current at which a fault warms a junction to its limit.

    Parameters
    ----------
    TJ_degC : float
        Highest temperature of the junction [degC].
    TA_degC : float or ndarray
        Ambient temperature [degC].
    Rth : float
        Thermal resistance from junction to ambient [K/W].
    V : float or ndarray
        Voltage at which the current flows, above 0 [V].

    Returns
    -------
    float or ndarray
        (TJ - TA) / (Rth V); nothing where the surroundings alone are as warm as the limit [A].

    References
    ----------
    Definition of the thermal resistance.
    """
    return _plain(np.maximum(np.subtract(TJ_degC, TA_degC), 0.0) / np.multiply(Rth, V))


def half_way_power(V, R):
    """Return the most power that a resistor to a supply can leave to what is in series with it.

    Parameters
    ----------
    V : float or ndarray
        Supply [V].
    R : float or ndarray
        Resistor, above 0 [ohm].

    Returns
    -------
    float or ndarray
        V^2 / 4R, with half of the supply across either [W].

    References
    ----------
    Derived here: the largest value of V_x (V - V_x) / R.
    """
    return _plain(np.divide(np.square(V), np.multiply(4.0, R)))


@dataclass(frozen=True, slots=True)
class TwoSources:
    """LED and detector in one body: how far each watt in either warms both above the surroundings.

    Attributes
    ----------
    LED : float
        Of the LED by its own power [K/W].
    mutual : float
        Of either by the power of the other [K/W].
    detector : float
        Of the detector by its own power [K/W].
    """

    LED: float
    mutual: float
    detector: float

    @classmethod
    def in_case(cls, LED, mutual, detector, CA):
        """Return the coefficients to ambient from those to the case.

        Parameters
        ----------
        LED : float
            Of the LED by its own power, above the case [K/W].
        mutual : float
            Of either by the power of the other, above the case [K/W].
        detector : float
            Of the detector by its own power, above the case [K/W].
        CA : float
            Thermal resistance from case to ambient, which all power passes [K/W].

        Returns
        -------
        TwoSources
            The coefficients.

        References
        ----------
        Derived here.
        """
        return cls(LED + CA, mutual + CA, detector + CA)

    @classmethod
    def of_network(cls, LC, LD, DC, CA):
        """Return the coefficients of a triangle of thermal resistances between LED, detector and case.

        Parameters
        ----------
        LC : float
            From LED to case [K/W].
        LD : float
            From LED to detector [K/W].
        DC : float
            From detector to case [K/W].
        CA : float
            From case to ambient [K/W].

        Returns
        -------
        TwoSources
            The coefficients.

        References
        ----------
        Derived here: LC beside LD + DC, DC beside LD + LC, and what a divider of LD and the other passes on.
        """
        around = LC + LD + DC
        return cls.in_case(LC * (LD + DC) / around, LC * DC / around, DC * (LD + LC) / around, CA)

    def junctions(self, TA_degC, P_LED, P_detector):
        """Return the temperatures of both junctions.

        Parameters
        ----------
        TA_degC : float or ndarray
            Ambient temperature [degC].
        P_LED : float or ndarray
            Power that becomes heat in the LED [W].
        P_detector : float or ndarray
            Power that becomes heat in the detector [W].

        Returns
        -------
        LED : float or ndarray
            Junction temperature of the LED [degC].
        detector : float or ndarray
            Junction temperature of the detector [degC].

        References
        ----------
        Superposition of two linear heat sources.
        """
        own, other = np.asarray(P_LED, dtype=float), np.asarray(P_detector, dtype=float)
        LED = TA_degC + self.LED * own + self.mutual * other
        return _plain(LED), _plain(TA_degC + self.mutual * own + self.detector * other)


def _plain(found):
    """Return an array as it is, and a single number as a float."""
    return found if np.ndim(found) else float(found)
