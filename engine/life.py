"""Will it still work: the burdens that a stage meets one after the other, and what is left over the years of service.

Age acts on the weakest part's transfer ratio or threshold, as everywhere, where the circuit is built. Since the light
alone decides, every law of ageing is one walk along the same curve: the margin over the share of light that is left.
"""

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.optimize import brentq

from engine.ageing import PLANS
from engine.build import FAINTEST, Corners, build_all
from engine.errors import Problem, ScenarioError
from engine.findings import FAILING, findings_of, judged
from engine.findings.detector import level
from engine.findings.finding import Finding, Mend, printed
from engine.findings.service import law_in_words, left_after_a_year, spoken
from engine.operating import observed, operating_point
from engine.quantity import RATIO
from engine.scenario import Conditions, Scenario
from engine.sizing import size

USUAL_TA = (0.0, 60.0)  # [degC], where a scenario asks for no temperatures; common practice, no source
PLANNED = 10.0  # [a], service that is reckoned with where a scenario asks for none; common practice, no source
LOOK_AHEAD = 20.0  # [a], how far the margin is followed unless told otherwise
MOST_YEARS = 40.0  # [a], farthest that it is followed

_POINTS = 21  # along the years
_SEARCHED = 7  # places at which all corners are looked at
_TO_YEARS = 0.002  # [a], how exactly an end is found
_LOSS = 0.9  # [-], of the law by which a share of light is set; any would do
_SURE = 1e-12  # [-], stands for a margin that holds but cannot be told relative to its limit
_FADED = -math.log(FAINTEST)  # [-], logarithm of one over the least light

STEPS = ("typical", "tolerances", "weakest", "temperature", "service-slow", "service-fast", "service-own")
"""Codes of the burdens, one after the other; of the last three those that apply, each beside the others."""

_SPARED = {"typical": None, "tolerances": {"CTR", "VF", "TA"}, "weakest": {"TA"}}
"""Code to the factors that stay nominal; None for all of them."""


@dataclass(frozen=True, slots=True)
class Step:
    """A stage under some of its burdens.

    Attributes
    ----------
    code : str
        One of `STEPS`: which burden comes to those before.
    conditions : Conditions
        What surrounds the stage at this step.
    overdrive : float or None
        The lowest one; None where nothing is asked of the coupler [-].
    TA : float
        Ambient temperature at which it, else the level, is at its worst [degC].
    level : Finding or None
        The level that comes nearest to its limit, of both states.
    failing : tuple of str
        Codes of the findings that do not hold.
    new : tuple of str
        Those among them that hold at the step before; of a step of service, at the last one without.
    """

    code: str
    conditions: Conditions
    overdrive: float | None
    TA: float
    level: Finding | None
    failing: tuple
    new: tuple

    @property
    def told(self):
        """Return the law of ageing as the clause of a sentence."""
        return law_in_words(self.conditions)

    @property
    def holds(self):
        """Return whether every finding holds."""
        return not self.failing


@dataclass(frozen=True, slots=True)
class Remedy:
    """What would mend a finding, seen from all of them.

    Attributes
    ----------
    mend : Mend
        The remedy.
    remains : tuple of str
        Codes of the findings that do not hold with it either.
    """

    mend: Mend
    remains: tuple


@dataclass(frozen=True, slots=True)
class Fading:
    """The margin over the years by one law of ageing.

    Attributes
    ----------
    ageing : str
        The law, as `Conditions.ageing` names it.
    told : str
        The law as the clause of a sentence.
    years : ndarray, shape (points,)
        Service, from 0 on [a].
    left : ndarray, shape (points,)
        Share of its light that the weakest part has then [-].
    margin : ndarray, shape (points,)
        Margin at worst, of what `Life.measure` names [-].
    ends_in_year : float or None
        When the margin is used up: the output no longer saturates, or the coupler is no longer surely on. 0 where new
        parts have none, None where it lasts as long as is looked ahead [a].
    level_ends_in_year : float or None
        When the level with the LED lit is no longer sure; likewise [a].
    because : str
        Why, in one or two sentences.
    """

    ageing: str
    told: str
    years: np.ndarray
    left: np.ndarray
    margin: np.ndarray
    ends_in_year: float | None
    level_ends_in_year: float | None
    because: str


