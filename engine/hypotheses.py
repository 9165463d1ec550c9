"""What every fault of a stage would make a meter show at every point, over the tolerances of the sound parts.

Worked out once for a stage and a meter and kept; `engine.diagnosis` compares readings with it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from engine.build import build_all
from engine.decades import Scale
from engine.faults import GOOD, faults_of, prior_of
from engine.faulty import faulty
from engine.line_meter import LineMeter, on_line, readable
from engine.meter import METERS
from engine.once import once
from engine.operating import STATES
from engine.probing import probes_of
from engine.sampling import Samples

TOLD_APART = 0.05
"""Mean probability that stages with one fault give to another, as likely beforehand, below which the two can be told
apart [-]: one half where both look the same, a twentieth where their readings are 3.7 standard deviations apart."""

HIGHEST_READING = 2000.0
"""What a reading may be at the most, either way [V]."""

_SAMPLES = 32  # stages of every fault; about four for each quantity that varies in a usual stage
_FEWER = 16  # on a line, where each of them is solved at many instants
_DRAWN = 7  # seed of them
_CHUNK = 1500  # circuits that are read together, times the points
_SLACK = 0.1  # [-], share of a reading's deviation that its straight line on the others does not explain
_CERTAIN = 3.0**0.5  # limits of even distribution over its standard deviation
_DISTINCT = 1.5  # [-], standard deviations between two looks from which a fault has both
_SIDES = "input", "output"
_FEWEST = 3  # stages that make a look of their own
_GAP = 0.4  # [-], share of a reading's span from which a gap in it parts two looks
_CLEAR = 10.0  # [-], least span of such a reading over the standard deviation of the meter's error
_LEAST = 1e-3  # [V], standard deviation of any reading: nobody writes down less
_BEND = 3.0  # [-], of the scale over the standard deviation of a reading of nothing, which is to look straight there


@dataclass(frozen=True, slots=True)
class Hypotheses:
    """All faults of a stage, as they look through a meter.

    A fault has one look or two: two where some stages look quite different with it, such as by the way that a receiver
    leaks, or an output that is on in some of them only.

    Attributes
    ----------
    faults : tuple of Fault
        What may be, `GOOD` first.
    prior : ndarray, shape (faults,)
        How likely each is beforehand [-].
    probes : tuple of Probe
        Where readings may be taken.
    places : dict of (str, str) to int
        Probe id and state to the place of that reading.
    looks : Looks
        How they look.
    shown : ndarray, shape (faults, readings, stages)
        What was read in the stages that this was learnt from, on the scale [V].
    taken_for : ndarray, shape (faults, faults)
        Probability of another fault in the stages with one, if all readings are taken, as `mistaken` has it [-].
    scale : Scale
        What readings are put on before they are compared.
    same : tuple of tuple of int
        For every fault the places of the others that all readings together do not tell from it.
    """

    faults: tuple
    prior: np.ndarray
    probes: tuple
    places: dict
    looks: object
    shown: np.ndarray
    taken_for: np.ndarray
    scale: Scale
    same: tuple

    def alike(self, k):
        """Return the other faults that all readings together do not tell from one.

        Parameters
        ----------
        k : int
            Its place.

        Returns
        -------
        tuple of int
            Their places.
        """
        return self.same[k]


@dataclass(frozen=True, slots=True)
class Looks:
    """Normal distributions of all readings on their scale, one or two of each fault.

    Attributes
    ----------
    owner : ndarray of int, shape (looks,)
        Place of the fault.
    share : ndarray, shape (looks,)
        Share of the stages with that fault that look so [-].
    mean : ndarray, shape (looks, readings)
        What is read on average [V].
    covariance : ndarray, shape (looks, readings, readings)
        How readings vary with the tolerances, and with the meter's error [V^2].
    """

    owner: np.ndarray
    share: np.ndarray
    mean: np.ndarray
    covariance: np.ndarray


def hypotheses_of(scenario):
    """Return how every fault of a stage looks.

    Parameters
    ----------
    scenario : Scenario
        The stage with its meter; which switch state it shows does not matter.

    Returns
    -------
    Hypotheses
        Kept for the last few stages.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Mean and covariance of what is read in 32 stages (16 on a line) drawn from the tolerances, the same ones for
    every fault, so that supplies and what else is common to several readings moves them together. The meter's error
    comes on top, even within its limits and independent from reading to reading, and a tenth of each reading's
    deviation for what a normal distribution does not see. All that is reckoned on a scale that is straight near nothing
    and a logarithm above, as currents that leak spread over decades.

    Faults on the output side leave the readings of the input side as they are.

    References
    ----------
    Derived here.
    """
    return _hypotheses(scenario.showing(STATES[0]))


@once(16)
def _hypotheses(scenario):
    """Return what `hypotheses_of` does."""
    meter = METERS[scenario.conditions.meter]
    faults, probes = (GOOD, *faults_of(scenario)), readable(scenario, probes_of(scenario))
    samples = _FEWER if on_line(scenario) else _SAMPLES
    stage = build_all((scenario,), draw=Samples(scenario, _DRAWN).take(samples - 1))
    shown = simulated(stage, faults, probes, meter).reshape(len(faults), 2 * len(probes), -1)
    off = np.random.Generator(np.random.PCG64(_DRAWN)).uniform(-1.0, 1.0, shown.shape) * meter.error(shown)
    scale = Scale(_BEND * float(_deviation(meter, np.zeros(1))[0]), HIGHEST_READING)
    looks = _looks(scale.of(shown), stage.varied["up"] > 0.0, scale.error(shown, _deviation(meter, shown)))
    places = {(probe.id, state): 2 * k + n for k, probe in enumerate(probes) for n, state in enumerate(STATES)}
    read_off, prior = scale.of(shown + off), np.array(prior_of(faults))
    taken_for = mistaken(read_off, looks)
    return Hypotheses(faults, prior, probes, places, looks, read_off, taken_for, scale, untold(taken_for))


def _deviation(meter, volts):
    """Return the standard deviation of readings by the meter's error alone [V]."""
    return np.hypot(meter.error(volts) / _CERTAIN, _LEAST)


