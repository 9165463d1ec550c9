"""The phototransistor's junctions: transport model with Early effect and a collector that saturates softly.

The photocurrent into the base is a device of its own (`engine.devices.photocurrent`).
"""

from dataclasses import dataclass

import numpy as np

_LEAST = 1e-300  # [A], keeps a quotient finite


@dataclass(frozen=True, slots=True)
class DetectorParams:
    """Parameters of a phototransistor at its temperature.

    Attributes
    ----------
    IS : ndarray, shape (batch,)
        Transport saturation current [A].
    VT : ndarray, shape (batch,)
        Thermal voltage [V].
    beta_F : ndarray, shape (batch,)
        Forward current gain [-].
    beta_R : ndarray, shape (batch,)
        Reverse current gain [-].
    VA : ndarray, shape (batch,)
        Early voltage [V].
    RC : ndarray, shape (batch,)
        Collector resistance while nothing floods the collector [ohm].
    gamma : ndarray, shape (batch,)
        Doping factor of the collector: how soon a forward collector junction floods it [-].
    I_dark : ndarray, shape (batch,)
        Dark generation current of the collector junction [A].
    """

    IS: np.ndarray
    VT: np.ndarray
    beta_F: np.ndarray
    beta_R: np.ndarray
    VA: np.ndarray
    RC: np.ndarray
    gamma: np.ndarray
    I_dark: np.ndarray


def flooding(grown, params):
    """Return the charge term of the collector region and its derivative.

    Parameters
    ----------
    grown : ndarray, shape (..., batch)
        exp(v/VT), v being the base voltage against one end of the collector region [-].
    params : DetectorParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    term : ndarray, shape (..., batch)
        VT (K - ln(1 + K)) with K = sqrt(1 + gamma exp(v/VT)) [V].
    slope : ndarray, shape (..., batch)
        Its derivative by v [-].

    References
    ----------
    G. M. Kull et al., "A unified circuit model for bipolar transistors including quasi-saturation effects",
    IEEE Trans. Electron Devices 32(6), 1985; from memory.
    """
    carriers = params.gamma * grown
    K = np.sqrt(1.0 + carriers)
    return params.VT * (K - np.log1p(K)), 0.5 * carriers / (1.0 + K)


def detector(v_be, v_bi, v_bc, params):
    """Return the currents of a phototransistor without its photocurrent.

    Parameters
    ----------
    v_be : ndarray, shape (batch,)
        Base against emitter [V].
    v_bi : ndarray, shape (batch,)
        Base against the inner end of the collector region [V].
    v_bc : ndarray, shape (batch,)
        Base against the collector terminal [V].
    params : DetectorParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    currents : ndarray, shape (batch, 4)
        Inner collector to emitter, base to emitter, base to inner collector, collector terminal to inner
        collector [A].
    jacobian : ndarray, shape (batch, 4, 3)
        Their derivatives by the three voltages, in order [S].

    Notes
    -----
    Transport current IS (exp(VBE/VT) - exp(VBI/VT)) (1 - VBI/VA); base currents IS/beta (exp - 1); dark current of
    the collector junction I_dark tanh(VBI / 2 VT): all of it in reverse, none without voltage, no more than itself
    forwards. What a data sheet states is a reverse current, often with a wide guard band; taken as a recombination
    current that grows exponentially forwards it would spoil the saturation of a hot part.
    The collector region carries (F(VBI) - F(VBC) + VBI - VBC)/RC, `flooding` being F: as long as the
    collector junction is reverse biased it is the resistance RC, in deep saturation much less. This is why VCE
    at high drive stays well above the saturation value long before the collector current reaches CTR x IF.
    All branches are passive and monotone in their own voltage.

    References
    ----------
    J. J. Ebers and J. L. Moll, Proc. IRE 42(12), 1954 (transport form); J. M. Early, Proc. IRE 40(11), 1952;
    Kull 1985 as in `flooding`. From memory. The dark current's law is derived here.
    """
    grown = np.exp(np.stack((v_be, v_bi, v_bc)) / params.VT)
    forward, reverse = params.IS * grown[:2]
    (inner, outer), (inner_slope, outer_slope) = flooding(grown[1:], params)
    transport, early = forward - reverse, 1.0 - v_bi / params.VA
    dark = (grown[1] - 1.0) / (grown[1] + 1.0)  # tanh(VBI / 2 VT)
    currents = np.empty((len(v_be), 4))
    currents[:, 0] = transport * early
    currents[:, 1] = (forward - params.IS) / params.beta_F
    currents[:, 2] = (reverse - params.IS) / params.beta_R + params.I_dark * dark
    currents[:, 3] = (inner - outer + v_bi - v_bc) / params.RC
    forward, reverse = forward / params.VT, reverse / params.VT
    jacobian = np.zeros((len(v_be), 4, 3))
    jacobian[:, 0, 0] = forward * early
    jacobian[:, 0, 1] = -reverse * early - transport / params.VA
    jacobian[:, 1, 0] = forward / params.beta_F
    jacobian[:, 2, 1] = reverse / params.beta_R + params.I_dark * (1.0 - dark**2) / (2 * params.VT)
    jacobian[:, 3, 1] = (1.0 + inner_slope) / params.RC
    jacobian[:, 3, 2] = -(1.0 + outer_slope) / params.RC
    return currents, jacobian


def detector_guess(light, demand, VCE, params):
    """Return control voltages near the operating point, for an iteration to begin with.

    Parameters
    ----------
    light : ndarray, shape (batch,)
        Photocurrent expected [A].
    demand : ndarray, shape (batch,)
        Collector current that the load asks for when the detector is saturated [A].
    VCE : ndarray, shape (batch,)
        Collector-emitter voltage without any current, which falls in proportion until `demand` leaves nothing [V].
    params : DetectorParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    ndarray, shape (batch, 3)
        Base-emitter, base against inner collector, base against collector voltage [V].

    Notes
    -----
    Saturated: the photocurrent feeds both junctions, light = (R + demand)/beta_F + R/beta_R with R the reverse
    transport current. Otherwise active, with the voltage that the load leaves. The collector region is linearised.

    References
    ----------
    Derived here.
    """
    supply = light + params.I_dark
    surplus = supply - demand / params.beta_F
    saturated = surplus > 0
    reverse = np.where(saturated, surplus, 0.0) / (1.0 / params.beta_F + 1.0 / params.beta_R)
    forward = np.where(saturated, reverse + demand, params.beta_F * supply)
    v_be = params.VT * np.log1p(forward / params.IS)
    left = VCE * np.maximum(1.0 - forward / np.maximum(demand, _LEAST), 0.0)
    v_bi = np.where(saturated, params.VT * np.log1p(reverse / params.IS), v_be - left)
    _, slope = flooding(np.exp(v_bi / params.VT), params)
    v_bc = v_bi - np.minimum(demand, forward) * params.RC / (1.0 + slope)
    return np.stack((v_be, v_bi, v_bc), axis=1)
