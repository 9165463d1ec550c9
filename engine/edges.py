"""Both edges of stages over time: each circuit is that of the state it goes to, started where the other state rests.

The corners that are slowest and fastest, what stores charge around the coupler, and when a course passes a value.
"""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from engine.build import FACTORS, Corners, build_all
from engine.circuit import Coil, Detector, solve, transient
from engine.coupler import delays_of
from engine.coupler.charges import charges_of, stores_of
from engine.watched import Watch, around, coiled, load_capacitance, strays

_ALLOWED = 3e-4  # [V], error of a step: stored charge goes with exp(v/VT), so a hundredth of VT counts
_LITTLE = 5e-12  # [F], at the output of a coupler that has no transistor there
_SETTLED = 0.01  # [-], share of the swing within which an edge has come to rest
_FAR = 0.08  # [-], share of the swing that may be left where all times are known: some edges end in a long tail
_EXTENSIONS = 3  # times that the course is followed on, each time to four times as long
_LONG = 100.0  # [-], time constants that are followed to begin with; the steps grow, so that long costs little
_HALVINGS = 24  # of the step in which a value is passed
_MOVES = 1e-6  # [-], least swing over the largest value that counts as moving


class SpeedCorners(Corners):
    """The corners that are extreme for speed: photocurrent, load resistor and output supply at both ends each.

    Parameters
    ----------
    inputs : dict of str to Spread
        What varies on the input side beside `FACTORS`.
    outputs : dict of str to Spread
        What varies on the output side.
    warm : bool
        Whether the ambient temperature has ends of its own.
    falls_when_lit : bool
        Whether the lit detector pulls the output down.

    Notes
    -----
    Supply, R1, forward voltage and transfer ratio act on the output by way of the photocurrent alone, so they go
    together. The receiver's leakage goes against the detector where RL is large: both slow the edge into the dark.

    References
    ----------
    Derived here; held against all corners by a test.
    """

    def __init__(self, inputs, outputs, warm, falls_when_lit):
        rows = [dict.fromkeys((*FACTORS, *inputs, *outputs, "TA"), 0)]
        for light, RL, VCC, TA in product((-1, 1), (-1, 1), (-1, 1), (-1, 1) if warm else (0,)):
            row = {"VS": light, "R1": -light, "VF": -light, "CTR": light, "VCC": VCC, "RL": RL}
            row |= {"leak": -RL if falls_when_lit else RL, "TA": TA}
            row |= {name: spread.more * light for name, spread in inputs.items()}
            rows.append(row | {name: -spread.more * RL for name, spread in outputs.items()})
        self.members = len(rows)
        self.ways = {name: np.array([row[name] for row in rows]) for name in rows[0]}
        self.ways["threshold"] = self.ways["CTR"]


@dataclass(frozen=True, slots=True)
class Course:
    """What is read at the output over an edge of one member.

    Attributes
    ----------
    t : ndarray, shape (points,)
        Time after the input's edge, rising [s].
    y : ndarray, shape (points,)
        What is read [V or A].
    end : float
        Where the state that it goes to rests [V or A].
    limit : float
        From where on the new level is surely read [V or A].
    rises : bool
        Whether the new level is the upper one.
    """

    t: np.ndarray
    y: np.ndarray
    end: float
    limit: float
    rises: bool

    @property
    def moves(self):
        """Return whether there is an edge at all."""
        return abs(self.end - self.y[0]) > _MOVES * max(abs(self.end), abs(self.y[0]))

    def reached(self, share):
        """Return when a share of the swing is passed for the first time.

        Parameters
        ----------
        share : float
            Share of the way from rest to rest [-].

        Returns
        -------
        float
            Time; infinite if it never is [s].
        """
        if not self.moves:
            return np.inf
        over = (self.y - self.y[0]) / (self.end - self.y[0]) - share
        past = np.flatnonzero(over >= 0.0)
        return _zero(self.t, over, past[0]) if len(past) else np.inf

    def valid(self):
        """Return from when on the new level is surely read.

        Returns
        -------
        float
            Time; infinite if it never is [s].
        """
        over = (self.y - self.limit) * (1.0 if self.rises else -1.0)
        short = np.flatnonzero(over < 0.0)
        if not len(short):
            return 0.0
        return _zero(self.t, over, short[-1] + 1) if short[-1] + 1 < len(over) else np.inf


