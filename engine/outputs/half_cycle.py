"""Closed forms over a half cycle of the line, for a load that a triac switches.

Angles count from the zero crossing. What conducts keeps a constant voltage; before it is triggered it keeps all.
"""

from dataclasses import dataclass

import numpy as np

ROOT2 = float(np.sqrt(2.0))


def surge_resistor(V_rms, I_surge):
    """Return the series resistor that holds the surge current of a triac coupler.

    Parameters
    ----------
    V_rms : float
        Line voltage [V].
    I_surge : float
        Surge current allowed, peak [A].

    Returns
    -------
    float
        Resistance: the crest of the line over the surge current [ohm].

    References
    ----------
    Common practice, as the application guides of triac couplers reckon.
    """
    return ROOT2 * V_rms / I_surge


def trigger_voltage(R, I_gate, V_gate, V_on):
    """Return the line voltage at which a larger triac is triggered through a coupler.

    Parameters
    ----------
    R : float or ndarray
        Series resistor [ohm].
    I_gate : float or ndarray
        Current that the gate and what lies across it ask for [A].
    V_gate : float
        Gate trigger voltage [V].
    V_on : float or ndarray
        On-state voltage of the coupler [V].

    Returns
    -------
    float or ndarray
        Voltage [V].

    References
    ----------
    Common practice, as the application guides of triac couplers reckon.

    Examples
    --------
    >>> trigger_voltage(150.0, 0.1, 2.0, 3.0)
    20.0
    """
    return R * I_gate + V_gate + V_on


def on_loss(V_on, current):
    """Return the power in what is on.

    Parameters
    ----------
    V_on : float or ndarray
        On-state voltage [V].
    current : float or ndarray
        Average of the rectified current [A].

    Returns
    -------
    float or ndarray
        Power; with the rms values of both it is an upper bound [W].
    """
    return V_on * current


def snubber_current(V_rms, f, C, R):
    """Return the current of a snubber that meets the whole line.

    Parameters
    ----------
    V_rms : float or ndarray
        Line voltage [V].
    f : float
        Line frequency [Hz].
    C : float
        Capacitor [F].
    R : float or ndarray
        Everything in series with it [ohm].

    Returns
    -------
    float or ndarray
        Current, rms: 2 pi f C V as long as the resistances are small [A].

    References
    ----------
    Elementary: impedance of a resistance and a capacitance in series.
    """
    return V_rms / np.hypot(R, 1.0 / (2.0 * np.pi * f * C))


@dataclass(frozen=True, slots=True)
class HalfCycle:
    """A half cycle in which a load is connected from an angle on.

    Attributes
    ----------
    V_peak : ndarray
        Crest of the line [V].
    V_on : ndarray
        Constant voltage that what conducts keeps [V].
    V_start : ndarray
        Line voltage at which it begins to conduct; it is not triggered at all beyond the crest [V].
    """

    V_peak: np.ndarray
    V_on: np.ndarray
    V_start: np.ndarray

    @property
    def triggered(self):
        """Return whether the line reaches the voltage at which it begins."""
        return np.maximum(self.V_start, self.V_on) < self.V_peak

    @property
    def start(self):
        """Return the angle at which it begins, the crest's where it does not [rad]."""
        return _angle(np.maximum(self.V_start, self.V_on), self.V_peak)

    @property
    def end(self):
        """Return the angle at which the line has fallen to the voltage that is kept [rad]."""
        return np.pi - _angle(self.V_on, self.V_peak)

    @property
    def V_rms(self):
        """Return the rms voltage at the load [V].

        Notes
        -----
        The integral of (Vp sin x - Von)^2 from the start to the end, over pi.
        """
        a, b = self.start, self.end
        square = self.V_peak**2 * ((b - a) / 2.0 - (np.sin(2.0 * b) - np.sin(2.0 * a)) / 4.0)
        cross = 2.0 * self.V_peak * self.V_on * (np.cos(b) - np.cos(a))
        whole = (square + cross + self.V_on**2 * (b - a)) / np.pi
        return np.where(self.triggered, np.sqrt(np.maximum(whole, 0.0)), 0.0)

    @property
    def V_average(self):
        """Return the average of the rectified voltage at the load [V]."""
        a, b = self.start, self.end
        whole = self.V_peak * (np.cos(a) - np.cos(b)) - self.V_on * (b - a)
        return np.where(self.triggered, np.maximum(whole, 0.0) / np.pi, 0.0)

    @property
    def waiting(self):
        """Return the averages of the line's magnitude and of its square while nothing is triggered yet [V, V^2]."""
        a = np.where(self.triggered, self.start, np.pi / 2.0)
        whole = np.where(self.triggered, 1.0, 2.0)  # never triggered: the other quarter too
        magnitude = self.V_peak * (1.0 - np.cos(a)) * whole / np.pi
        return magnitude, self.V_peak**2 * (a / 2.0 - np.sin(2.0 * a) / 4.0) * whole / np.pi


def _angle(V, V_peak):
    """Return the angle at which a sine reaches a voltage, that of its crest at the most."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(V_peak > 0.0, V / V_peak, 1.0)
    return np.arcsin(np.clip(share, 0.0, 1.0))
