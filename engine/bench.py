"""The bench sheet of a stage: what a meter shows at every point, with the window that every good unit lies in."""

from dataclasses import dataclass, replace

import numpy as np

from engine.build import build
from engine.cycling import over_cycle
from engine.line_meter import AC, DC, LineMeter, readable, unread_because
from engine.meter import METERS, Meter
from engine.operating import STATES
from engine.probing import Probe, probes_of

_DECIMALS = 12  # of a quantity relative to its largest: what differs by less is the same
_MEAN = "Mean over the cycle, the meter's own load left aside; while dark no figure is given."
_NOTHING = 1e-9  # [V], what is as good as none


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
        The kind of range: "dc" for the mean, "ac" for the rms of what alternates.
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
    On alternating voltage a meter shows the mean on its direct ranges and the true rms of what alternates on the others
    (`engine.line_meter`). Those are taken to err as the direct ones.
    """
    meter = METERS[scenario.conditions.meter]
    line, ideal = LineMeter(scenario, meter), LineMeter(scenario, replace(meter, R_in=np.inf, per_volt=0.0))
    probes = probes_of(scenario)
    told = {probe.id for probe in readable(scenario, probes)}
    stage = line.ready(build(scenario))
    nominal = stage.netlist.take(np.array([0, stage.count]))
    different, same_as = _different(stage)
    pairs = {
        side: [(p.red, p.black) for p in probes if p.side == side and p.id in told] for side in ("input", "output")
    }
    kinds = {side: line.couplings(stage, side, pairs[side]) for side in pairs}
    shown, light = line.read_input(stage.netlist.take(different), pairs["input"], kinds["input"], len(different) // 2)
    if line.follows:  # the meter is there only where it matters, so nothing stands without it to compare with
        bare, dim = (found[..., [0, len(different) // 2]] for found in (shown, light))
    else:
        bare, dim = ideal.read_input(nominal, pairs["input"], kinds["input"])
    read = list(zip(kinds["input"], shown, bare, strict=True))
    if pairs["output"]:
        shown = line.read_output(stage.netlist, pairs["output"], kinds["output"], light[:, same_as])
        bare = ideal.read_output(nominal, pairs["output"], kinds["output"], dim)
        read += zip(kinds["output"], shown, bare, strict=True)
    rows = iter(read)
    return BenchSheet(
        scenario, meter, tuple(_row(p, next(rows), meter) if p.id in told else _untold(scenario, p) for p in probes)
    )


def _different(stage):
    """Return the members of both states that differ on the input side, and which of them each member is like there.

    The nominal one of each state comes first among them.
    """
    scenario = stage.scenarios[0]
    own = {"VS", "R1", "shift", "TA", *scenario.input.spreads(scenario.conditions.tolerance)}
    table = np.stack([stage.varied[name] for name in sorted(own & stage.varied.keys())])
    scale = np.maximum(np.abs(table).max(axis=1), 1e-300)[:, None]
    _, first, like = np.unique(np.round(table / scale, _DECIMALS), axis=1, return_index=True, return_inverse=True)
    order = np.argsort(first)
    place = np.argsort(order)[like.ravel()]
    index = first[order]
    return np.concatenate([index, index + stage.count]), np.concatenate([place, place + len(index)])


def _row(probe, read, meter):
    """Return the row of a point from the kind of range, the readings of all members and those without a meter."""
    coupling, shown, bare = read
    low, high = shown - meter.error(shown), shown + meter.error(shown)
    halves = zip(STATES, *(array.reshape(2, -1) for array in (shown, low, high)), bare, strict=True)
    states = {
        state: Expected(_clean(v[0]), float(least.min()), float(most.max()), _clean(without))
        for state, v, least, most, without in halves
    }
    return BenchRow(probe, coupling, states)


def _untold(scenario, probe):
    """Return the row of a point whose reading is not told; that of an output which pulses has its mean."""
    states, because = dict.fromkeys(STATES), unread_because(scenario)
    if probe.part == "OUT" and not scenario.output.on_line:
        meter, found = METERS[scenario.conditions.meter], over_cycle(scenario).figures["out_average"]
        ends = np.array([found.low, found.high])
        low, high = ends + meter.error(ends) * (-1.0, 1.0)
        states["closed"], because = Expected(found.value, float(low), float(high), found.value), _MEAN
    return BenchRow(probe, AC if scenario.output.on_line else DC, states, because)


def _clean(volts):
    """Return a voltage without what rounding leaves of none."""
    return float(volts) if abs(volts) > _NOTHING else 0.0
