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

FACTORS = ("VS", "R1", "VF", "CTR", "VCC", "RL", "leak")
"""What is varied: supply, series resistor, forward voltage, transfer ratio (the dark current goes with it), output
supply, load resistor, and the way the receiver leaks: down to common, up from the supply."""

_ENDS = (-1, 1)
_DRIVES = ((1, -1, -1), (-1, 1, 1))  # VS, R1 and VF that give the most and the least LED current
_LOAD = (1, -1, 1)  # VCC, RL and leak while the input side goes through all that it has
_NOMINAL = (0,) * len(FACTORS)
_SIGNS = np.array(
    list(
        dict.fromkeys(
            [
                _NOMINAL,
                *((*ends, *_LOAD) for ends in product(_ENDS, repeat=4)),
                *((*drive, *ends) for drive in _DRIVES for ends in product(_ENDS, repeat=4)),
            ]
        )
    )
)
_IN_BOTH = dict(zip(FACTORS, np.tile(_SIGNS.T, 2), strict=True))
CORNERS = len(_SIGNS)
"""Members of one state: the nominal stage, every corner of the input side with either end of the bin, and every corner
of the output side at the most and the least LED current, which is all that it knows of the input side."""


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
    leakage : ndarray, shape (CORNERS,)
        Current of the receiver that the lit detector carries beside the load's [A].
    """

    netlist: Netlist
    sized: dict
    VCC: np.ndarray
    RL: np.ndarray
    CTR: np.ndarray
    leakage: np.ndarray


def _spread(factor, nominal, low, high):
    """Return the values of a factor over nominal stage and corners of both states."""
    return np.array((low, nominal, high))[_IN_BOTH[factor] + 1]


def _within(factor, nominal, tolerance):
    """Return the values of a factor with a symmetrical tolerance."""
    return _spread(factor, nominal, nominal * (1 - tolerance), nominal * (1 + tolerance))


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
    The dark current moves with the transfer ratio, because both push every output the same way; so the extremes of
    the product of all are still among the corners.
    """
    sized = size(scenario)
    model = calibrated(scenario.coupling.card)
    side, load, conditions = scenario.input, scenario.output, scenario.conditions
    card = model.card
    values = {
        "VS": _spread("VS", side.VS, *side.VS_ends),
        "R1": _within("R1", sized["R1"].chosen, conditions.tolerance),
        "VCC": _spread("VCC", load.VCC, *load.VCC_ends),
        "RL": _within("RL", sized["RL"].chosen, conditions.tolerance),
        "CTR": _spread("CTR", *scenario.coupling.ratios()),
        "ICEO": _spread("CTR", card.ICEO, card.ICEO, card.ICEO_max),
        "shift": _spread("VF", 0.0, *model.VF_shifts()),
    }
    down, up = _spread("leak", 0.0, 1.0, 0.0), _spread("leak", 0.0, 0.0, 1.0)
    closed = np.arange(2 * CORNERS) < CORNERS
    net = NetlistBuilder(2 * CORNERS)
    side.wire(net, closed, conditions.TA, values["VS"], values["R1"])
    load.wire(net, conditions.TA, values["VCC"], values["RL"], down, up)
    T = np.full(net.batch, conditions.TA + ZERO_CELSIUS)
    place_coupler(net, scenario, model, T, closed, values)
    arrays = *(values[name] for name in ("VCC", "RL", "CTR")), load.lit_leakage(down, up)
    return Stage(net.build(), sized, *(array[:CORNERS] for array in arrays))


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
