"""The transfer ratio that two readings imply of a specimen: the one with which the solved circuit reads the same."""

from dataclasses import dataclass

import numpy as np

from engine.bag import places_in
from engine.build import build_all
from engine.coupler.bench import Wiring, measure
from engine.errors import Problem, ScenarioError
from engine.inputs import AcLine
from engine.operating import observed
from engine.sizing import size

LEAST_CTR, MOST_CTR = 0.01, 20.0
"""Ratios that are reckoned with [-]."""

_TRIALS = 400  # ratios between them
_TIGHT = 2.0  # [-], factor between the ends of an estimate from which the reading says little
_FAINTEST = 1e-15  # [V or A], keeps a logarithm finite
_ROOM = 10.0  # [V], what a loop may take beside R1
_LEAST = 1e-4  # [-], least supply beside the largest one that is tried
_PASSES = 3  # in which the supply is narrowed down


@dataclass(frozen=True, slots=True)
class Implied:
    """What two readings tell of a specimen.

    Attributes
    ----------
    value : float or None
        Transfer ratio at the card's test point and 25 degC that fits best; None where only a bound is known [-].
    low : float
        Smallest one that goes with the readings [-].
    high : float or None
        Largest one; None where the output is so far saturated that the readings set no upper bound [-].
    place : float
        Where the value, or else the lower bound, lies in the bin, in the logarithm: 0 at the lower end, 1 at the
        upper [-].
    """

    value: float | None
    low: float
    high: float | None
    place: float

    @property
    def saturated(self):
        """Return whether only a lower bound is known."""
        return self.value is None


@dataclass(frozen=True, slots=True)
class Readings:
    """What was measured.

    Attributes
    ----------
    drive : float
        Of the LED side: voltage across R1, or LED current [V or A].
    response : float
        Of the output side: voltage across RL, or collector current [V or A].
    accuracy : float
        How far either may be off, the resistors' tolerance in it, relative to itself, below 1 [-].
    VCE : float or None
        Collector-emitter voltage where both are currents; None where both are voltages in the stage [V].
    """

    drive: float
    response: float
    accuracy: float
    VCE: float | None = None


class _Given:
    """What `build_all` takes for its `draw`: the nominal stage with some quantities set."""

    def __init__(self, **given):
        self._given = given
        self.members = len(next(iter(given.values())))

    def spread(self, factor, name, triples):
        """Return the values of one quantity in every circuit, as `engine.build.Corners.spread`."""
        return np.tile(np.broadcast_to(self._given.get(name, triples[0, 0]), self.members), 2)


def implied_CTR(scenario, readings):
    """Return the transfer ratio that two readings imply.

    Parameters
    ----------
    scenario : Scenario
        The stage, its coupler one with a transfer ratio.
    readings : Readings
        What was measured, the LED lit.

    Returns
    -------
    Implied
        The ratio and its place in the bin.

    Raises
    ------
    ScenarioError
        If the readings cannot be had from this stage, or an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    The circuit is solved with ratios from 1 % to 2000 %. In the stage the supply is taken as that which gives the
    reading across R1, everything else as nominal; on the bench the LED is fed its current and the collector held at its
    voltage. Lower and upper bound are those of the least and the most favourable errors of both readings.

    References
    ----------
    Derived here.
    """
    if not scenario.coupling.has_ratio:
        reason = "the coupler has no transfer ratio"
        raise ScenarioError([Problem("drive", "", "a coupler with a transistor for its output", reason)])
    off, ratios = readings.accuracy, np.geomspace(LEAST_CTR, MOST_CTR, _TRIALS)
    # The most response asked of the least drive is the upper bound of the ratio.
    drives = readings.drive * np.array((1.0 + off, 1.0, 1.0 - off))
    wanted = readings.response * np.array((1.0 - off, 1.0, 1.0 + off))
    curves = (_on_the_bench if readings.VCE is not None else _in_the_stage)(scenario, readings, drives, ratios)
    if wanted[0] > curves[0].max():
        raise ScenarioError([_too_much(readings, curves[0].max())])
    low, value, high = (_ratio(ratios, curve, response) for curve, response in zip(curves, wanted, strict=True))
    ends = scenario.coupling.bin()
    if high is None or value is None or high > _TIGHT * low:
        return Implied(None, low, None, float(places_in(*ends, low)))
    return Implied(value, low, high, float(places_in(*ends, value)))