@dataclass(frozen=True, slots=True)
class Life:
    """What is left of a stage over its service.

    Attributes
    ----------
    scenario : Scenario
        The stage, its parts new.
    measure : str
        "overdrive": the margin is overdrive - 1; "level": that of the level with the LED lit, where no overdrive is
        asked.
    ahead : float
        How many years are followed [a].
    laws : dict of str to Fading
        By `Conditions.ageing`: that of the scenario first, then the other planning figures.
    """

    scenario: Scenario
    measure: str
    ahead: float
    laws: dict

    @property
    def chosen(self):
        """Return what the law of the scenario gives."""
        return next(iter(self.laws.values()))


def in_service(scenario, ageing=None):
    """Return a scenario with all that it must bear: temperatures and service, usual ones where it asks for none.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    ageing : str or None
        Another law of ageing than its own.

    Returns
    -------
    Scenario
        The scenario.
    """
    conditions = _warm(scenario.conditions)
    years, law = conditions.years or PLANNED, ageing or conditions.ageing
    return replace(scenario, conditions=replace(conditions, years=years, ageing=law))


def staircase_of(scenario):
    """Return a stage under one burden after the other.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    tuple of Step
        Nominal parts, then tolerances, the spread of the coupler, temperature and service, each with all before it.
        Where the scenario asks for no service, both planning figures and its own law, each for `PLANNED` years.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Findings over the cycle of a line have corners of their own: the first step goes by their nominal values, the
    next ones by all of their corners.
    """
    surroundings = _surroundings(scenario.conditions)
    stages = tuple(replace(scenario, conditions=conditions) for conditions in surroundings.values())
    spared = [_SPARED.get(code, set()) for code in surroundings]
    stage = build_all(stages, draw=_Burdens(scenario, spared), sizes=(size(scenario),) * len(stages))
    seen, made = observed(stage), []
    for k, code in enumerate(surroundings):
        before = [step for step in made if not step.code.startswith("service")]
        made.append(_step(code, seen.point(k), before[-1].failing if before else ()))
    return tuple(made)


def remedies_of(scenario):
    """Return what would mend a stage, and what each of it leaves broken.

    Parameters
    ----------
    scenario : Scenario
        The stage, with all that it must bear.

    Returns
    -------
    failing : tuple of Finding
        What does not hold, the gravest first.
    remedies : tuple of Remedy
        Their remedies, each once: what leaves least comes first.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    failing = tuple(f for f in findings_of(operating_point(scenario), slow=False) if f.severity in FAILING)
    mends = {f.mend.scenario: f.mend for f in failing if f.mend}
    left = [tuple(f.code for f in judged(operating_point(mended)) if f.severity in FAILING) for mended in mends]
    made = [Remedy(mend, codes) for mend, codes in zip(mends.values(), left, strict=True)]
    return failing, tuple(sorted(made, key=lambda remedy: len(remedy.remains)))


def life_of(scenario, years=LOOK_AHEAD):
    """Return the margin of a stage over its service, by its own law of ageing and by both planning figures.

    Parameters
    ----------
    scenario : Scenario
        The stage; its own years of service are left aside, its temperatures are heeded.
    years : float
        How far to look ahead, above 0 and up to `MOST_YEARS` [a].

    Returns
    -------
    Life
        Margins at worst, and when they end.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized, or the years are out of range.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    if not 0.0 < years <= MOST_YEARS:
        accepted = f"more than 0, up to {MOST_YEARS:g}"
        raise ScenarioError([Problem("ahead", f"{years:g}", accepted, f"{years:g} is out of range for years ahead")])
    curve = _Curve(scenario)
    conditions = [
        _by_law(curve.scenario.conditions, law) for law in dict.fromkeys((scenario.conditions.ageing, *PLANS))
    ]
    paces = [-math.log(max(left_after_a_year(c, curve.IF), np.finfo(float).tiny)) for c in conditions]
    service = np.linspace(0.0, years, _POINTS)
    faded = [np.minimum(service * pace, _FADED) for pace in paces]
    curve.follow(np.unique(np.concatenate(faded)), _TO_YEARS * min((pace for pace in paces if pace), default=1.0))
    laws = {
        c.ageing: _fading(curve, c, pace, service, along)
        for c, pace, along in zip(conditions, paces, faded, strict=True)
    }
    return Life(curve.scenario, curve.measure, years, laws)


def _warm(conditions):
    """Return conditions with both ends of the temperature: the usual range where none is asked for."""
    if conditions.TA_ends != (conditions.TA, conditions.TA):
        return conditions
    return replace(conditions, TA_min=USUAL_TA[0], TA_max=USUAL_TA[1])


