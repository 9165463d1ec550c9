"""A capacitor at the output: its voltage over the period, from what coupler and load do at every voltage."""

import numpy as np
from scipy.interpolate import PchipInterpolator

from engine.cycle import periodic
from engine.cycling.response import currents_up_to, solved

_LEAST = 1e-3  # [V], the least supply that the output is held across
_VOLTAGES = 25  # at which the output is held, closer together near both rails


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

    Notes
    -----
    The current into the capacitor is found on a grid of LED currents and voltages, by holding the output there; it is
    read off by a shape-preserving curve over ln IF and by straight lines over voltage.
    """
    grid, members = currents_up_to(float(IF.max())), len(IF)
    share = (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, _VOLTAGES))) / 2.0
    levels = np.maximum(values["VCC"], _LEAST)[:, None] * share
    held = np.tile(levels[:, None, :], (1, len(grid), 1)).ravel()
    light = np.tile(np.repeat(grid, _VOLTAGES), members)
    solution, _ = solved(scenario, values, light, len(grid) * _VOLTAGES, held)
    into = -solution.source_currents["CO"].reshape(members, len(grid), _VOLTAGES)
    x = np.log(np.clip(IF, grid[0], grid[-1]))
    known = np.stack([PchipInterpolator(np.log(grid), into[m])(x[m]) for m in range(members)])

    def rates(v, some):
        return _read(known[some], levels[some], v)

    start = np.repeat(values["VCC"][:, None, None] / 2.0, IF.shape[1], axis=1)
    step = np.full(members, 1.0 / (scenario.input.f * IF.shape[1]))
    return periodic(rates, np.full((members, 1), C), start, step)[0][:, :, 0]


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
