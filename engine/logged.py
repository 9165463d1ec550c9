"""The transfer ratio that a real unit showed under the meter, beside what its card promises at that LED current."""

from dataclasses import dataclass
from functools import lru_cache

from engine.coupler.bench import Wiring, measure
from engine.errors import ConvergenceError
from engine.meter import METERS
from engine.operating import operating_point
from engine.probing import probe_across
from engine.sizing import size

LIT = "closed"
"""State of the switch in which the LED is lit."""

MOST_IF = 1.0
"""LED current up to which limits of a card are looked up [A]."""

_BESIDE = 0.02  # [-], share of a resistor's current that may go past the coupler; it counts as an error
_BENT = 0.95  # [-], share of the current at the card's VCE below which the detector saturates
_NO_ROOM = 0.05  # [V], VCE at which it surely does
_COARSE = 0.5  # [-], error of a reading from which it says nothing
_CURRENTS = (("R1", "LED"), ("RL", "U1"))


@dataclass(frozen=True, slots=True)
class MeasuredRatio:
    """A transfer ratio that was measured.

    Attributes
    ----------
    CTR : float
        Collector current over LED current, as it flowed in the circuit [-].
    error : float
        How far the meter may have put it off, either way, its own current among that [-].
    tolerance : float
        How far the tolerances of R1 and RL may put it off besides, the same in every entry of one unit [-].
    IF : float
        LED current [A].
    low, high : float
        What the card promises at that LED current, its own VCE and the ambient temperature [-].
    saturated : bool
        Whether the load held the current back: the ratio is then at least the one that was measured.
    """

    CTR: float
    error: float
    tolerance: float
    IF: float
    low: float
    high: float
    saturated: bool

    @property
    def off(self):
        """Return how far it may be off in all [-]."""
        return self.error + self.tolerance

    @property
    def verdict(self):
        """Return "below" or "above" where it surely is outside the limits, else "within" or "open"."""
        if not self.saturated and self.CTR + self.off < self.low:
            return "below"
        if self.CTR - self.off > self.high:
            return "above"
        return "open" if self.saturated and self.CTR < self.low else "within"


@dataclass(frozen=True, slots=True)
class Unmeasured:
    """Readings that give no transfer ratio.

    Attributes
    ----------
    reason : str
        Why, in a sentence.
    """

    reason: str


@dataclass(frozen=True, slots=True)
class _Plan:
    """What of a stage does not depend on the readings: points, resistances, stray shares, the rest of the loop."""

    points: tuple
    R: tuple
    beside: tuple
    loop: float
    U1: str


def measured_ratio(scenario, readings):
    """Return the transfer ratio that readings of one unit give.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    readings : dict of (str, str) to float
        Id of the probe and state of the switch to what the meter showed [V].

    Returns
    -------
    MeasuredRatio or Unmeasured
        The ratio with the limits of the card, or why there is none.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.

    Notes
    -----
    The LED current is the voltage across R1 over R1, the collector current that across RL over RL. The relative errors
    of both readings add up. A meter across a resistor takes at most its share of the current, R over the meter's
    resistance, which adds to the error. VCE is a reading, or else what RL leaves of the nominal loop.

    References
    ----------
    Derived here.
    """
    plan = _plan(scenario)
    if isinstance(plan, Unmeasured):
        return plan
    volts = [abs(readings.get((point, LIT), 0.0)) for point in plan.points]
    meter = METERS[scenario.conditions.meter]
    if not all(volts):
        return Unmeasured(f"It takes the voltages across R1 and RL, {scenario.input.states[LIT]}.")
    shares = [
        float(meter.error(V) / V + R / meter.resistance(V)) + past
        for V, R, past in zip(volts, plan.R, plan.beside, strict=True)
    ]
    if max(shares) > _COARSE:
        return Unmeasured("A reading is too small for this meter.")
    IF, IC = (V / R for V, R in zip(volts, plan.R, strict=True))
    if IF > MOST_IF:
        return Unmeasured(f"The LED current would be above {MOST_IF:g} A.")
    VCE = abs(readings.get((plan.U1, LIT), max(plan.loop - volts[1], 0.0)))
    try:
        low, high, bent = _promised(scenario.coupling, scenario.conditions.TA, IF, VCE)
    except ConvergenceError:
        return Unmeasured("The card gives no limits at this LED current.")
    CTR = IC / IF
    return MeasuredRatio(CTR, CTR * sum(shares), CTR * 2.0 * scenario.conditions.tolerance, IF, low, high, bent)


@lru_cache(maxsize=64)
def _plan(scenario):
    """Return what of a stage does not depend on the readings, or why its readings give no ratio."""
    if not scenario.coupling.has_ratio:
        return Unmeasured("The coupler has no transfer ratio.")
    if scenario.input.kind == "ac":
        return Unmeasured("On alternating voltage a meter does not show what flows at one instant.")
    sizes, state = size(scenario), operating_point(scenario).states[LIT]
    probes, beside = [], []
    for part, through in _CURRENTS:
        probe = probe_across(scenario, part)
        own = abs(state.currents[part].value) if part in state.currents else 0.0
        past = abs(own - abs(state.currents[through].value)) / own if own else 1.0
        if probe is None or past > _BESIDE:
            return Unmeasured(f"What flows through {part} is not what flows through the coupler in this stage.")
        probes.append(probe.id)
        beside.append(past)
    loop = sum(abs(state.drops[part].value) for part in ("RL", "U1"))
    U1 = probe_across(scenario, "U1")
    R = tuple(float(sizes[part].chosen) for part, _ in _CURRENTS)
    return _Plan(tuple(probes), R, tuple(beside), loop, U1.id if U1 else "")


@lru_cache(maxsize=1024)
def _promised(coupling, TA, IF, VCE):
    """Return the least and the most ratio of the bin at an LED current, and whether the detector saturates at VCE."""
    model, (typical, *_) = coupling.model, coupling.ratios()
    more = {} if coupling.RBE == "none" else {"RBE": coupling.RBE}
    test_VCE = coupling.data.CTR_VCE

    def current(hold, CTR):
        return float(measure(model, IF, Wiring(hold=hold), TA=TA, CTR=CTR, **more).IO[0])

    low, high = (current(test_VCE, CTR) / IF for CTR in coupling.bin())
    bent = VCE < _NO_ROOM or current(min(VCE, test_VCE), typical) < _BENT * current(test_VCE, typical)
    return low, high, bent