def _zero(t, y, k):
    """Return where a course that is negative before point k and not at it passes zero, on a smooth curve."""
    if k == 0:
        return float(t[0])
    # Plain numbers, which take a fraction of the time of an array's.
    first = max(k - 2, 0)
    t, y, k = t[first : k + 2].tolist(), y[first : k + 2].tolist(), k - first
    h = t[k] - t[k - 1]
    a, b = y[k - 1], y[k]
    chord = b - a
    before = (a - y[k - 2]) / (t[k - 1] - t[k - 2]) * h if k > 1 else chord
    after = (y[k + 1] - b) / (t[k + 1] - t[k]) * h if k + 1 < len(t) else chord
    # Slopes as of a monotone curve: the harmonic mean of the chords on both sides.
    left, right = (2.0 * s * chord / (s + chord) if s * chord > 0.0 else 0.0 for s in (before, after))
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        u = 0.5 * (low + high)
        value = a + u * (left + u * (3.0 * chord - 2.0 * left - right + u * (left + right - 2.0 * chord)))
        low, high = (u, high) if value < 0.0 else (low, u)
    return t[k - 1] + high * h


@dataclass(frozen=True, slots=True)
class Edges:
    """Both edges of the members of one scenario, the nominal one first.

    Attributes
    ----------
    on : tuple of Course
        The LED is switched on.
    off : tuple of Course
        The LED is switched off.
    bare : tuple of (Course, Course)
        Both edges of the nominal stage without a load capacitance.
    varied : dict of str to ndarray, shape (members,)
        Everything that varies, by name.
    IF : float
        LED current of the nominal stage while lit [A].
    light : dict of str to (ndarray, ndarray)
        "on" and "off" to times and LED current of the nominal stage, shape (points,) each [s, A].
    """

    on: tuple
    off: tuple
    bare: tuple
    varied: dict
    IF: float
    light: dict


