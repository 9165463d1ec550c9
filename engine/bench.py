"""The bench sheet of a stage: what a meter shows at every point, with the window that every good unit lies in."""

from dataclasses import dataclass, replace

import numpy as np

from engine.build import build
from engine.circuit import solve
from engine.cycling import over_cycle
from engine.meter import METERS, Meter
from engine.operating import STATES, operating_point
from engine.probing import Probe, probes_of, read

_DECIMALS = 12  # of a quantity relative to its largest: what differs by less is the same
_INSTANTS = 32  # of half a cycle; midpoints, which are exact for the square of a sine
_LOOKS = (1.0, 0.5, 0.2, 0.05)  # [-], shares of the crest at which the extreme corners are looked for
_ALTERNATES = 0.05  # [-], share of the rms below which a mean is as good as none
_NOTHING = 1e-9  # [V], rms that is none
_LINE_NODES = frozenset({"VS", "LS", "LC", "LR", "return"})

_CAPACITOR = "With a capacitor in the loop of the line the shape over the cycle decides; no single figure is given."
_BRIDGE = "A diode of a bridge takes one half cycle only; no figure is given."
_MEAN = "Mean over the cycle, the meter's own load left aside."
_SNUBBER = "A snubber lets current through while off, which moves this reading; no figure is given."
_LATCHES = "The triac turns on anew in every half cycle; no figure is given for what ends with that."
_ALONE = "The meter's own load is left aside."
_TWO_LINES = "Both sides are on lines of their own, whose phases are not known; no figure is given."