def _by_law(conditions, ageing):
    """Return conditions with another law of ageing."""
    return replace(conditions, ageing=ageing)


def _surroundings(asked):
    """Return code of every step to its conditions."""
    alone = replace(asked, TA_min="ta", TA_max="ta", years=0.0)
    warm = replace(_warm(asked), years=0.0)
    found = dict.fromkeys(("typical", "tolerances", "weakest"), alone) | {"temperature": warm}
    laws = (asked.ageing,) if asked.years else dict.fromkeys((*PLANS, asked.ageing))
    for law in laws:
        code = f"service-{law if law in PLANS else 'own'}"
        found[code] = replace(warm, years=asked.years or PLANNED, ageing=law)
    return found


def _step(code, point, before):
    """Return a step from its solved stage and the codes that failed before it."""
    made = {finding.code: finding for finding in judged(point)}
    graver = FAILING[:1] if code == "typical" else FAILING
    failing = tuple(finding.code for finding in made.values() if finding.severity in graver)
    levels = [made[name] for name in point.scenario.output.level_codes if name in made]
    nearest = min(levels, key=lambda finding: (finding.severity == "pass", finding.margin), default=None)
    overdrive, worst = point.states["closed"].quantities.get("overdrive"), 0
    if overdrive is not None:
        worst = int(overdrive.members.argmin())
    elif nearest is not None and nearest.worst is not None:
        worst = nearest.worst
    new = tuple(name for name in failing if name not in before)
    TA = float(point.varied["TA"][worst])
    return Step(code, point.scenario.conditions, overdrive and overdrive.low, TA, nearest, failing, new)


def _corners_of(scenario):
    """Return what `Corners` asks for."""
    tolerance = scenario.conditions.tolerance
    return scenario.input.spreads(tolerance), scenario.output.spreads(tolerance)


class _Burdens(Corners):
    """Corners of several scenarios, some of whose factors stay nominal."""

    def __init__(self, scenario, spared):
        super().__init__(*_corners_of(scenario), warm=True)
        self.spared = spared

    def spread(self, factor, name, triples):
        """Return the values of one quantity in every circuit, as of `Corners.spread`."""
        nominal = np.array([spared is None or factor in spared for spared in self.spared])
        return super().spread(factor, name, np.where(nominal[:, None], triples[:, :1], triples))


class _Weakest(Corners):
    """The nominal stage, and the corners with the weakest coupler: the ones that age."""

    def __init__(self, scenario):
        conditions = scenario.conditions
        super().__init__(*_corners_of(scenario), warm=conditions.TA_ends != (conditions.TA, conditions.TA))
        self.keep(np.flatnonzero((self.ways["CTR"] < 0) | (self.ways["threshold"] < 0)))

    def keep(self, corners):
        """Leave the nominal stage and some of the corners only."""
        kept = np.unique(np.concatenate([[0], corners]))
        self.ways = {factor: ways[kept] for factor, ways in self.ways.items()}
        self.members = len(kept)


class _Curve:
    """Margins of a stage over the light that is left; "along" is the logarithm of one over that share."""

    def __init__(self, scenario):
        new = replace(scenario, conditions=replace(scenario.conditions, years=0.0))
        point = operating_point(new)
        quantities = point.states["closed"].quantities
        self.scenario, self.sized, self.draw = new, point.sized, _Weakest(new)
        self.IF = quantities["IF"].value
        self.overdrive = quantities["overdrive"].low if "overdrive" in quantities else None
        self.level = _level_margin(point)
        self.measure = "level" if self.overdrive is None else "overdrive"

    def follow(self, along, exactly):
        """Solve the stage all along, and find where either margin is used up."""
        self._search(np.linspace(along[0], along[-1], _SEARCHED))
        solved = self._solved(along)
        self.along, self.margins = along, dict(zip(("overdrive", "level"), solved, strict=True))
        self.ends = {
            name: _crossing(along, margins, lambda at, k=k: float(self._solved([at])[k][0]), exactly)
            for k, (name, margins) in enumerate(self.margins.items())
        }

    def margin_at(self, along):
        """Return the margin at places that were followed."""
        return self.margins[self.measure][np.searchsorted(self.along, along)]

    def _search(self, along):
        """Go on with those corners only that are the worst ones somewhere along the way."""
        worst = []
        for point in self._points(along):
            overdrive, told = point.states["closed"].quantities.get("overdrive"), _level(point)
            worst += [told.worst, 0 if overdrive is None else int(overdrive.members.argmin())]
        self.draw.keep(worst)

    def _solved(self, along):
        """Return the margins of overdrive and level at several places, shape (2, places)."""
        found = []
        for point in self._points(along):
            overdrive = point.states["closed"].quantities.get("overdrive")
            # What does not age keeps its margin; of that only the level knows anything worse than the weakest part.
            found.append((overdrive.low - 1.0 if overdrive else np.nan, min(self.level, _level_margin(point))))
        return np.array(found).T

    def _points(self, along):
        """Yield the stage solved at several places."""
        stages = tuple(self._faded(float(at)) for at in along)
        seen = observed(build_all(stages, draw=self.draw, sizes=(self.sized,) * len(stages)))
        return (seen.point(k) for k in range(len(stages)))

    def _faded(self, along):
        """Return the stage with its weakest part faded so far."""
        conditions = self.scenario.conditions
        law = replace(conditions, ageing="own", loss=_LOSS, loss_years=1.0, years=-along / math.log1p(-_LOSS))
        return replace(self.scenario, conditions=law)


