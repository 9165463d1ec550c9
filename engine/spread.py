"""Spread: what a stage does over many samples of everything that varies, beside what it does at every corner.

The samples are solved and judged in chunks that fit a processor's cache; of each only what statistics need is kept.
"""

from dataclasses import dataclass, field

import numpy as np

from engine.build import build_all
from engine.errors import Problem, ScenarioError
from engine.findings import FAILING, judged
from engine.inputs import AcLine
from engine.operating import STATES, observed
from engine.sampling import MOST_SAMPLES, Plan, Samples
from engine.sizing import size

KINDS = ("quantities", "nodes", "currents", "powers")
"""What of a state is told: the fields of `engine.operating.State`."""

BINS = 40
"""Bars of a histogram."""

QUICK, QUICK_AC = 2000, 200
"""Samples that take a few tenths of a second at most, on direct current and over a cycle."""

_MOST_AC = 5000  # samples on alternating voltage, each of which is solved over a whole cycle
_CHUNK, _CHUNK_AC = 2500, 100  # samples that are solved together
_SHARES = (0.01, 0.5, 0.99)
_LIMITED = {
    "saturation": ("closed", "quantities", "overdrive"),
    "turn-on": ("closed", "quantities", "overdrive"),
    "led-current": ("closed", "quantities", "IF"),
    "collector-current": ("closed", "quantities", "IC"),
    "collector-voltage": ("open", "quantities", "VCE"),
    "residual-light": ("open", "quantities", "VF"),
    "gate-peak": ("closed", "quantities", "I_peak"),
    "gate-power": ("closed", "quantities", "P_driver"),
    "gate-total": ("closed", "quantities", "P_total"),
    "surge-current": ("closed", "quantities", "I_surge"),
    "minimum-load": ("closed", "quantities", "I_crest"),
    "flyback-peak": ("open", "quantities", "V_peak"),
    "off-delivery": ("open", "quantities", "I_delivered"),
    "sensor-load": ("closed", "currents", "B1"),
    "port-current": ("closed", "currents", "P1"),
    "detector-power": ("closed", "powers", "U1"),
    **{f"power-{part.lower()}": ("closed", "powers", part) for part in ("R1", "RB", "B2", "RL")},
}
"""Code of a rule to the quantity that it limits: state, kind and name. Levels are those of the output side."""

_UNSURE = 3.0  # [-], -ln(5 %): with none of n that fail, fewer than 3/n fail; 95 % confidence
_NO_SPAN = 1e-290  # [unit], below which nothing varies: shares of it are no numbers any more


@dataclass(frozen=True, slots=True)
class Distribution:
    """One quantity over all samples, beside its nominal value and its extremes over all corners.

    Attributes
    ----------
    unit : str
        Name of the SI unit; "1" for ratios.
    value : float
        Nominal value [unit].
    low : float
        Smallest value at any corner, the guaranteed lower end [unit].
    high : float
        Largest value at any corner [unit].
    minimum : float
        Smallest value that was drawn [unit].
    p1 : float
        What one sample in a hundred lies below [unit].
    median : float
        What half of the samples lie below [unit].
    p99 : float
        What one sample in a hundred lies above [unit].
    maximum : float
        Largest value that was drawn [unit].
    mean : float
        Mean [unit].
    sd : float
        Standard deviation [unit].
    counts : ndarray of int, shape (BINS,)
        Samples in each of the bins, evenly from `minimum` to `maximum`.
    """

    unit: str
    value: float
    low: float
    high: float
    minimum: float
    p1: float
    median: float
    p99: float
    maximum: float
    mean: float
    sd: float
    counts: object = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Yield:
    """How many samples keep a rule.

    Attributes
    ----------
    share : float
        Share of the samples that keep it [-].
    failing : int
        How many do not.
    guaranteed : bool
        Whether it is kept at every corner, and in every sample.
    """

    share: float
    failing: int
    guaranteed: bool


@dataclass(frozen=True, slots=True)
class SpreadOf:
    """A stage over many samples.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    plan : Plan
        What was drawn.
    states : dict of str to dict
        "closed" and "open" to kind (one of `KINDS`) to name to `Distribution`.
    yields : dict of str to Yield
        By code of the finding, in the order of importance.
    all : Yield
        How many keep all of these.
    limits : dict of tuple to tuple
        State, kind and name of a quantity to the rules that limit it, each with its code and the limit at worst.
    undrawn : tuple of str
        Codes of what is judged for the stage as a whole and does not hold at its corners; it is in no yield.
    """

    scenario: object
    plan: Plan
    states: dict
    yields: dict
    all: Yield
    limits: dict
    undrawn: tuple

    @property
    def most_failing(self):
        """Return the share of all stages that may fail although no sample did, with 95 % confidence [-].

        Notes
        -----
        (1 - p)^n = 5 % gives p = 3/n nearly: the rule of three. Derived here.
        """
        return _UNSURE / self.plan.samples