@dataclass(frozen=True, slots=True)
class Expected:
    """What a meter shows at one point in one state.

    Attributes
    ----------
    expected : float
        Reading of the nominal stage, the meter's resistance in the circuit [V].
    low : float
        Least that a meter may show on a good unit: least of all corners, less the meter's error [V].
    high : float
        Most that it may show [V].
    bare : float
        What stands there without the meter [V].
    """

    expected: float
    low: float
    high: float
    bare: float


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One point of the sheet.

    Attributes
    ----------
    probe : Probe
        Where the leads go.
    coupling : str
        The kind of range: "dc" for the mean, "ac" for the rms.
    states : dict of str to Expected or None
        "closed" and "open"; None where no figure is given.
    remark : str
        Why there is none, or what it leaves aside; usually empty.
    """

    probe: Probe
    coupling: str
    states: dict
    remark: str = ""


@dataclass(frozen=True, slots=True)
class BenchSheet:
    """What to measure on a stage.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    meter : Meter
        What it is measured with.
    rows : tuple of BenchRow
        Every point, the input side first.
    """

    scenario: object
    meter: Meter
    rows: tuple


def bench_sheet(scenario):
    """Return what a meter shows at every point worth probing, in both states.

    Parameters
    ----------
    scenario : Scenario
        The stage, with its meter.

    Returns
    -------
    BenchSheet
        Nominal readings with the windows of all corners and the meter's error.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    On alternating voltage without capacitors the circuit stands at every instant where the line puts it; a meter shows
    the mean on its direct ranges and the true rms on its alternating ones. Those are taken to err as the direct ones.
    Only corners that are extreme somewhere on the way to the crest are followed over the cycle.
    """
    stage, meter = build(scenario), METERS[scenario.conditions.meter]
    probes, rows = probes_of(scenario), []
    for side in ("input", "output"):
        there = [probe for probe in probes if probe.side == side]
        circuits = stage.netlist.take(_different(stage, side))
        rows += _Side(scenario, meter, side, circuits).rows(there)
    return BenchSheet(scenario, meter, tuple(rows))


def _different(stage, side):
    """Return the members of both states that differ on a side, the nominal one of each state first."""
    index = np.arange(stage.count)
    if side == "input":
        scenario = stage.scenarios[0]
        own = {"VS", "R1", "shift", "TA", *scenario.input.spreads(scenario.conditions.tolerance)}
        table = np.stack([stage.varied[name] for name in sorted(own & stage.varied.keys())])
        scale = np.maximum(np.abs(table).max(axis=1), 1e-300)[:, None]
        _, first = np.unique(np.round(table / scale, _DECIMALS), axis=1, return_index=True)
        index = np.sort(first)
    return np.concatenate([index, index + stage.count])


class _Side:
    """One side of a stage under the meter."""

    def __init__(self, scenario, meter, side, netlist):
        self.scenario, self.meter, self.side, self.netlist = scenario, meter, side, netlist
        self.load_on_line = scenario.output.on_line
        self.on_line = scenario.input.kind == "ac"
        self.stores = self.on_line and _stores(scenario.input)

    def rows(self, probes):
        """Return the rows of some probes of this side."""
        own_line = self.load_on_line and self.side == "output"
        if self.on_line and own_line:
            return [BenchRow(probe, "ac", dict.fromkeys(STATES), _TWO_LINES) for probe in probes]
        if self.stores and (self.side == "input" or not own_line):
            return self._stored(probes)
        if self.on_line or own_line:
            found = self._over_the_line(probes, "VCC" if own_line else "VS")
            return list(self._at_load(found)) if own_line else found
        return self._steady(probes)

    def _steady(self, probes):
        """Return rows on direct voltage."""
        shown = read(self.netlist, _pairs(probes), self.meter)
        bare = self._bare(self.netlist, probes)
        return [BenchRow(probe, "dc", self._states(*both)) for probe, *both in zip(probes, shown, bare, strict=True)]

    @staticmethod
    def _bare(netlist, probes):
        """Return what stands between the pairs without a meter, nominal closed and open, shape (probes, 2)."""
        voltages = solve(netlist.take(np.array([0, netlist.batch // 2]))).voltages
        return np.array([voltages[red] - voltages[black] for red, black in _pairs(probes)])

    def _states(self, shown, bare):
        """Return the figures of both states from the readings of all members."""
        low, high = shown - self.meter.error(shown), shown + self.meter.error(shown)
        halves = zip(STATES, *(array.reshape(2, -1) for array in (shown, low, high)), bare, strict=True)
        return {
            state: Expected(_clean(v[0]), float(least.min()), float(most.max()), _clean(without))
            for state, v, least, most, without in halves
        }

    # ------------------------------------------------------------ alternating voltage

    def _over_the_line(self, probes, source):
        """Return rows of a side on a line without capacitors, from the circuit at many instants."""
        halved = source == "VCC" or self.scenario.input.form == "bridge"
        turn = (np.arange(_INSTANTS * (1 if halved else 2)) + 0.5) * np.pi / _INSTANTS
        crest = float(np.abs(self.netlist.sources[source][1]).max())
        held = replace(self.meter, R_in=float(self.meter.resistance(crest)), per_volt=0.0)
        looks = solve(_swept(self.netlist, source, np.arcsin(_LOOKS))).voltages
        bare = solve(_swept(self.netlist.take(np.array([0, self.netlist.batch // 2])), source, turn)).voltages
        rows = []
        for probe, pair in zip(probes, _pairs(probes), strict=True):
            at_looks, without = (
                (found[pair[0]] - found[pair[1]]).reshape(count, -1)
                for found, count in ((looks, len(_LOOKS)), (bare, len(turn)))
            )
            members = self.netlist.take(_extremes(at_looks))
            shown = read(_swept(members, source, turn), [pair], held).reshape(len(turn), -1)
            rows.append(self._one_over_the_line(probe, shown, without, halved and self._turns(probe, source)))
        return rows

    def _turns(self, probe, source):
        """Return whether a voltage of half a cycle comes back the other way round in the next one."""
        return source == "VCC" or (self.side == "input" and {probe.red, probe.black} <= _LINE_NODES)

    def _one_over_the_line(self, probe, v, bare, turns):
        """Return one row from the voltages at all instants, of all members with a meter and of two without."""
        if self.side == "input" and self.scenario.input.form == "bridge" and probe.part in ("D4", "D5"):
            return BenchRow(probe, "ac", dict.fromkeys(STATES), _BRIDGE)
        mean, rms = (np.zeros(v.shape[1]) if turns else v.mean(axis=0)), np.sqrt((v**2).mean(axis=0))
        first = 0 if rms[0] > _NOTHING else len(rms) // 2
        alternates = abs(mean[first]) < _ALTERNATES * rms[first]
        shown, without = (rms, np.sqrt((bare**2).mean(axis=0))) if alternates else (mean, bare.mean(axis=0))
        return BenchRow(probe, "ac" if alternates else "dc", self._states(shown, without))

    def _at_load(self, rows):
        """Return the rows of a load on the line: its rms is known, what lies beside it in part only."""
        found, load = operating_point(self.scenario).states, self.scenario.output
        latches = load.kind == "ac-triac"
        part = "RLOAD" if latches else "RL"
        for row in rows:
            states, remark = row.states, ""
            if row.probe.part == part:
                states = {state: self._widened(found[state].quantities["VLOAD"]) for state in STATES}
                remark = _ALONE
            elif row.probe.part != "VCC":
                states = {
                    "closed": None if latches else states["closed"],
                    "open": None if load.has_snubber else states["open"],
                }
                remark = _LATCHES if latches else _SNUBBER if load.has_snubber else ""
            yield replace(row, coupling="ac", states=states, remark=remark)

    def _stored(self, probes):
        """Return rows of a stage on a line whose capacitors carry it over the cycle."""
        if self.side == "input":
            return [
                self._line_itself(probe) if probe.part == "VS" else _without(probe, "ac", _CAPACITOR)
                for probe in probes
            ]
        rows, cycle = self._steady(probes), over_cycle(self.scenario)
        followed = cycle.out is not None and self.scenario.output.observed == "VOUT"
        return [
            row
            if row.probe.part == "VCC"
            else self._averaged(row, cycle.figures["out_average"])
            if followed and row.probe.part == "OUT"
            else replace(row, states=row.states | {"closed": None}, remark=_CAPACITOR)
            for row in rows
        ]

    def _line_itself(self, probe):
        """Return the row of the line voltage."""
        side = self.scenario.input
        shown = np.tile([side.VS, *side.VS_ends], 2) / np.sqrt(2.0)
        return BenchRow(probe, "ac", self._states(shown, shown[[0, 0]]))

    def _averaged(self, row, found):
        """Return the row of an output whose mean over the cycle is known."""
        return replace(row, states=row.states | {"closed": self._widened(found)}, remark=_MEAN)

    def _widened(self, found):
        """Return the figures of a range that is known, with the meter's error."""
        ends = np.array([found.low, found.high])
        low, high = ends + self.meter.error(ends) * (-1.0, 1.0)
        return Expected(_clean(found.value), float(low), float(high), _clean(found.value))