def _level(point):
    """Return the finding on the level with the LED lit."""
    return level(point, point.scenario.output.level_codes[0])


def _level_margin(point):
    """Return its margin, negative where it is not sure."""
    found = _level(point)
    return max(found.margin, _SURE) if found.severity == "pass" else min(found.margin, -_SURE)


def _crossing(along, margins, solved, exactly):
    """Return where a falling margin is used up: 0 if at once, None if nowhere."""
    below = np.flatnonzero(margins < 0.0)
    if not len(below):
        return None
    if below[0] == 0:
        return 0.0
    low, high = float(along[below[0] - 1]), float(along[below[0]])
    solved = cache(solved)  # both ends are asked for more than once
    # Alone a stage is solved to other last digits than among many.
    if solved(low) <= 0.0 or solved(high) >= 0.0:
        return low if solved(low) <= 0.0 else high
    return brentq(solved, low, high, xtol=exactly)


def _fading(curve, conditions, pace, service, along):
    """Return what one law of ageing gives."""

    def year(at):
        if at is None or at > service[-1] * pace:
            return None
        return at / pace if at else 0.0

    level_ends = year(curve.ends["level"])
    ends = level_ends if curve.measure == "level" else year(curve.ends["overdrive"])
    told, left = law_in_words(conditions), np.exp(-along)
    because = _because(curve, told, (float(service[-1]), float(left[-1])), (ends, level_ends), pace)
    return Fading(conditions.ageing, told, service, left, curve.margin_at(along), ends, level_ends, because)


def _because(curve, told, last, ends, pace):
    """Return why the margin ends, or that it does not."""
    observed_as, lit = curve.scenario.output.observed, curve.scenario.output.level_when_lit
    ratio, (years, left), (end, level_ends) = curve.scenario.coupling.has_ratio, last, ends
    level_told = f"{observed_as} is no longer surely {lit}"
    if end == 0.0:
        return f"New parts have no margin at worst: {_beginning(curve)}."
    first = f"New, at worst {_beginning(curve)}."
    if end is None:
        then = (
            f" If {told}, {printed(left, RATIO)} of the light is left after {years:g} years, and that is still enough."
        )
    else:
        left = printed(math.exp(-end * pace), RATIO)
        fails = level_told
        if curve.measure == "overdrive":
            fails = "the output no longer saturates" if ratio else "the coupler is no longer surely on"
        then = f" If {told}, {left} of it is left after {spoken(end)}, and {fails}."
    if curve.measure == "level" or level_ends is None:
        return first + then
    when = f"After {spoken(level_ends)}" if level_ends else "Even new"
    return f"{first}{then} {when} {level_told}."


def _beginning(curve):
    """Return what new parts have at worst, as a clause."""
    if curve.overdrive is None:
        sure = "surely" if curve.level > 0.0 else "not surely"
        return f"{curve.scenario.output.observed} is {sure} {curve.scenario.output.level_when_lit} with the LED lit"
    if curve.scenario.coupling.has_ratio:
        return f"the coupler can give {curve.overdrive:.3g} times what the load needs"
    return f"the LED gets {curve.overdrive:.3g} times the current from which the coupler is on"
