"""Output characteristics of the coupler in its stage, with the load line of the output side and both operating points.

The coupler is measured alone on a test circuit; the output side is asked alone what current it gives at which voltage.
Both states of the solved stage must lie where the two meet.
"""

from dataclasses import dataclass

import numpy as np

from engine.build import build, specimens
from engine.circuit import Junction, NetlistBuilder, solve
from engine.constants import ZERO_CELSIUS, thermal_voltage
from engine.coupler.bench import Wiring, measure
from engine.devices import JunctionParams
from engine.operating import observed

SHARES = 0.25, 0.5, 1.0, 2.0
"""LED currents of the family of curves, relative to that of the lit stage, unless the load takes far less [-]."""

BELOW = 0.5, 1.0, 2.0
"""The same beside it where the load takes far less, relative to the current that is about enough [-]."""

_FAR_LESS = 0.25  # [-], of what the lit stage could give

_LEAST_IF = 1e-6  # [A], LED current below which a family is drawn around the card's test current instead
_STEPS = 61
_LINE_STEPS = 81
_BEYOND = 1.1  # [-], how far the curves go beyond the voltage that the output side has
_NO_SUPPLY = 1e-3  # [V], below which there is nothing to draw a load line of
_NEXT_TO_NOTHING = 1e-12  # [S], what stands for a detector that is not there
_SHORT = 1e4  # [S], what stands for a short circuit
_NO_DIODE = 1e-30  # [A], saturation current of a junction that stands for the device which a circuit must have
_STIFF = 1e6  # [V], a source behind a resistance that is as good as a current source
_USUAL_VF = 1.2  # [V]
_IDLE = 1e-9  # [A], LED current that the iteration begins with where none is fed
_BLOCKING = -1.0  # [V], where the iteration begins at a junction that blocks
_NEAR_OPEN = np.geomspace(1e-7, 5e-3, 15)  # [-], shares of a load line's current where a diode lets go of it
_SPAN = 0.2, 3.0  # [-], LED currents around the thresholds, relative to the least and to the largest of them
_EDGE = 1.0 + np.array([-0.02, -0.004, -0.002, 0.0, 0.002, 0.004, 0.02])  # [-], around a threshold, where it is steep


@dataclass(frozen=True, slots=True)
class Meeting:
    """An operating point: where characteristic and load line meet.

    Attributes
    ----------
    state : str
        "closed" or "open".
    IF : float
        LED current [A].
    V : float
        Voltage across the output [V].
    current : float
        Current into its first terminal [A].
    """

    state: str
    IF: float
    V: float
    current: float


@dataclass(frozen=True, slots=True)
class Characteristics:
    """Collector current over its voltage, and the load line.

    Attributes
    ----------
    V : ndarray, shape (n,)
        Collector-emitter voltages, rising [V].
    family : tuple of (float, ndarray)
        LED current and the collector current over `V` of the nominal specimen; the dark stage first [A, A].
    low : ndarray, shape (n,)
        Collector current of the weakest specimen at the least LED current of the lit stage, the less of both ends of
        the temperature [A].
    high : ndarray, shape (n,)
        Of the strongest specimen at the most LED current, the more of both ends of the temperature [A].
    IF_ends : tuple of (float, float)
        Least and most LED current of the lit stage [A].
    TA_ends : tuple of (float, float)
        Ends of the ambient temperature [degC].
    line : ndarray, shape (n,)
        Current that the output side gives at `V`; not a number where it cannot have that voltage [A].
    line_low, line_high : ndarray, shape (n,)
        Its extremes over all corners [A].
    straight : float or None
        Resistance of the load line, where it is a straight one [ohm].
    V_open : float
        Voltage of the output side without the coupler [V].
    I_short : float
        Current of the output side into a short circuit [A].
    meetings : tuple of Meeting
        Both operating points.
    """

    V: np.ndarray
    family: tuple
    low: np.ndarray
    high: np.ndarray
    IF_ends: tuple
    TA_ends: tuple
    line: np.ndarray
    line_low: np.ndarray
    line_high: np.ndarray
    straight: float | None
    V_open: float
    I_short: float
    meetings: tuple