def _clean(volts):
    """Return a voltage without what rounding leaves of none."""
    return float(volts) if abs(volts) > _NOTHING else 0.0


def _extremes(v):
    """Return the members of both states that are extreme at some instant, the nominal ones first.

    Parameters
    ----------
    v : ndarray, shape (instants, members of both states)
        Voltages [V].
    """
    halves = v.reshape(len(v), 2, -1)
    found = np.unique([0, *halves.argmin(axis=2).ravel(), *halves.argmax(axis=2).ravel()])
    return np.concatenate([found, found + halves.shape[2]])


def _stores(side):
    """Return whether an input on alternating voltage, or the output with it, has a capacitor that counts."""
    return side.capacitive or side.CS != "none" or side.C_out != "none"


def _without(probe, coupling, remark):
    """Return a row without figures."""
    return BenchRow(probe, coupling, dict.fromkeys(STATES), remark)


def _pairs(probes):
    """Return the nodes of the leads."""
    return [(probe.red, probe.black) for probe in probes]


def _swept(netlist, source, turn):
    """Return circuits at many instants of the line, all members of one instant after the other."""
    each = netlist.take(np.tile(np.arange(netlist.batch), len(turn)))
    node, crest = each.sources[source]
    return replace(each, sources=each.sources | {source: (node, crest * np.repeat(np.sin(turn), netlist.batch))})