class Run:
    """A spread on its way, chunk by chunk, so that progress can be told and work can be left off.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    plan : Plan
        What is drawn.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized, or the stage takes too long to be solved so often.
    ConvergenceError
        If the solver fails, which is a defect.
    """

    def __init__(self, scenario, plan):
        if plan.samples > most_samples(scenario):
            accepted, reason = f"up to {_MOST_AC}", "every sample is solved over a whole cycle of the line"
            raise ScenarioError([Problem("samples", str(plan.samples), accepted, reason)])
        self.scenario, self.plan, self.done = scenario, plan, 0
        self._sizes = (size(scenario),)
        self._corners = observed(build_all((scenario,), sizes=self._sizes)).point()
        self._samples = Samples(scenario, plan.seed, plan.dist)
        self._kept, self._failing, self._all = {}, {}, 0

    @property
    def finished(self):
        """Return whether all samples are solved."""
        return self.done >= self.plan.samples

    def step(self):
        """Draw, solve and judge the next chunk.

        Returns
        -------
        int
            Samples that are done.

        Raises
        ------
        ConvergenceError
            If the solver fails, which is a defect.
        """
        count = min(_CHUNK_AC if _on_line(self.scenario) else _CHUNK, self.plan.samples - self.done)
        stage = build_all((self.scenario,), draw=self._samples.take(count), sizes=self._sizes)
        point = observed(stage).point()
        self._keep(point, count)
        holds = np.ones(count, dtype=bool)
        for finding in judged(point):
            if finding.holds is not None:
                kept = finding.holds[1:]
                self._failing[finding.code] = self._failing.get(finding.code, 0) + count - int(np.count_nonzero(kept))
                holds &= kept
        self._all += count - int(np.count_nonzero(holds))
        self.done += count
        return self.done

    def _keep(self, point, count):
        """Keep what statistics need; what one chunk lacks, such as a ratio where an LED is dark, is told of none."""
        found = dict(_members(point))
        if not self.done:
            self._kept = {key: np.empty(self.plan.samples) for key in found}
        for key in self._kept.keys() - found.keys():
            del self._kept[key]
        for key, array in self._kept.items():
            array[self.done : self.done + count] = found[key][1:]

    def result(self):
        """Return the statistics.

        Returns
        -------
        SpreadOf
            Of the samples that are done, which must be all.
        """
        findings = judged(self._corners)
        whole = {f.code: f.severity not in FAILING for f in findings if f.holds is None and f.severity != "note"}
        passed = {code: True for code, held in whole.items() if held}
        passed |= {f.code: bool(f.holds.all()) for f in findings if f.holds is not None}
        codes = [f.code for f in findings if f.code in passed]
        codes += [code for code in self._failing if code not in codes]
        yields = {code: self._yield(self._failing.get(code, 0), passed.get(code, True)) for code in codes}
        together = self._yield(self._all, all(one.guaranteed for one in yields.values()))
        undrawn = tuple(code for code, held in whole.items() if not held)
        limits = _limits(self.scenario, findings)
        return SpreadOf(self.scenario, self.plan, self._distributions(), yields, together, limits, undrawn)

    def _distributions(self):
        """Return the statistics of everything, by state, kind and name."""
        states = {state: {kind: {} for kind in KINDS} for state in STATES}
        for (state, kind, name), drawn in self._kept.items():
            if (at_corners := getattr(self._corners.states[state], kind).get(name)) is not None:
                states[state][kind][name] = _distribution(drawn, at_corners)
        return states

    def _yield(self, failing, kept_at_corners):
        kept = self.plan.samples - failing
        return Yield(kept / self.plan.samples, failing, kept_at_corners and not failing)


def most_samples(scenario):
    """Return how many samples of a stage may be asked for.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    int
        Fewer on alternating voltage.
    """
    return _MOST_AC if _on_line(scenario) else MOST_SAMPLES


def quick_samples(scenario):
    """Return how many samples of a stage take a few tenths of a second at most.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    int
        Fewer on alternating voltage.
    """
    return QUICK_AC if _on_line(scenario) else QUICK


def _on_line(scenario):
    """Return whether the input side is on alternating voltage."""
    return isinstance(scenario.input, AcLine)


def spread_of(scenario, plan=None, progress=None):
    """Return what a stage does over many samples.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    plan : Plan or None
        What is drawn; the usual plan if None.
    progress : callable or None
        Called with the samples that are done, after each chunk.

    Returns
    -------
    SpreadOf
        Distributions and yields; the same for the same scenario and plan.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized, or the stage takes too long to be solved so often.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    run = Run(scenario, Plan() if plan is None else plan)
    while not run.finished:
        done = run.step()
        if progress is not None:
            progress(done)
    return run.result()


def _limits(scenario, findings):
    """Return the rules that limit each quantity."""
    levels = zip(scenario.output.level_codes, STATES, strict=True)
    limited = _LIMITED | {code: (state, "quantities", scenario.output.observed) for code, state in levels}
    found = {}
    for finding in findings:
        if finding.code in limited:
            key = limited[finding.code]
            found[key] = (*found.get(key, ()), (finding.code, finding.limit))
    return found


def _members(point):
    """Yield state, kind and name with the value of every member."""
    for state, solved in point.states.items():
        for kind in KINDS:
            for name, found in getattr(solved, kind).items():
                yield (state, kind, name), found.members


def _distribution(drawn, found):
    """Return the record of one quantity."""
    last = len(drawn) - 1
    below = [int(share * last) for share in _SHARES]
    places = sorted({0, last, *below, *(min(place + 1, last) for place in below)})
    ranked = np.partition(drawn, places)
    p1, median, p99 = (
        float(ranked[place] + (share * last - place) * (ranked[min(place + 1, last)] - ranked[place]))
        for share, place in zip(_SHARES, below, strict=True)
    )
    low, high, mean = float(ranked[0]), float(ranked[-1]), float(drawn.mean())
    from_mean = drawn - mean
    sd = float(np.sqrt(np.dot(from_mean, from_mean) / max(last, 1)))
    ends = found.value, found.low, found.high
    unit = getattr(found, "unit", "W")
    return Distribution(unit, *ends, low, p1, median, p99, high, mean, sd, _counted(drawn, low, high))


def _counted(drawn, low, high):
    """Return how many values lie in each bin."""
    if not high - low > _NO_SPAN:
        return np.bincount([0], [len(drawn)], BINS).astype(int)
    bins = ((drawn - low) * (BINS / (high - low))).astype(np.intp)
    return np.bincount(np.minimum(bins, BINS - 1), minlength=BINS)