@dataclass(frozen=True, slots=True)
class Switching:
    """Voltage across the output of a coupler with a threshold over LED current, in its stage.

    Attributes
    ----------
    IF : ndarray, shape (n,)
        LED currents, rising [A].
    V : ndarray, shape (n,)
        Voltage across the output of the nominal specimen [V].
    low, high : ndarray, shape (n,)
        Extremes over weakest and strongest specimen at both ends of the temperature [V].
    threshold : tuple of (float, float, float)
        LED current that turns on the nominal specimen, least and most over the others [A].
    IF_lit : tuple of (float, float, float)
        LED current of the lit stage, its least and its most [A].
    TA_ends : tuple of (float, float)
        Ends of the ambient temperature [degC].
    meetings : tuple of Meeting
        Both operating points.
    """

    IF: np.ndarray
    V: np.ndarray
    low: np.ndarray
    high: np.ndarray
    threshold: tuple
    IF_lit: tuple
    TA_ends: tuple
    meetings: tuple


# ---------------------------------------------------------------- the output side alone


def load_line(load, values, steps=_LINE_STEPS):
    """Return what the output side gives in place of its coupler, from nothing drawn to a short circuit.

    Parameters
    ----------
    load : Load
        The output side.
    values : dict of str to ndarray, shape (members,)
        What varies, as `Stage.varied` has it.
    steps : int
        Evenly spaced points of a straight line; a few more stand near the open end [-].

    Returns
    -------
    V : ndarray, shape (members, points)
        Voltage between the coupler's terminals, from that of the open output to nothing [V].
    current : ndarray, shape (members, points)
        Current from the first terminal to the second [A].

    Raises
    ------
    ConvergenceError
        If the circuit cannot be solved, which is a defect.

    Notes
    -----
    A conductance stands in for the coupler and goes from nothing to a short circuit. Where the output side is a source
    behind a resistor the points are evenly spaced. Nothing is assumed of it: an indicator, a receiver's input, a
    transistor's base are solved as they are.

    References
    ----------
    Derived here.
    """
    V_open, _ = _across(load, values, np.array([_NEXT_TO_NOTHING]))
    _, I_short = _across(load, values, np.array([_SHORT]))
    inner = np.abs(I_short) / np.maximum(np.abs(V_open), 1e-9)
    drawn = np.union1d(np.linspace(0.0, 1.0, steps)[1:-1], _NEAR_OPEN)
    G = np.maximum(inner * drawn / (1.0 - drawn), _NEXT_TO_NOTHING)
    return _across(load, values, np.hstack([np.full_like(V_open, _NEXT_TO_NOTHING), G, np.full_like(V_open, _SHORT)]))


def _across(load, values, G):
    """Return voltage and current of conductances, shape (members, steps) or (steps,), in place of the coupler."""
    members = len(values["VCC"])
    G = np.broadcast_to(G, (members, G.shape[-1]))
    repeated = {name: np.repeat(array, G.shape[1]) for name, array in values.items()}
    net = NetlistBuilder(G.size)
    load.wire(net, repeated["TA"], repeated)
    a, b = load.detector
    net.conductance("U1", a, b, G.ravel())
    idle = JunctionParams(np.full(G.size, _NO_DIODE), thermal_voltage(repeated["TA"] + ZERO_CELSIUS))
    net.device(Junction("U1", load.reference, "VCC", idle, np.full(G.size, _BLOCKING)))
    potentials = solve(net.build()).voltages
    zero = np.zeros(G.size)
    V = potentials.get(a, zero) - potentials.get(b, zero)
    return V.reshape(G.shape), (V * G.ravel()).reshape(G.shape)


# ---------------------------------------------------------------- the coupler alone