def _looks(shown, upwards, errors):
    """Return how every fault looks, from what is shown with it and its error, shape (faults, readings, stages)."""
    found = []
    for k, (seen, error) in enumerate(zip(shown, errors, strict=True)):
        # Stages on both sides of the end of a range have errors of either; the larger one is reckoned with.
        groups = _groups(seen, upwards, error.max(axis=1))
        means = [seen[:, group].mean(axis=1) for group in groups]
        away = seen - sum(mean[:, None] * group for mean, group in zip(means, groups, strict=True))
        covariance = away @ away.T / (seen.shape[1] - len(groups))
        for mean, group in zip(means, groups, strict=True):
            own = np.diag(_SLACK**2 * np.diag(covariance) + error[:, group].max(axis=1) ** 2)
            found.append((k, group.mean(), mean, covariance + own))
    return Looks(*(np.array(column) for column in zip(*found, strict=True)))


def _groups(seen, upwards, errors):
    """Return which stages look alike, as one or two masks.

    They are two where a reading leaves a wide gap, such as that of an output which is on in some stages and off in the
    others, or else where it matters much which way a receiver leaks.
    """
    whole = np.ones(seen.shape[1], bool)
    ranked = np.sort(seen, axis=1)
    steps, span = np.diff(ranked, axis=1)[:, _FEWEST - 1 : 1 - _FEWEST], ranked[:, -1] - ranked[:, 0]
    wide = np.where(span > _CLEAR * errors, steps.max(axis=1) / np.maximum(span, _LEAST), 0.0)
    r = int(wide.argmax())
    if wide[r] > _GAP:
        at = int(steps[r].argmax()) + _FEWEST - 1
        first = seen[r] <= ranked[r, at]
        return [first, ~first]
    if upwards.all() or not upwards.any():
        return [whole]
    up, down = (seen[:, group].mean(axis=1) for group in (upwards, ~upwards))
    within = np.where(upwards, seen - up[:, None], seen - down[:, None])
    apart = np.abs(up - down) > _DISTINCT * np.sqrt((within**2).mean(axis=1) + errors**2)
    return [upwards, ~upwards] if apart.any() else [whole]


