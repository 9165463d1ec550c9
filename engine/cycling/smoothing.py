"""A capacitor at the output: its voltage over the period, from what coupler and load do at every voltage."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from engine.cycle import periodic
from engine.cycling.response import currents_up_to, solved

_LEAST = 1e-3  # [V], the least supply that the output is held across
_VOLTAGES = 25  # at which the output is held, closer together near both rails


@dataclass(frozen=True, slots=True)
class Charging:
    """What flows into a capacitor at the output, at every LED current and every voltage, for several output sides.

    Attributes
    ----------
    grid : ndarray, shape (currents,)
        LED currents, rising [A].
    levels : ndarray, shape (members, voltages)
        Voltages that the output was held at, rising [V].
    into : ndarray, shape (members, currents, voltages)
        Current into the capacitor [A].
    C : float
        Its capacitance [F].
    """

    grid: np.ndarray
    levels: np.ndarray
    into: np.ndarray
    C: float

    def known(self, IF):
        """Return the currents at all levels for LED currents over time.

        Parameters
        ----------
        IF : ndarray, shape (members, time)
            LED current [A].

        Returns
        -------
        ndarray, shape (members, time, voltages)
            Current into the capacitor [A].
        """
        x = np.log(np.clip(IF, self.grid[0], self.grid[-1]))
        found = [PchipInterpolator(np.log(self.grid), one)(at) for one, at in zip(self.into, x, strict=True)]
        # No more flows in at a higher voltage; what interpolation leaves of a rise would feed itself in the steps.
        return np.minimum.accumulate(np.stack(found), axis=2)

    def rates(self, known, which=None):
        """Return what flows into the capacitor over time, as a function of its voltage.

        Parameters
        ----------
        known : ndarray, shape (batch, time, voltages)
            As of `known` [A].
        which : ndarray or None, shape (batch,)
            The output side that each belongs to; None where they are in order [-].

        Returns
        -------
        callable
            As `periodic` takes it.
        """
        levels = self.levels if which is None else self.levels[which]

        def rates(v, some):
            return _read(known[some], levels[some], v)

        return rates

    def settled(self, IF, f):
        """Return the voltage over the period, for LED currents that repeat.

        Parameters
        ----------
        IF : ndarray, shape (members, time)
            LED current over the period [A].
        f : float
            Frequency [Hz].

        Returns
        -------
        ndarray, shape (members, time)
            Voltage [V].
        """
        start = np.repeat(self.levels[:, -1:, None] / 2.0, IF.shape[1], axis=1)
        step = np.full(len(IF), 1.0 / (f * IF.shape[1]))
        return periodic(self.rates(self.known(IF)), np.full((len(IF), 1), self.C), start, step)[0][:, :, 0]


def charging_of(scenario, values, highest, C):
    """Return what flows into a capacitor at the output.

    Parameters
    ----------
    scenario : Scenario
        The stage, whose output has a voltage.
    values : dict of str to ndarray, shape (members,)
        What varies, as `response_of`.
    highest : float
        The largest LED current that occurs [A].
    C : float
        Capacitance [F].

    Returns
    -------
    Charging
        Of every member.

    Notes
    -----
    The current into the capacitor is found on a grid of LED currents and voltages, by holding the output there; it is
    read off by a shape-preserving curve over ln IF and by straight lines over voltage.
    """
    grid, members = currents_up_to(highest), len(values["VCC"])
    share = (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, _VOLTAGES))) / 2.0
    levels = np.maximum(values["VCC"], _LEAST)[:, None] * share
    held = np.tile(levels[:, None, :], (1, len(grid), 1)).ravel()
    light = np.tile(np.repeat(grid, _VOLTAGES), members)
    solution, _ = solved(scenario, values, light, len(grid) * _VOLTAGES, held)
    return Charging(grid, levels, -solution.source_currents["CO"].reshape(members, len(grid), _VOLTAGES), C)


def smoothed(scenario, values, IF, C):
    """Return the output's voltage over the period with a capacitor across it.

    Parameters
    ----------
    scenario : Scenario
        The stage, whose output has a voltage.
    values : dict of str to ndarray, shape (members,)
        What varies, as `response_of`.
    IF : ndarray, shape (members, time)
        LED current over the period [A].
    C : float
        Capacitance [F].

    Returns
    -------
    ndarray, shape (members, time)
        Voltage [V].
    """
    return charging_of(scenario, values, float(IF.max()), C).settled(IF, scenario.input.f)


def _read(known, levels, v):
    """Return currents and slopes at voltages (members, time, 1), on straight lines that go on beyond the ends."""
    volts = v[:, :, 0]
    piece = np.stack([np.searchsorted(row, at, side="right") for row, at in zip(levels, volts, strict=True)])
    piece = np.clip(piece, 1, levels.shape[1] - 1)
    rows = np.arange(len(v))[:, None]
    low, high = levels[rows, piece - 1], levels[rows, piece]
    below = np.take_along_axis(known, piece[:, :, None] - 1, axis=2)[:, :, 0]
    above = np.take_along_axis(known, piece[:, :, None], axis=2)[:, :, 0]
    slope = (above - below) / (high - low)
    return (below + slope * (volts - low))[:, :, None], slope[:, :, None, None]