def _family(scenario, V, currents, which, TA):
    """Return the collector current at every LED current and voltage, shape (currents, voltages)."""
    changed = {name: three[which] for name, three in specimens(scenario).items()}
    if scenario.coupling.RBE != "none":
        changed["RBE"] = scenario.coupling.RBE
    IF, hold = (array.ravel() for array in np.meshgrid(currents, V, indexing="ij"))
    IO = measure(scenario.coupling.model, IF, Wiring(hold=hold), TA=TA, **changed).IO
    return IO.reshape(len(currents), len(V))


def _levels(scenario, meetings, V_end, I_short):
    """Return LED currents for a family of curves: those of both states, and such around the lit stage's."""
    lit, dark = (max(meeting.IF, 0.0) for meeting in meetings)
    base = lit if lit > _LEAST_IF else scenario.coupling.data.CTR_IF
    flat = abs(float(_family(scenario, np.array([V_end]), [base], 0, scenario.conditions.TA)[0, 0]))
    enough = abs(I_short) / flat if flat > 0.0 else 1.0
    shares = SHARES if enough >= _FAR_LESS or enough == 0.0 else tuple(enough * share for share in BELOW)
    return sorted({dark, lit, *(base * share for share in shares)})


def characteristics_of(scenario, V_end=None):
    """Return the output characteristics of the coupler in its stage, and the load line.

    Parameters
    ----------
    scenario : Scenario
        The stage, its coupler with a transistor.
    V_end : float or None
        Voltage that the curves end at; a little beyond the output side's own if None [V].

    Returns
    -------
    Characteristics
        Curves, load line, operating points.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If a circuit cannot be solved, which is a defect.

    References
    ----------
    Derived here, on the test circuits of `engine.coupler.bench`; the load line in common practice is VCC - IC RL.
    """
    stage = build(scenario)
    point = observed(stage).point()
    meetings = _meetings(point, scenario)
    lines = load_line(scenario.output, stage.varied)
    V_open, I_short = float(lines[0][0, 0]), float(lines[1][0, -1])
    V = _voltages(V_end or _end(lines[0][:, 0], scenario.coupling.data.CTR_VCE), V_open, meetings)
    TA, ends = scenario.conditions.TA, scenario.conditions.TA_ends
    levels = _levels(scenario, meetings, V[np.abs(V).argmax()], I_short)
    family = _family(scenario, V, levels, 0, TA)
    IF = point.states["closed"].quantities["IF"]
    weakest, strongest = (
        np.array([_family(scenario, V, [max(current, 0.0)], which, end)[0] for end in dict.fromkeys(ends)])
        for which, current in ((1, IF.low), (2, IF.high))
    )
    line, line_low, line_high = _on_grid(lines, V)
    return Characteristics(
        V, tuple(zip(levels, family, strict=True)), weakest.min(axis=0), strongest.max(axis=0), (IF.low, IF.high), ends,
        line, line_low, line_high, _straight(lines), V_open, I_short, meetings,
    )  # fmt: skip


def _meetings(point, scenario):
    """Return both operating points, of the voltage between the terminals that the coupler works with."""
    a, b = scenario.output.detector
    found = []
    for name, state in point.states.items():
        V = sum(sign * state.nodes[node].value for node, sign in ((a, 1), (b, -1)) if node in state.nodes)
        found.append(Meeting(name, state.quantities["IF"].value, V, state.quantities["IC"].value))
    return tuple(found)


def _end(voltages, usual):
    """Return a voltage a little beyond the farthest from nothing, or the usual one where all are nothing."""
    farthest = float(voltages[np.abs(voltages).argmax()])
    return _BEYOND * farthest if abs(farthest) > _NO_SUPPLY else usual


def _voltages(end, V_open, meetings):
    """Return voltages from nothing to an end, close together where the knee is, with the operating points' among."""
    steps = end * np.linspace(0.0, 1.0, _STEPS) ** 2
    among = [m.V for m in meetings] + [V_open]
    return np.unique([*steps, *(volts for volts in among if min(0.0, end) <= volts <= max(0.0, end))])


