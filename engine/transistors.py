"""Switching transistors around the coupler, npn and n-channel enhancement MOSFET, as the circuit takes them."""

import numpy as np

from engine.circuit import Detector, Mosfet
from engine.constants import REFERENCE_TEMPERATURE, SILICON_BAND_GAP, thermal_voltage
from engine.devices import DetectorParams, MosfetParams
from engine.devices.junction import saturation_current

_IS = 2e-14  # [A], transport current that puts VBE near 0.63 V at 1 mA; common textbook order of magnitude
_BETA_R, _VA, _RC = 4.0, 80.0, 2.0  # [-, V, ohm], a small switching transistor; values of our own
_DARK = 10e-9  # [A], collector leakage of a small transistor; value of our own
_SLOPE = 1.5  # [-], slope factor of a MOSFET below its threshold; common textbook value


def base_emitter(current, T):
    """Return the base-emitter voltage of an npn transistor.

    Parameters
    ----------
    current : float or ndarray
        Collector current, not negative [A].
    T : float or ndarray
        Absolute temperature [K].

    Returns
    -------
    float or ndarray
        Voltage [V].
    """
    return thermal_voltage(T) * np.log1p(current / saturation_current(_IS, T, SILICON_BAND_GAP, 1.0))


def saturation_voltage(current, base, gain):
    """Return the collector-emitter voltage of a saturated npn transistor at 25 degC.

    Parameters
    ----------
    current : float
        Collector current, below `gain` times `base` [A].
    base : float
        Base current [A].
    gain : float
        Current gain [-].

    Returns
    -------
    float
        Voltage [V].

    References
    ----------
    J. J. Ebers and J. L. Moll, Proc. IRE 42(12), 1954; from memory.
    """
    forced, alpha = current / base, _BETA_R / (1.0 + _BETA_R)
    inner = thermal_voltage(REFERENCE_TEMPERATURE) * np.log((1.0 / alpha + forced / _BETA_R) / (1.0 - forced / gain))
    return float(inner) + current * _RC


def place_npn(net, part, nodes, gain, T, guess):
    """Place an npn transistor.

    Parameters
    ----------
    net : NetlistBuilder
        Where to place it; the node `part` + "J" within it is declared here.
    part : str
        Part name.
    nodes : tuple of (str, str, str)
        Collector, base and emitter.
    gain : float or ndarray, shape (batch,)
        Current gain [-].
    T : ndarray, shape (batch,)
        Absolute temperature [K].
    guess : tuple of (ndarray, ndarray)
        Collector current, and voltage that lies across it without any, for the iteration to begin from; where no
        current is expected it blocks [A, V].
    """
    whole, (current, supply) = np.ones_like(T), guess
    IS = saturation_current(_IS, T, SILICON_BAND_GAP, 1.0)
    params = DetectorParams(
        IS, thermal_voltage(T), gain * whole, _BETA_R * whole, _VA * whole, _RC * whole,
        1e-12 * IS / _IS, _DARK / (1.0 + gain) * whole,
    )  # fmt: skip
    V_be = base_emitter(current, T)
    V_bc = np.where(current > 0.0, V_be - 0.1, -np.maximum(supply, 0.0))
    collector, base, emitter = nodes
    net.inside(base, part + "J")
    net.device(Detector(part, collector, part + "J", base, emitter, params, np.stack((V_be, V_bc, V_bc), axis=1)))


def place_mosfet(net, part, nodes, limits, T):
    """Place an n-channel enhancement MOSFET.

    Parameters
    ----------
    net : NetlistBuilder
        Where to place it.
    part : str
        Part name.
    nodes : tuple of (str, str, str)
        Drain, gate and source.
    limits : tuple of (float, float, float)
        Threshold voltage, on-resistance, and the gate voltage that it is stated at [V, ohm, V].
    T : ndarray, shape (batch,)
        Absolute temperature [K].
    """
    Vth, R_on, V_stated = limits
    whole = np.ones_like(T)
    params = MosfetParams.from_on_resistance(Vth * whole, R_on * whole, V_stated, _SLOPE * thermal_voltage(T))
    net.device(Mosfet(part, *nodes, params))