def edges_of(scenarios, draw=None):
    """Return both edges of scenarios that are wired alike, all of them as one batch.

    Parameters
    ----------
    scenarios : tuple of Scenario
        The stages, of one `engine.build.wiring`.
    draw : object or None
        What makes the members; `SpeedCorners` if None.

    Returns
    -------
    list of Edges
        In the order of `scenarios`.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    draw = draw or corners_of(scenarios[0])
    stage = build_all(scenarios, draw)
    count, size = stage.count, stage.members
    rest = solve(stage.netlist)
    nominal = np.arange(0, count, size)
    to, since, loaded = _batch(np.arange(count), nominal, count)
    CL = np.repeat([load_capacitance(scenario.output) or 0.0 for scenario in scenarios], size)
    circuit = charged(stage, rest, to, since, loaded * CL[to % count])
    until = _LONG * time_constants(stage, circuit, CL)[to % count]
    read = Watch(stage, rest, to, since)
    start = begun(circuit, rest.voltages, to, since)
    half = len(to) // 2
    t, y, light = _followed(circuit, start, until, read, np.concatenate([nominal, half + nominal]))
    late = transport(scenarios[0].coupling.model, draw, len(scenarios), to, count)
    courses = [_course(t[:, k], y[:, k], read, k, late[k]) for k in range(len(to))]
    IF = _lit_current(stage, rest)
    found = []
    for k, place in enumerate(nominal):
        part = slice(place, place + size)
        on, off = (tuple(courses[start : start + count][part]) for start in (0, half))
        bare = courses[count + k], courses[half + count + k]
        varied = {name: array[part] for name, array in stage.varied.items()}
        lit = {
            name: _distinct(t[:, at], light[:, m])
            for name, at, m in (("on", place, k), ("off", half + place, len(nominal) + k))
        }
        found.append(Edges(on, off, bare, varied, float(IF[place]), lit))
    return found


def charged(stage, rest, to, since, CL):
    """Return circuits of a stage with all that they store.

    Parameters
    ----------
    stage : Stage
        The circuits that edges go between.
    rest : Solution
        Where they rest.
    to : ndarray of int, shape (batch,)
        Place in the stage of the state that is gone to [-].
    since : ndarray of int, shape (batch,)
        Place of the state that is left [-].
    CL : ndarray, shape (batch,)
        Load capacitance, where the output side has a place for one [F].

    Returns
    -------
    Netlist
        The circuits.
    """
    charges = charges_of(stage.scenarios[0].coupling.model)
    netlist = replace(stage.netlist, stores=stage.netlist.stores + stores_of(stage.netlist, charges))
    circuit = coiled(netlist.take(to), stage, rest, to % stage.count, since)
    circuit = replace(circuit, stores=(*circuit.stores, *around(stage.scenarios, circuit, CL)))
    return replace(circuit, stores=(*circuit.stores, *strays(circuit)))


def transport(model, draw, repeats, to, count):
    """Return by how much the output of every circuit lags behind its light.

    Parameters
    ----------
    model : TransistorModel or SwitchingModel
        The coupler.
    draw : object
        What made the members; a weak specimen is the slowest to be lit and the quickest to go dark.
    repeats : int
        Scenarios, one after the other in every state [-].
    to : ndarray of int, shape (batch,)
        Place in the stage of the state that is gone to [-].
    count : int
        Members of one state over all scenarios [-].

    Returns
    -------
    ndarray, shape (batch,)
        Delay [s].
    """
    delays, way = delays_of(model), np.tile(draw.ways["CTR"], repeats)[to % count]
    lit, dark = (np.array((one.least, one.typical, one.largest)) for one in (delays.on, delays.off))
    return np.where(to < count, lit[1 - way], dark[1 + way])


def corners_of(scenario):
    """Return what makes the members of a scenario.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    SpeedCorners
        The corners that are extreme for speed.
    """
    conditions, side, load = scenario.conditions, scenario.input, scenario.output
    warm = conditions.TA_ends != (conditions.TA, conditions.TA)
    own = side.spreads(conditions.tolerance), load.spreads(conditions.tolerance)
    return SpeedCorners(*own, warm, load.level_when_lit == load.words[0])


def _batch(members, nominal, count):
    """Return state gone to, state left, and whether CL is there: on edges, then off, nominal ones without CL last."""
    some = np.concatenate([members, nominal])
    loaded = np.concatenate([np.ones(len(members)), np.zeros(len(nominal))])
    to, since = np.concatenate([some, some + count]), np.concatenate([some + count, some])
    return to, since, np.tile(loaded, 2)


def begun(circuit, volts, to, since):
    """Return the voltages to begin with: those of the state that is left.

    Parameters
    ----------
    circuit : Netlist
        The circuits, with all that they store.
    volts : dict of str to ndarray
        Where the whole stage rests [V].
    to : ndarray of int, shape (batch,)
        Place in the stage of the state that is gone to [-].
    since : ndarray of int, shape (batch,)
        Place of the state that is left [-].

    Returns
    -------
    dict of str to ndarray, shape (batch,)
        Potential of every node [V].

    Notes
    -----
    On the input side what stores nothing jumps at once, so it begins where the state that is gone to has it; only the
    voltages across what stores charge are carried over. The output follows the light, which does not jump.
    """
    start, placed = {node: v[since] for node, v in volts.items()}, set()
    start |= {node: volts[node][to] for node, side in circuit.nodes.items() if side == "input"}
    for store in circuit.stores:
        if store.part == "stray" or "input" not in (circuit.nodes.get(store.a), circuit.nodes.get(store.b)):
            continue
        across = volts[store.a][since] - volts[store.b][since]
        if store.a not in placed and store.a in circuit.nodes:
            start[store.a] = start[store.b] + across
        elif store.b not in placed and store.b in circuit.nodes:
            start[store.b] = start[store.a] - across
        placed |= {store.a, store.b}
    return start


def time_constants(stage, circuit, CL):
    """Return a time constant for every member of a state that is not far too short: storage, load, filter, coil.

    Parameters
    ----------
    stage : Stage
        The circuits that edges go between.
    circuit : Netlist
        Some of them, with all that they store.
    CL : ndarray, shape (count,)
        Load capacitance [F].

    Returns
    -------
    ndarray, shape (count,)
        Time [s].
    """
    load, gain, transistors = stage.scenarios[0].output, 1.0, 0
    charges = charges_of(stage.scenarios[0].coupling.model)
    for device in circuit.devices:
        if isinstance(device, Detector) and device.part == "U1":
            gain, transistors = gain * float(device.params.beta_F.max()), transistors + 1
    own = (1.0 + gain) * charges.C_bc if transistors else _LITTLE
    filtered = sum(float(store.C[0]) for store in circuit.stores if store.part == "CF")
    found = (stage.RL + getattr(load, "R_by_hand", 0.0)) * (CL + own) + filtered * stage.varied["R1"]
    if transistors:
        found = found + 2.0 * charges.transit_R
    if load.kind == "relay":
        found = found + load.L_coil / stage.varied["K1"]
    return found


def _followed(circuit, start, until, read, watched):
    """Return times, what is read, and the LED current of some; followed until all rest, or as long as it is worth."""
    times, read_off, light, passed = [], [], [], np.zeros_like(until)
    accuracy = _ALLOWED / max(1.0, *(float(np.abs(volts).max()) for _, volts in circuit.sources.values()))
    begin = None
    for _ in range(_EXTENSIONS + 1):
        course = transient(circuit, start, until - passed, accuracy)
        times.append(passed + course.t)
        read_off.append(read(course.voltages, course.coils))
        light.append(LED_current(circuit, course.voltages, watched))
        begin = read_off[0][0] if begin is None else begin
        if _through(begin, read_off[-1][-1], read).all():
            break
        start = {node: volts[-1] for node, volts in course.voltages.items()}
        circuit = wound(circuit, course)
        passed, until = until, 4.0 * until
    return np.concatenate(times), np.concatenate(read_off), np.concatenate(light)


def LED_current(circuit, voltages, some):
    """Return the LED current of some circuits over time.

    Parameters
    ----------
    circuit : Netlist
        The circuits.
    voltages : dict of str to ndarray, shape (steps, batch)
        Potential of every node that is solved for [V].
    some : ndarray of int, shape (some,)
        Which of them [-].

    Returns
    -------
    ndarray, shape (steps, some)
        Current, of both directions together where there are two LEDs [A].
    """
    held = {node: volts for node, volts in circuit.sources.values()}
    held |= dict.fromkeys(circuit.references.values(), np.zeros(circuit.batch))
    steps, total = len(next(iter(voltages.values()))), 0.0
    for device in circuit.devices:
        if device.part == "LED" and hasattr(device, "anode"):
            a, b = (voltages.get(node, held.get(node))[..., some] for node in (device.anode, device.cathode))
            across = np.broadcast_to(a - b, (steps, len(some)))
            whole = device.take(np.tile(some, steps))
            total = total + whole.evaluate(across.reshape(-1, 1))[0].reshape(steps, len(some))
    return total


def _through(begin, now, read):
    """Return which members are at rest, or so far that their times are known."""
    left, swing = np.abs(now - read.end), np.abs(read.end - begin)
    way = np.where(read.rises, 1.0, -1.0)
    limit = np.where(read.rises, read.high, read.low)
    sure = (way * (now - limit) >= 0.0) | (way * (read.end - limit) < 0.0)
    still = _MOVES * np.maximum(np.abs(read.high), np.abs(begin))
    return (left <= np.maximum(_SETTLED * swing, still)) | (sure & (left <= _FAR * swing))


def wound(circuit, course):
    """Return circuits whose coils carry what they carried at the end of a course.

    Parameters
    ----------
    circuit : Netlist
        The circuits.
    course : Course
        How they went on, as `engine.circuit.transient` has it.

    Returns
    -------
    Netlist
        The circuits.
    """
    if not course.coils:
        return circuit
    kept = [s if s.part not in course.coils else _carrying(s, course.coils[s.part][-1]) for s in circuit.stores]
    return replace(circuit, stores=tuple(kept))


def _carrying(store, current):
    """Return a coil with a current to begin with; of its part's other stores each as it is."""
    return replace(store, start=current) if isinstance(store, Coil) else store


def _distinct(t, y):
    """Return a course without the times at which it waited for others."""
    on = np.concatenate([[True], np.diff(t) > 0.0])
    return t[on], y[on]


def _course(t, y, read, k, late):
    """Return the course of one member, as much later."""
    t, y = _distinct(t, y)
    t = t + late
    if late > 0.0:
        t, y = np.concatenate([[0.0], t]), np.concatenate([y[:1], y])
    limit = read.high[k] if read.rises[k] else read.low[k]
    return Course(t, y, float(read.end[k]), float(limit), bool(read.rises[k]))


def _lit_current(stage, rest):
    """Return the LED current of every member while lit [A]."""
    currents = zip(stage.netlist.devices, rest.device_currents, strict=True)
    return sum(i[: stage.count, 0] for device, i in currents if device.part == "LED")