def _ratio(ratios, curve, wanted):
    """Return the ratio at which a rising curve has a value; None where it never does."""
    if wanted > curve.max():
        return None
    rising = np.log(np.maximum.accumulate(np.maximum(curve, _FAINTEST)))
    return float(np.exp(np.interp(np.log(max(wanted, _FAINTEST)), rising, np.log(ratios))))


def _too_much(readings, most):
    """Return the problem of a response that no ratio gives."""
    unit, name = ("A", "the coupler") if readings.VCE is not None else ("V", "the load")
    reason = f"whatever its CTR, {name} has no more than {most:.3g} {unit} there"
    return Problem("response", f"{readings.response:g}", f"up to {most:.3g} {unit}", reason)


def _on_the_bench(scenario, readings, drives, ratios):
    """Return collector currents over the ratios, at each of the LED currents."""
    IF, CTR = (array.ravel() for array in np.meshgrid(drives, ratios, indexing="ij"))
    wiring, more = Wiring(hold=readings.VCE), {}
    if scenario.coupling.RBE != "none":
        more["RBE"] = scenario.coupling.RBE
    found = measure(scenario.coupling.model, IF, wiring, TA=scenario.conditions.TA, CTR=CTR, **more)
    return found.IO.reshape(len(drives), -1)


def _in_the_stage(scenario, readings, drives, ratios):
    """Return voltages across RL over the ratios, at each of the voltages across R1."""
    if isinstance(scenario.input, AcLine):
        raise ScenarioError([Problem("drive", "", "a stage on direct current", "the line's voltage alternates")])
    sizes = (size(scenario),)
    VS = np.array([_supply(scenario, sizes, volts, readings.accuracy) for volts in drives])
    given = _Given(VS=np.repeat(VS, len(ratios)), CTR=np.tile(ratios, len(drives)))
    return _across(scenario, sizes, given, "RL").reshape(len(drives), -1)


def _supply(scenario, sizes, wanted, off):
    """Return the supply that gives a voltage across R1, or comes as near as the reading's error lets it [V]."""
    high = 2.0 * (wanted + abs(scenario.input.VS) + _ROOM)
    low = _LEAST * high
    for _ in range(_PASSES):
        VS = np.linspace(low, high, 100)
        found = np.maximum.accumulate(_across(scenario, sizes, _Given(VS=VS), "R1"))
        if found[-1] < wanted <= found[-1] * (1.0 + off) ** 2:
            return float(VS[found.searchsorted(found[-1])])
        place = int(found.searchsorted(wanted))
        if not 0 < place < len(VS):
            reason = f"whatever the supply, R1 has no more than {found[-1]:.3g} V there"
            raise ScenarioError(
                [Problem("drive", f"{wanted:g}", f"above {found[0]:.3g} V, up to {found[-1]:.3g} V", reason)]
            )
        low, high = VS[place - 1], VS[place]
    part = (wanted - found[place - 1]) / (found[place] - found[place - 1])
    return float(low + part * (high - low))


def _across(scenario, sizes, given, part):
    """Return the voltage across a part with the LED lit, in every member."""
    point = observed(build_all((scenario,), draw=given, sizes=sizes)).point()
    drops = point.states["closed"].drops
    if part not in drops:
        field = "response" if part == "RL" else "drive"
        raise ScenarioError([Problem(field, "", f"a stage with {part}", f"there is no {part}")])
    return np.abs(drops[part].members)
