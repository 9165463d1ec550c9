"""The test circuits of data sheets: a calibrated coupler, fed and loaded as its lines say, and solved."""

from dataclasses import dataclass

import numpy as np

from engine.circuit import NetlistBuilder, solve
from engine.constants import ZERO_CELSIUS

_STIFF = 1e6  # [V], a source behind a resistance that is as good as a current source
_USUAL_VF = 1.2  # [V]
_IDLE = 1e-9  # [A], LED current that the iteration begins with where none is fed


@dataclass(frozen=True, slots=True)
class Measured:
    """What a test circuit reads.

    Attributes
    ----------
    VF : ndarray, shape (batch,)
        Voltage from the LED's anode to its cathode [V].
    VO : ndarray, shape (batch,)
        Voltage of the first terminal of the output against the second [V].
    IO : ndarray, shape (batch,)
        Current into the first terminal [A].
    ICC : ndarray, shape (batch,)
        Current that the coupler takes from its supply; nothing where it has none [A].
    """

    VF: np.ndarray
    VO: np.ndarray
    IO: np.ndarray
    ICC: np.ndarray


@dataclass(frozen=True, slots=True)
class Wiring:
    """How the output is loaded: held at a voltage, or fed a current.

    Attributes
    ----------
    hold : float or None
        Voltage of the first terminal against the second [V].
    feed : float or None
        Current into the first terminal, negative out of it, where it is not held [A].
    VCC : float or ndarray, shape (batch,)
        Supply of a coupler that has one [V].
    turned : bool
        Whether the LED current flows from cathode to anode.
    """

    hold: float | None = None
    feed: float | None = None
    VCC: object = 5.0
    turned: bool = False


def measure(model, IF, wiring, *, TA=25.0, **changed):
    """Return what a coupler reads on a test circuit.

    Parameters
    ----------
    model : TransistorModel or SwitchingModel
        The coupler.
    IF : float or ndarray, shape (batch,)
        LED current that is fed [A].
    wiring : Wiring
        What the output works on.
    TA : float or ndarray, shape (batch,)
        Ambient temperature [degC].
    **changed : float or ndarray, shape (batch,)
        What of the specimen is not nominal, by the names of `spread`, and "RBE" [units of `spread`, ohm].

    Returns
    -------
    Measured
        The readings.

    Raises
    ------
    ConvergenceError
        If the circuit cannot be solved.
    """
    IF, TA = (np.atleast_1d(array) for array in np.broadcast_arrays(np.asarray(IF, dtype=float), TA))
    batch, T = len(IF), TA + ZERO_CELSIUS
    net = NetlistBuilder(batch)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", -_STIFF if wiring.turned else _STIFF)
    net.conductance("R1", "VS", "A", IF / (_STIFF - _USUAL_VF))
    net.side("output", "common", "O")
    out = _loaded(net, model, wiring)
    values = {name: np.full(batch, float(nominal)) for name, (nominal, *_) in model.spread().items()}
    values |= {name: value if name == "RBE" else np.full(batch, value, dtype=float) for name, value in changed.items()}
    # A guess for a detector that works: one that is held the other way round is found from there.
    at_hand = wiring.VCC if wiring.hold is None or "supply" in model.terminals else np.maximum(wiring.hold, 0.0)
    values |= {
        "shift": np.zeros(batch),
        "IF": np.maximum(IF, _IDLE),
        "demand": np.full(batch, np.inf if wiring.feed is None else max(wiring.feed, 1e-12)),
        "VCC": np.full(batch, at_hand),
    }
    model.place(net, ("A", "return"), out, T, values)
    solution = solve(net.build())
    VO, through = solution.voltages["O"], solution.source_currents["VO"]
    drawn = solution.source_currents.get("VCC", np.zeros(batch))
    return Measured(solution.voltages["A"], VO, through, drawn)


def _loaded(net, model, wiring):
    """Place what the output works on; return the nodes of the coupler's terminals."""
    out = ("O", "common")
    if "supply" in model.terminals:
        net.side("output", "common", "VCC")
        net.source("VCC", "VCC", wiring.VCC)
        out = (*out, "VCC")
    if wiring.hold is not None:
        net.source("VO", "O", wiring.hold)
        net.conductance("RO", "O", "common", 0.0)
    else:
        net.side("output", "common", "VX")
        net.source("VO", "VX", _STIFF if wiring.feed >= 0 else -_STIFF)
        net.conductance("RO", "VX", "O", abs(wiring.feed) / _STIFF)
    return out