def _on_grid(lines, V):
    """Return the nominal line's current at voltages, and its extremes over all members."""
    found = np.full((len(lines[0]), len(V)), np.nan)
    for row, volts, current in zip(found, *lines, strict=True):
        rising = np.argsort(volts, kind="stable")
        rounding = 1e-6 * np.ptp(volts)
        inside = (volts.min() - rounding <= V) & (volts.max() + rounding >= V)
        row[inside] = np.interp(V[inside], volts[rising], current[rising])
    known = np.isfinite(found)
    low, high = (
        np.where(known.any(axis=0), extreme(np.where(known, found, beyond), axis=0), np.nan)
        for extreme, beyond in ((np.min, np.inf), (np.max, -np.inf))
    )
    return found[0], np.where(known.all(axis=0), low, np.where(known.any(axis=0), 0.0, np.nan)), high


def _straight(lines):
    """Return the resistance of the nominal line where it is straight to a millionth, else None [ohm]."""
    volts, current = lines[0][0], lines[1][0]
    if not abs(current[-1]) > 0.0:
        return None
    R = (volts[0] - volts[-1]) / (current[-1] - current[0])
    off = np.abs(volts - (volts[0] - R * (current - current[0]))).max()
    return float(R) if off <= 1e-6 * abs(volts[0]) else None


# ---------------------------------------------------------------- couplers with a threshold


def switching_of(scenario):
    """Return the voltage across the output of a coupler with a threshold over LED current, in its stage.

    Parameters
    ----------
    scenario : Scenario
        The stage, its coupler with a threshold.

    Returns
    -------
    Switching
        The curve, the band in which it may turn on, operating points.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If a circuit cannot be solved, which is a defect.

    References
    ----------
    Derived here: the stage's own output side, the LED fed by a current.
    """
    stage, model, ends = build(scenario), scenario.coupling.model, scenario.conditions.TA_ends
    point, known = observed(stage).point(), specimens(scenario)
    nominal = {name: float(array[0]) for name, array in stage.varied.items()}
    others = [
        nominal | {name: three[which] for name, three in known.items()} | {"TA": end}
        for which in (1, 2)
        for end in dict.fromkeys(ends)
    ]
    thresholds = [
        float(model.threshold(one["threshold"], np.array([one["TA"] + ZERO_CELSIUS]))[0]) for one in (nominal, *others)
    ]
    lit = point.states["closed"].quantities["IF"]
    meetings = _meetings(point, scenario)
    IF = _around(thresholds, [m.IF for m in meetings])
    V = np.array([_fed(scenario, model, one, IF) for one in (nominal, *others)])
    band = thresholds[0], min(thresholds), max(thresholds)
    return Switching(
        IF, V[0], V.min(axis=0), V.max(axis=0), band, (lit.value, lit.low, lit.high), ends, meetings
    )  # fmt: skip


def _around(thresholds, among):
    """Return LED currents around thresholds, close together where they are steep, with those of the stage among."""
    low, high = _SPAN[0] * min(thresholds), max(_SPAN[1] * max(thresholds), 1.1 * max(among))
    edges = np.outer(thresholds, _EDGE).ravel()
    return np.unique([*np.geomspace(low, high, _STEPS), *edges, *(IF for IF in among if low < IF < high)])


def _fed(scenario, model, values, IF):
    """Return the voltage across the output at LED currents that are fed."""
    load, n = scenario.output, len(IF)
    values = {name: np.full(n, value) for name, value in values.items()}
    T = values["TA"] + ZERO_CELSIUS
    net = NetlistBuilder(n)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", _STIFF)
    net.conductance("R1", "VS", "A", IF / (_STIFF - _USUAL_VF))
    load.wire(net, values["TA"], values)
    demand = load.needed_current(model.V_lit, values["VCC"], values["RL"], T, values)
    guess = {"IF": np.maximum(IF, _IDLE), "demand": demand, "VCC": load.across_coupler(values)}
    out = (*load.detector, "VCC") if "supply" in model.terminals else load.detector
    model.place(net, ("A", "return"), out, T, values | guess)
    potentials, zero = solve(net.build()).voltages, np.zeros(n)
    a, b = load.detector
    return potentials.get(a, zero) - potentials.get(b, zero)
