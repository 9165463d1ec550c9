"""The test circuits of data sheets for speed of couplers with a threshold, followed over time."""

from dataclasses import dataclass, replace

import numpy as np

from engine.circuit import Capacitor, NetlistBuilder, solve, transient
from engine.constants import REFERENCE_TEMPERATURE
from engine.coupler.delays import ACROSS_R1, delays_of
from engine.coupler.stored import Charges, stores_of

_TRIAC_TEST = 6.0, 100.0  # [V, ohm], what lies across a triac in its test of speed; usual, common practice
_LONG = 30.0  # [-], time constants that a test circuit is followed
_ACCURACY = 2e-5  # [-], error of a step, as a share of the largest source
_IDLE = 1e-9  # [A], LED current that the iteration begins with where none is fed
_SPECIMENS, _TYPICAL, _WEAK, _STRONG = 3, 0, 1, 2  # in the order of a model's `spread`
_START, _HALF, _END = 0.1, 0.5, 0.9  # [-], shares of the output's swing


@dataclass(frozen=True, slots=True)
class Switched:
    """Times of a coupler on its test circuit, without and with its own delays.

    Attributes
    ----------
    on : tuple of (float, float)
        Typical and largest time from the LED's edge, lit, to the middle of the output's [s, s].
    off : tuple of (float, float)
        The same, dark [s, s].
    transitions : tuple of (float, float)
        What the output takes from 10 to 90 % of its swing, lit and dark [s, s].
    """

    on: tuple
    off: tuple
    transitions: tuple


def switched(model):
    """Return how fast a coupler with a threshold is on the test circuit of its card, at 25 degC.

    Parameters
    ----------
    model : SwitchingModel
        The coupler; its card has lines on speed.

    Returns
    -------
    Switched
        The times.

    Raises
    ------
    ConvergenceError
        If a circuit cannot be solved.

    Notes
    -----
    The circuit is integrated with what LED and load store, and the delays of `delays_of` come on top. The weakest
    specimen, of the largest threshold and drop, is the slowest to be lit; the strongest the slowest to go dark.
    """
    card, delays = model.card, delays_of(model)
    netlist = _circuit(model)
    point = solve(netlist)
    stored = Charges() if card.LED_capacitance is None else Charges(C_led=card.LED_capacitance)
    load = netlist.stores
    circuit = replace(netlist, stores=load + stores_of(netlist, stored))
    R1 = ACROSS_R1 / card.speed_IF
    until = _LONG * (R1 * stored.C_led + _resistance(card) * (getattr(card, "speed_CL", None) or 0.0))
    begin = {node: np.roll(volts, _SPECIMENS) for node, volts in point.voltages.items()}
    course = transient(circuit, begin, np.full(2 * _SPECIMENS, until), _ACCURACY)
    output, rest = course.voltages["O"], point.voltages["O"]
    gone = (output - np.roll(rest, _SPECIMENS)) / (rest - np.roll(rest, _SPECIMENS))
    start, half, end = (
        [_reached(course.t[:, k], gone[:, k], share) for k in range(2 * _SPECIMENS)] for share in (_START, _HALF, _END)
    )
    lit, dark = half[:_SPECIMENS], half[_SPECIMENS:]
    on = lit[_TYPICAL] + delays.on.typical, lit[_WEAK] + delays.on.largest
    off = dark[_TYPICAL] + delays.off.typical, dark[_STRONG] + delays.off.largest
    transitions = tuple(end[k] - start[k] for k in (_TYPICAL, _SPECIMENS + _TYPICAL))
    return Switched(on, off, transitions)


def _resistance(card):
    """Return the largest resistance that CL may be charged through [ohm]."""
    own = card.drop_high / card.drop_high_IO if card.family == "gate-driver" else 0.0
    return own + (getattr(card, "speed_RL", None) or 0.0)


def _circuit(model):
    """Return the test circuit of every specimen with the LED on, then of every one with the LED off."""
    size = 2 * _SPECIMENS
    card, on, T = model.card, np.arange(size) < _SPECIMENS, np.full(size, REFERENCE_TEMPERATURE)
    net = NetlistBuilder(size)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", np.where(on, model.led.VF(card.speed_IF, T) + ACROSS_R1, 0.0))
    net.resistor("R1", "VS", "A", np.full(size, ACROSS_R1 / card.speed_IF))
    values = {name: np.tile(np.array(ends, dtype=float), 2) for name, ends in model.spread().items()}
    if "UVLO" in values:
        values["UVLO"] = np.zeros(size)  # the supply of a test of speed is high enough
    VCC, RL = (card.speed_VCC, card.speed_RL) if hasattr(card, "speed_VCC") else _TRIAC_TEST
    values |= {"shift": np.zeros(size), "IF": np.where(on, card.speed_IF, _IDLE), "VCC": np.full(size, VCC)}
    out = _LOADS[card.family](net, VCC, np.full(size, RL), getattr(card, "speed_CL", 0.0))
    model.place(net, ("A", "return"), out, T, values)
    return net.build()


def _pulled_up(net, VCC, RL, CL):
    """Place RL from the supply to the output and CL from there to common; return the coupler's nodes."""
    net.side("output", "common", "VCC", "O")
    net.source("VCC", "VCC", VCC)
    net.resistor("RL", "VCC", "O", RL)
    net.store(Capacitor("CL", "O", "common", np.full(net.batch, CL)))
    return "O", "common", "VCC"


def _behind(net, VCC, RL, CL):
    """Place RL behind the driver's pin and CL behind it."""
    net.side("output", "common", "VCC", "D", "O")
    net.source("VCC", "VCC", VCC)
    net.resistor("RL", "D", "O", RL)
    net.store(Capacitor("CL", "O", "common", np.full(net.batch, CL)))
    return "D", "common", "VCC"


def _in_series(net, VCC, RL, CL):
    """Place the load between the output and common."""
    net.side("output", "common", "VCC", "O")
    net.source("VCC", "VCC", VCC)
    net.resistor("RL", "O", "common", RL)
    return "VCC", "O"


_LOADS = {
    "logic-gate": _pulled_up, "gate-driver": _behind, "mosfet-relay": _in_series, "opto-triac": _in_series,
}  # fmt: skip


def _reached(t, gone, share):
    """Return when a share of the way is reached first, on a straight line between two steps [s]."""
    k = max(int((gone >= share).argmax()), 1)
    part = (share - gone[k - 1]) / (gone[k] - gone[k - 1]) if gone[k] > gone[k - 1] else 1.0
    return float(t[k - 1] + np.clip(part, 0.0, 1.0) * (t[k] - t[k - 1]))
