"""What a coupler's LED and detector store: charges beside the device equations, which make it slow.

A direct-current solution knows nothing of them.
"""

from dataclasses import dataclass

import numpy as np

from engine.circuit import Detector, Junction, JunctionCharge

_LED, _COUPLER = "LED", "U1"  # what a coupler's LED and its output are called in a circuit


@dataclass(frozen=True, slots=True)
class Charges:
    """What stores charge in a coupler; the values it has by itself are those of a class without lines on speed.

    Attributes
    ----------
    C_led : float or ndarray, shape (batch,)
        Depletion capacitance of the LED without voltage [F].
    C_be : float or ndarray, shape (batch,)
        The same of the base-emitter junction [F].
    C_bc : float or ndarray, shape (batch,)
        The same of the collector junction, which is also the photodiode [F].
    transit_F : float or ndarray, shape (batch,)
        Charge of the base over the current that passes forwards [s].
    transit_R : float or ndarray, shape (batch,)
        Charge of base and collector over the current of a flooded collector junction [s].

    References
    ----------
    The values are typical of a phototransistor of a fraction of a square millimetre; common practice, no source.
    """

    C_led: float | np.ndarray = 50e-12
    C_be: float | np.ndarray = 10e-12
    C_bc: float | np.ndarray = 8e-12
    transit_F: float | np.ndarray = 4e-9
    transit_R: float | np.ndarray = 4.5e-6


SMALL = Charges(C_be=10e-12, C_bc=5e-12, transit_F=0.5e-9, transit_R=100e-9)
"""What a small npn transistor beside a coupler stores; common practice, no source."""


def stores_of(netlist, charges):
    """Return what the couplers of a circuit store.

    Parameters
    ----------
    netlist : Netlist
        The circuits; every detector of a coupler in it, both of a cascade, and every LED of one store the same.
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
            of = charges if device.part == _COUPLER else SMALL
            base = (device.base, device.emitter, of.C_be * one, of.transit_F * one)
            collector = (device.base, device.inner, of.C_bc * one, of.transit_R * one)
            found += [JunctionCharge(device.part, *ends, IS, VT) for ends in (base, collector)]
        elif isinstance(device, Junction) and device.part == _LED:
            C, none = charges.C_led * one, 0.0 * one
            law = device.params
            found.append(JunctionCharge(_LED, device.anode, device.cathode, C, none, law.IS, law.nVT))
    return tuple(found)
