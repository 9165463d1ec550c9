"""The test circuits of data sheets for speed: a coupler whose LED current is switched, followed over time."""

from dataclasses import dataclass, replace

import numpy as np

from engine.circuit import NetlistBuilder, solve, transient
from engine.constants import REFERENCE_TEMPERATURE
from engine.coupler.bench import Wiring, measure
from engine.coupler.stored import stores_of
from engine.errors import CardError

_ACROSS_R1 = 4.0  # [V], what the resistor of the LED takes, so that its current hardly depends on its voltage
_IDLE = 1e-9  # [A], LED current that the iteration begins with where none is fed
_BARELY, _NEARLY = 0.1, 0.9  # [-], shares of the output's swing at which times are read
_ACCURACY = 2e-5  # [-], error of a step, as a share of the supply; a linear test swings over some hundredths of it
_DRIVES = 1e-5, 0.2  # [A], LED currents among which that of a linear test is looked for
_STEPS = 80


@dataclass(frozen=True, slots=True)
class Pulse:
    """A batch of test circuits: collector to the supply through a resistor, emitter common.

    Attributes
    ----------
    VCC : ndarray, shape (batch,)
        Supply [V].
    IF : ndarray, shape (batch,)
        LED current while it is on [A].
    RL : ndarray, shape (batch,)
        Load resistor [ohm].
    until : ndarray, shape (batch,)
        How long either edge is followed [s].
    """

    VCC: np.ndarray
    IF: np.ndarray
    RL: np.ndarray
    until: np.ndarray


@dataclass(frozen=True, slots=True)
class Edges:
    """Times from an edge of the LED current to where the output has gone some of its way.

    Attributes
    ----------
    delay : ndarray, shape (batch,)
        Light comes on: until a tenth of the swing [s].
    on : ndarray, shape (batch,)
        Light comes on: until nine tenths, the turn-on time [s].
    storage : ndarray, shape (batch,)
        Light goes off: until a tenth, the storage time of a saturated detector [s].
    off : ndarray, shape (batch,)
        Light goes off: until nine tenths, the turn-off time [s].
    """

    delay: np.ndarray
    on: np.ndarray
    storage: np.ndarray
    off: np.ndarray

    @property
    def rise(self):
        """Return how long the collector current takes from 10 to 90 % [s]."""
        return self.on - self.delay

    @property
    def fall(self):
        """Return how long the collector current takes from 90 to 10 % [s]."""
        return self.off - self.storage


def pulsed(model, pulse, charges):
    """Return how fast a typical coupler is on test circuits, at 25 degC.

    Parameters
    ----------
    model : TransistorModel
        The coupler.
    pulse : Pulse
        The test circuits.
    charges : Charges
        What the coupler stores; fields may be arrays of shape (batch,).

    Returns
    -------
    Edges
        The times; what has not happened by the end of the pulse counts as happening there.

    Raises
    ------
    ConvergenceError
        If a circuit cannot be solved.

    Notes
    -----
    Either edge begins with the direct-current solution of the other state. Shares are of the output's whole swing
    between both solutions, as the low level of a cascade lies well above a tenth of a small supply.
    """
    n = len(pulse.VCC)
    netlist = _circuit(model, pulse)
    twice = {name: np.tile(np.broadcast_to(getattr(charges, name), n), 2) for name in charges.__dataclass_fields__}
    point = solve(netlist)
    begin = {node: np.roll(volts, n) for node, volts in point.voltages.items()}
    circuit = replace(netlist, stores=stores_of(netlist, replace(charges, **twice)))
    course = transient(circuit, begin, np.tile(pulse.until, 2), _ACCURACY)
    output, rest = course.voltages["O"], point.voltages["O"]
    gone = (output - np.roll(rest, n)) / (rest - np.roll(rest, n))
    times = [_reached(course.t, gone, share) for share in (_BARELY, _NEARLY)]
    return Edges(times[0][:n], times[1][:n], times[0][n:], times[1][n:])


def _circuit(model, pulse):
    """Return every test circuit with the LED on, then every one with the LED off."""
    n = len(pulse.VCC)
    VCC, IF, RL = (np.tile(values, 2) for values in (pulse.VCC, pulse.IF, pulse.RL))
    on, T = np.arange(2 * n) < n, np.full(2 * n, REFERENCE_TEMPERATURE)
    net = NetlistBuilder(2 * n)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", np.where(on, model.led.VF(IF, T) + _ACROSS_R1, 0.0))
    net.resistor("R1", "VS", "A", _ACROSS_R1 / IF)
    net.side("output", "common", "VCC", "O")
    net.source("VCC", "VCC", VCC)
    net.resistor("RL", "VCC", "O", RL)
    values = {name: np.full(2 * n, float(nominal)) for name, (nominal, *_) in model.spread().items()}
    values |= {"shift": np.zeros(2 * n), "IF": np.where(on, IF, _IDLE), "VCC": VCC, "demand": VCC / RL}
    model.place(net, ("A", "return"), ("O", "common"), T, values)
    return net.build()


def _reached(t, gone, share):
    """Return when a share of the way is reached first, shape (batch,); a straight line between two steps."""
    ahead = gone >= share
    ahead[-1] = True
    k, column = np.maximum(ahead.argmax(axis=0), 1), np.arange(t.shape[1])
    before, after = gone[k - 1, column], gone[k, column]
    rise = np.where(after > before, after - before, 1.0)
    part = np.where(after > before, np.clip((share - before) / rise, 0.0, 1.0), 1.0)
    return t[k - 1, column] + part * (t[k, column] - t[k - 1, column])


def drive_for(model, IC, VCE, line):
    """Return the LED current at which a typical coupler carries a collector current.

    Parameters
    ----------
    model : TransistorModel
        The coupler.
    IC : float
        Collector current [A].
    VCE : float
        Collector-emitter voltage [V].
    line : str
        The line of the card that asks for it, for the error.

    Returns
    -------
    float
        The LED current [A].

    Raises
    ------
    CardError
        If no LED current gives it.
    """
    IF = np.geomspace(*_DRIVES, _STEPS)
    read = measure(model, IF, Wiring(hold=VCE)).IO
    if not read[0] < IC <= read.max():
        raise CardError(model.card.name, line, "no LED current gives this collector current")
    k = int((read >= IC).argmax())
    part = np.log(IC / read[k - 1]) / np.log(read[k] / read[k - 1])
    return float(IF[k - 1] * (IF[k] / IF[k - 1]) ** part)
