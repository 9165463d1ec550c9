"""A source that is known by measured pairs of voltage and current."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class TabledParams:
    """Parameters of a source known by its table.

    Attributes
    ----------
    volts : tuple of float
        Terminal voltages, rising, the first 0 and the last without load [V].
    amperes : tuple of float
        Currents that the source delivers at them, falling to 0 [A].
    stretch : ndarray, shape (batch,)
        What all voltages are multiplied by: a stronger or a weaker source [-].
    share : ndarray, shape (batch,)
        What all currents are multiplied by: 1 while the source is on, 0 while it is off [-].
    """

    volts: tuple
    amperes: tuple
    stretch: np.ndarray
    share: np.ndarray


def tabled(v, params):
    """Return the current that flows into a source that is known by its table.

    Parameters
    ----------
    v : ndarray, shape (batch,)
        Terminal voltage [V].
    params : TabledParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    current : ndarray, shape (batch,)
        Into the source: negative while it delivers [A].
    conductance : ndarray, shape (batch,)
        Derivative of the current by the voltage, never negative [S].

    Notes
    -----
    Straight lines between the pairs; the first current below 0 V, none above the voltage without load.

    References
    ----------
    Derived here.
    """
    volts, amperes = np.array(params.volts), np.array(params.amperes)
    slopes = np.concatenate([[0.0], -np.diff(amperes) / np.diff(volts), [0.0]])
    own = v / params.stretch
    current = -np.interp(own, volts, amperes) * params.share
    return current, slopes[np.searchsorted(volts, own)] / params.stretch * params.share
