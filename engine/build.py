"""From scenario to circuit: a batch of the nominal stage and every corner of its tolerances, in both states.

Temperature, spread and tolerance become element parameters here, never factors on results.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from engine.circuit import Detector, Junction, LightPath, Netlist, NetlistBuilder
from engine.constants import ZERO_CELSIUS
from engine.coupler import calibrated
from engine.devices import detector_guess, photocurrent
from engine.sizing import size

FACTORS = ("VS", "R1", "VF", "CTR", "VCC", "RL")
"""What is varied: supply, series resistor, forward voltage, transfer ratio (the dark current goes with it), output
supply (the receiver's leakage goes with it), load resistor."""

_SIGNS = np.array([(0,) * len(FACTORS), *product((-1, 1), repeat=len(FACTORS))], dtype=float)
CORNERS = len(_SIGNS)
"""Members of one state: the nominal stage and 2**6 corners."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A scenario as a batch of circuits: first every member with the LED meant to be lit, then meant to be dark.

    Attributes
    ----------
    netlist : Netlist
        The circuits, 2 x `CORNERS` of them.
    sized : dict of str to Sized
        The resistors.
    VCC : ndarray, shape (CORNERS,)
        Supply of the output side [V].
    RL : ndarray, shape (CORNERS,)
        Load resistor [ohm].
    CTR : ndarray, shape (CORNERS,)
        Transfer ratio at the card's test point and 25 degC [-].
    """

    netlist: Netlist
    sized: dict
    VCC: np.ndarray
    RL: np.ndarray
    CTR: np.ndarray


def _spread(signs, nominal, low, high):
    """Return a value at every corner."""
    return np.where(signs < 0, low, np.where(signs > 0, high, nominal))


def _within(signs, nominal, tolerance):
    """Return a value with a symmetrical tolerance at every corner."""
    return _spread(signs, nominal, nominal * (1 - tolerance), nominal * (1 + tolerance))


def build(scenario):
    """Return the circuits of a scenario.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    Stage
        The batch: nominal and corners, closed and open.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.

    Notes
    -----
    The dark current moves with the transfer ratio and the receiver's leakage with the output supply, because each
    pair pushes every output the same way; so the extremes of the product of all are still among the corners.
    """
    sized = size(scenario)
    model = calibrated(scenario.coupling.card)
    side, load, conditions = scenario.input, scenario.output, scenario.conditions
    signs = dict(zip(FACTORS, _SIGNS.T, strict=True))
    VS = _within(signs["VS"], side.VS, side.VS_tolerance)
    R1 = _within(signs["R1"], sized["R1"].chosen, conditions.tolerance)
    VCC = _within(signs["VCC"], load.VCC, load.VCC_tolerance)
    RL = _within(signs["RL"], sized["RL"].chosen, conditions.tolerance)
    CTR = _spread(signs["CTR"], *scenario.coupling.ratios())
    ICEO = _spread(signs["CTR"], model.card.ICEO, model.card.ICEO, model.card.ICEO_max)
    typical = float(model.led.VF(model.card.VF_IF, conditions.TA + ZERO_CELSIUS))
    shift = _spread(signs["VF"], 0.0, *(limit - typical for limit in _VF_limits(model, conditions.TA)))
    twice = {name: np.tile(a, 2) for name, a in {"VS": VS, "R1": R1, "VCC": VCC, "RL": RL, "up": signs["VCC"] > 0,
                                                 "down": signs["VCC"] < 0, "CTR": CTR, "ICEO": ICEO,
                                                 "shift": shift}.items()}  # fmt: skip
    closed = np.repeat([True, False], CORNERS)
    net = NetlistBuilder(2 * CORNERS)
    side.wire(net, closed, twice["VS"], twice["R1"])
    load.wire(net, conditions.TA, twice["VCC"], twice["RL"], twice["down"].astype(float), twice["up"].astype(float))
    T = np.full(net.batch, conditions.TA + ZERO_CELSIUS)
    place_coupler(net, scenario, model, T, closed, twice)
    return Stage(net.build(), sized, VCC, RL, CTR)


def _VF_limits(model, TA):
    """Return the card's forward voltage limits, moved to the ambient temperature like the typical value."""
    card = model.card
    moved = model.led.VF(card.VF_IF, TA + ZERO_CELSIUS) - model.led.VF(card.VF_IF, 25.0 + ZERO_CELSIUS)
    return card.VF_min + moved, card.VF_max + moved


def place_coupler(net, scenario, model, T, closed, values):
    """Place LED and detector between the nodes that the sides left for them, with a guess to begin from.

    Parameters
    ----------
    net : NetlistBuilder
        Where to place them.
    scenario : Scenario
        The stage.
    model : CouplerModel
        The calibrated coupler.
    T : ndarray, shape (batch,)
        Absolute temperature [K].
    closed : ndarray of bool, shape (batch,)
        Whether the LED is meant to be lit.
    values : dict of str to ndarray, shape (batch,)
        "VS", "R1", "VCC", "RL", "CTR", "ICEO" and "shift", the forward voltage above the typical one, in SI units.
    """
    anode, cathode = scenario.input.led
    collector, emitter = scenario.output.detector
    led = model.led.junction(T, values["shift"])
    law = model.transfer(values["CTR"], T)
    params = model.detector(T, values["ICEO"])
    expected = np.maximum(values["VS"] - 1.0, 0.0) / scenario.input.loop_resistance(closed, values["R1"])
    knee = led.at_current(expected)
    demand = scenario.output.needed_current(model.card.VCE_sat, values["VCC"], values["RL"], T[0])
    guess = detector_guess(photocurrent(expected, law)[0], demand, values["VCC"], params)
    net.side("input", scenario.input.reference, "AJ")
    net.side("output", scenario.output.reference, "CI", "B")
    net.resistor("LED", anode, "AJ", model.led.RS)
    net.device(Junction("LED", "AJ", cathode, led, knee))
    net.device(LightPath("U1", "AJ", cathode, "CI", "B", led, law, knee))
    net.device(Detector("U1", collector, "CI", "B", emitter, params, guess))