def mistaken(shown, looks):
    """Return how often faults are taken for each other.

    Parameters
    ----------
    shown : ndarray, shape (faults, readings, stages)
        Readings of stages with each fault [V].
    looks : Looks
        How these faults look, owners being places among them.

    Returns
    -------
    ndarray, shape (faults, faults)
        Mean probability of the second, over stages with the first, where either is as likely beforehand and nothing
        else is possible: one half where both look the same [-].
    """
    inverse, volumes = np.linalg.inv(looks.covariance), np.linalg.slogdet(looks.covariance)[1]
    faults, _, count = shown.shape
    logs = np.full((faults, faults, count), -np.inf)
    for k, owner in enumerate(looks.owner):
        away = shown.transpose(0, 2, 1) - looks.mean[k]
        squares = ((away @ inverse[k]) * away).sum(axis=2)
        own = np.log(looks.share[k]) - 0.5 * (squares + volumes[k])
        logs[:, owner] = np.logaddexp(logs[:, owner], own)
    itself = logs[np.arange(faults), np.arange(faults)]
    return expit(logs - itself[:, None]).mean(axis=2)


def untold(taken_for):
    """Return for every fault which others are not told from it.

    Parameters
    ----------
    taken_for : ndarray, shape (faults, faults)
        As of `mistaken` [-].

    Returns
    -------
    tuple of tuple of int
        Their places.
    """
    often = np.maximum(taken_for, taken_for.T) >= TOLD_APART
    np.fill_diagonal(often, False)
    return tuple(tuple(np.flatnonzero(row).tolist()) for row in often)


def simulated(stage, faults, probes, meter):
    """Return what a meter shows with each fault in stages that are drawn.

    Parameters
    ----------
    stage : Stage
        Stages of one scenario that are drawn, closed then open.
    faults : sequence of Fault
        What is wrong, one at a time; with `GOOD` among them.
    probes : sequence of Probe
        Where the leads go.
    meter : Meter
        The meter; its error is not part of it.

    Returns
    -------
    ndarray, shape (faults, probes, 2, stages)
        Readings, closed and open [V].

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.
    """
    line = LineMeter(stage.scenarios[0], meter)
    stage, outer = line.ready(stage), _beyond(stage, faults)
    shown = np.empty((len(faults), len(probes), 2, stage.members))
    place = {fault.id: k for k, fault in enumerate(faults)}
    there = [fault for fault in faults if fault.kind != "bridged"]
    lighting, rows = {}, {side: [k for k, probe in enumerate(probes) if probe.side == side] for side in _SIDES}
    for side in _SIDES:
        if side == "output" and not rows[side]:
            break  # its light is not asked for either
        pairs = [(probes[k].red, probes[k].black) for k in rows[side]]
        some = there if side == "output" else [fault for fault in there if fault.id not in outer]
        for found, numbers in _read(stage, some, side, pairs, line, lighting):
            shown[np.ix_([place[f.id] for f in found], rows[side])] = numbers
        for fault in faults:
            if fault not in some:
                shown[np.ix_([place[fault.id]], rows[side])] = shown[np.ix_([place["good"]], rows[side])]
    return shown


def _beyond(stage, faults):
    """Return the ids of faults that no reading of the input side sees: those of parts on the output side."""
    sides = stage.netlist.nodes | {node: side for side, node in stage.netlist.references.items()}
    there = {"U1", "RX"} | {part for part, (node, _) in stage.netlist.sources.items() if sides[node] == "output"}
    there |= {r.part for r in stage.netlist.resistors if sides[r.a] == "output"}
    there |= {device.part for device in stage.netlist.devices if sides[device.branches[0][0]] == "output"}
    return {fault.id for fault in faults if fault.part in there}


def _read(stage, faults, side, pairs, line, lighting):
    """Yield faults and what is read with each: an array of shape (faults, pairs, 2, stages).

    What the LED gives with each fault of the input side is put into `lighting`, and taken from there on the other one;
    faults of the output side leave it as it is.
    """
    couplings = line.couplings(stage, side, pairs)
    each = stage.netlist.batch
    most = max(_CHUNK // (each * line.instants(side)), 1)
    for first in range(0, len(faults), most):
        for batch in faulty(stage, faults[first : first + most]):
            if side == "input":
                numbers, light = line.read_input(batch.netlist, pairs, couplings, stage.count)
                lighting |= {f.id: light[:, k * each : (k + 1) * each] for k, f in enumerate(batch.faults)}
            else:
                light = np.concatenate([lighting.get(f.id, lighting["good"]) for f in batch.faults], axis=1)
                numbers = line.read_output(batch.netlist, pairs, couplings, light)
            shape = len(pairs), len(batch.faults), 2, stage.members
            yield batch.faults, numbers.reshape(shape).transpose(1, 0, 2, 3)
