"""What a coupler's LED and detector store, and so how fast it is: charges beside the device equations.

A direct-current solution knows nothing of them; they are found only where somebody asks how long something takes.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.circuit import Detector, Junction, JunctionCharge

_LED = "LED"  # the part that a coupler's LED is called in a circuit


@dataclass(frozen=True, slots=True)
class Charges:
    """What stores charge in a coupler; the values it has by itself are those of a class without lines on speed.

    Attributes
    ----------
    C_led : float
        Depletion capacitance of the LED without voltage [F].
    C_be : float
        The same of the base-emitter junction [F].
    C_bc : float
        The same of the collector junction, which is also the photodiode and therefore large [F].
    transit_F : float
        Charge of the base over the current that passes forwards [s].
    transit_R : float
        Charge of base and collector over the current of a flooded collector junction [s].

    References
    ----------
    The values are typical of a phototransistor of a fraction of a square millimetre; common practice, no source.
    """

    C_led: float = 50e-12
    C_be: float = 10e-12
    C_bc: float = 8e-12
    transit_F: float = 4e-9
    transit_R: float = 4.5e-6


def stores_of(netlist, charges):
    """Return what the couplers of a circuit store.

    Parameters
    ----------
    netlist : Netlist
        The circuits; every detector in it, both of a cascade, and every LED of a coupler store the same.
    charges : Charges
        What there is.

    Returns
    -------
    tuple of JunctionCharge
        Two of every detector, one of every LED junction.
    """
    one = np.ones(netlist.batch)
    found = []
    for device in netlist.devices:
        if isinstance(device, Detector):
            IS, VT = device.params.IS, device.params.VT
            base = (device.base, device.emitter, charges.C_be * one, charges.transit_F * one)
            collector = (device.base, device.inner, charges.C_bc * one, charges.transit_R * one)
            found += [JunctionCharge(device.part, *ends, IS, VT) for ends in (base, collector)]
        elif isinstance(device, Junction) and device.part == _LED:
            C, none = charges.C_led * one, 0.0 * one
            law = device.params
            found.append(JunctionCharge(_LED, device.anode, device.cathode, C, none, law.IS, law.nVT))
    return tuple(found)


@lru_cache(maxsize=64)
def _charges_of_card(card):
    return Charges()


def charges_of(model):
    """Return what a coupler stores, as its card's lines on speed ask for.

    Parameters
    ----------
    model : TransistorModel or SwitchingModel
        The calibrated coupler.

    Returns
    -------
    Charges
        The charges; where the card has no lines on speed, those of a class.
    """
    return _charges_of_card(model.card)
