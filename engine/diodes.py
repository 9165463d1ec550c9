"""Diodes around the coupler: silicon diodes, indicator LEDs by colour, and zener diodes, as the circuit takes them."""

import math

import numpy as np

from engine.circuit import Junction
from engine.constants import REFERENCE_TEMPERATURE, ZERO_CELSIUS, thermal_voltage
from engine.coupler import LedModel
from engine.devices import JunctionParams

_EMISSION = 2.0  # [-], emission coefficient of visible LEDs; common practice, no source
_DRIFT = -2e-3  # [V/K], temperature coefficient of visible LEDs and silicon diodes; common practice, no source
_ZENER_SOFTNESS = 2.0  # [-], multiples of the thermal voltage by which a zener's voltage rises with each e-fold
_BLOCKING = -1.0  # [V], where the iteration begins for a junction that blocks


def _through(V_1mA, V_high, I_high, emission):
    """Return the diode that goes through its voltage at 1 mA and at a higher current [A]."""
    nVT = emission * thermal_voltage(REFERENCE_TEMPERATURE)
    RS = (V_high - V_1mA - nVT * math.log(I_high / 1e-3)) / (I_high - 1e-3)
    VJ = V_1mA - RS * 1e-3
    activation = VJ - REFERENCE_TEMPERATURE * _DRIFT - 3 * nVT / emission
    return LedModel(1e-3 / math.exp(VJ / nVT), emission, RS, activation)


COLOURS = {
    "red": _through(1.75, 1.95, 20e-3, _EMISSION),
    "yellow": _through(1.85, 2.05, 20e-3, _EMISSION),
    "green": _through(1.95, 2.2, 20e-3, _EMISSION),
    "blue": _through(2.65, 3.1, 20e-3, _EMISSION),
    "white": _through(2.65, 3.1, 20e-3, _EMISSION),
}
"""Colour to LED model; values typical of the colour, of our own."""

SILICON = _through(0.6, 0.8, 50e-3, 1.8)
"""A small silicon diode; values typical of the class, of our own."""


def place_diode(net, part, pair, model, TA_degC, count=1):
    """Place a diode, or several alike in series, as a junction and its resistance.

    Parameters
    ----------
    net : NetlistBuilder
        Where to place it; the node `part` + "J" between junction and resistance is declared by the caller.
    part : str
        Part name.
    pair : tuple of (str, str)
        Nodes of anode and cathode.
    model : LedModel
        The diode.
    TA_degC : float
        Ambient temperature [degC].
    count : int
        Diodes in series, which carry one current and so act as one with that many times the voltage [-].
    """
    single = model.junction(np.full(net.batch, TA_degC + ZERO_CELSIUS))
    junction = JunctionParams(single.IS, single.nVT * count)
    anode, cathode = pair
    net.resistor(part, anode, part + "J", model.RS * count)
    net.device(Junction(part, part + "J", cathode, junction, junction.at_current(1e-3)))


def diode_drop(model, current, TA_degC, count=1):
    """Return the forward voltage of diodes in series.

    Parameters
    ----------
    model : LedModel
        The diode.
    current : float
        Forward current, not negative [A].
    TA_degC : float
        Ambient temperature [degC].
    count : int
        Diodes in series [-].

    Returns
    -------
    float
        Voltage [V].
    """
    return count * float(model.VF(current, TA_degC + ZERO_CELSIUS))


def place_zener(net, part, cathode, anode, VZ, current):
    """Place a zener diode that is to be driven backwards, from its cathode to its anode.

    Parameters
    ----------
    net : NetlistBuilder
        Where to place it.
    part : str
        Part name.
    cathode : str
        Node that the zener current enters.
    anode : str
        Node that it leaves.
    VZ : float or ndarray, shape (batch,)
        Zener voltage at `current` [V].
    current : float
        Current that the zener voltage is stated at [A].

    Notes
    -----
    The breakdown is a junction whose voltage counts from VZ; forwards the diode is one of silicon.
    """
    T = np.full(net.batch, REFERENCE_TEMPERATURE)
    nVT = _ZENER_SOFTNESS * thermal_voltage(T)
    breakdown = JunctionParams(np.full(net.batch, current), nVT, np.full(net.batch, VZ))
    net.device(Junction(part, cathode, anode, breakdown, breakdown.at_current(current)))
    forward = SILICON.junction(T)
    net.device(Junction(part, anode, cathode, forward, np.full(net.batch, _BLOCKING)))


def zener_drop(VZ, current, stated):
    """Return the voltage of a zener diode at a current.

    Parameters
    ----------
    VZ : float
        Zener voltage at the stated current [V].
    current : float
        Zener current, not negative [A].
    stated : float
        The stated current [A].

    Returns
    -------
    float
        Voltage [V].
    """
    nVT = _ZENER_SOFTNESS * thermal_voltage(REFERENCE_TEMPERATURE)
    return float(JunctionParams(stated, nVT, VZ).at_current(current))
