"""A stage over any one of its parameters: every result with its corners, and how far every rule is kept."""

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.errors import Problem, QuantityError, ScenarioError
from engine.findings import RULES, judged
from engine.operating import STATES
from engine.parameter import declared
from engine.quantity import as_typed, in_query, parse, shown
from engine.several import operating_points
from engine.sizing import size

FEWEST_POINTS, MOST_POINTS = 2, 400
"""How many points a sweep may have."""

SCALES = ("linear", "log")

USUAL_POINTS = 61

_SIZED = {"R1": "R1", "RL": "RL", "CD": "CD"}  # attribute to what `size` calls it
_SPEAKS = 1e-9  # [A], current above which a ratio of currents says something
_NODES, _CURRENTS, _POWERS = "V({})", "I({})", "P({})"


@dataclass(frozen=True, slots=True)
class Series:
    """One result over the values of a sweep; None where the stage is refused or does not have it.

    Attributes
    ----------
    unit : str
        Name of the SI unit; "1" for ratios.
    value : tuple of float or None
        Nominal values [unit].
    low : tuple of float or None
        Smallest values over all corners [unit].
    high : tuple of float or None
        Largest values over all corners [unit].
    """

    unit: str
    value: tuple
    low: tuple
    high: tuple


@dataclass(frozen=True, slots=True)
class Asked:
    """What a sweep is asked for.

    Attributes
    ----------
    key : str
        Key of the parameter.
    low : float
        First value [unit of the parameter].
    high : float
        Last value [unit of the parameter].
    points : int
        How many values, both ends among them [-].
    scale : str
        "linear" or "log": how they are spaced.
    """

    key: str
    low: float
    high: float
    points: int = USUAL_POINTS
    scale: str = "linear"


@dataclass(frozen=True, slots=True)
class Sweep:
    """A stage over one of its parameters.

    Attributes
    ----------
    key : str
        Key of the parameter.
    symbol : str
        Its symbol.
    unit : str
        Name of its SI unit; "1" for ratios, "count" for plain numbers.
    x : tuple of float
        Its values [unit].
    points : tuple of OperatingPoint or None
        The solved stage at each; None where it is refused.
    reasons : tuple of str
        Why it is refused; empty where it is not.
    """

    key: str
    symbol: str
    unit: str
    x: tuple
    points: tuple
    reasons: tuple

    @property
    def states(self):
        """Return every result by state and name.

        Returns
        -------
        dict of str to dict of str to Series
            "closed" and "open" to names as of `results_of`.
        """
        return {state: self._all_of(state) for state in STATES}

    def series(self, state, name):
        """Return one result over the values.

        Parameters
        ----------
        state : str
            "closed" or "open".
        name : str
            Name as of `results_of`.

        Returns
        -------
        Series
            The result; None at every value where no stage has it.
        """
        return self._series([results_of(point.states[state]) if point else {} for point in self.points], name)

    def _all_of(self, state):
        found = [results_of(point.states[state]) if point else {} for point in self.points]
        names = dict.fromkeys(name for results in found for name in results)
        return {name: self._series(found, name) for name in names}

    def _series(self, found, name):
        rows = [results.get(name) for results in found]
        unit = next((row[0] for row in rows if row), "1")
        return Series(unit, *(tuple(row[k] if row else None for row in rows) for k in (1, 2, 3)))

    def margins(self):
        """Return how far every rule is kept, negative where it is broken.

        Returns
        -------
        dict of str to tuple of float or None
            Code of a finding to its margin at each value; None where a stage is refused or is not asked this [-].
        """
        found = [{f.code: f.margin for f in judged(point)} if point else {} for point in self.points]
        codes = dict.fromkeys(code for margins in found for code in margins)
        return {code: tuple(margins.get(code) for margins in found) for code in codes}

    def margin(self, code):
        """Return how far one rule is kept, negative where it is broken.

        Parameters
        ----------
        code : str
            Code of a finding.

        Returns
        -------
        tuple of float or None
            Margin at each value; None where the stage is refused or is not asked this [-].
        """
        found = (RULES[code].measure(point) if point else None for point in self.points)
        return tuple(finding.margin if finding else None for finding in found)

    def verdicts(self, state):
        """Return what is read at the output.

        Parameters
        ----------
        state : str
            "closed" or "open".

        Returns
        -------
        tuple of Verdict or None
            At each value; None where the stage is refused.
        """
        return tuple(point.states[state].verdict if point else None for point in self.points)


def results_of(state):
    """Return every result of one solved state by name.

    Parameters
    ----------
    state : State
        The state.

    Returns
    -------
    dict of str to tuple of (str, float, float, float)
        Unit, nominal value, smallest and largest over all corners: of quantities by symbol, of nodes as "V(OUT)", of
        currents as "I(RL)", of powers as "P(RL)" [unit].
    """
    found = {name: (r.unit, r.value, r.low, r.high) for name, r in state.quantities.items()}
    found |= {_NODES.format(name): ("V", r.value, r.low, r.high) for name, r in state.nodes.items()}
    found |= {_CURRENTS.format(name): ("A", r.value, r.low, r.high) for name, r in state.currents.items()}
    return found | {_POWERS.format(name): ("W", p.value, p.low, p.high) for name, p in state.powers.items()}


# ---------------------------------------------------------------- what can be swept


def swept_parameters(scenario):
    """Return what a stage can be swept over: every parameter that is a number.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    dict of str to Parameter
        Key to declaration, in the order of the query string.
    """
    return {key: parameter for key, (_, _, parameter) in _numbers(scenario).items()}


def _numbers(scenario):
    """Return key to place of the record, attribute and declaration of every parameter that is a number."""
    return {
        parameter.key: (place, name, parameter)
        for place, part in enumerate(scenario.parts())
        for name, parameter in declared(part).items()
        if parameter.unit is not None
    }


def present_value(scenario, key):
    """Return the value that a parameter has in a stage, with words such as "auto" taken for what they come to.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    key : str
        Key of one of its `swept_parameters`.

    Returns
    -------
    float or None
        The value; None where its word stands for no number [unit of the parameter].

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    place, name, _ = _numbers(scenario)[key]
    part = scenario.parts()[place]
    value = getattr(part, name)
    if not isinstance(value, str):
        return value
    if name in _SIZED and value == "auto":
        fitted = size(scenario).get(_SIZED[name])
        return fitted.chosen if fitted else None
    ends = {"VS_min": ("VS_ends", 0), "VS_max": ("VS_ends", 1), "VCC_min": ("VCC_ends", 0), "VCC_max": ("VCC_ends", 1)}
    ends |= {"TA_min": ("TA_ends", 0), "TA_max": ("TA_ends", 1)}
    if name in ends and hasattr(part, ends[name][0]):
        return float(getattr(part, ends[name][0])[ends[name][1]])
    if name in ("CTR", "CTR_min", "CTR_max") and scenario.coupling.has_ratio:
        return dict(zip(("CTR", "CTR_min", "CTR_max"), scenario.coupling.ratios(), strict=True))[name]
    return None


def as_built(scenario):
    """Return the stage with what is "auto" held at the value that is fitted, as a built one has it.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    Scenario
        The same stage without "auto".

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    sized, parts = size(scenario), []
    for part in (scenario.input, scenario.output):
        fitted = {
            name: sized[called].chosen
            for name, called in _SIZED.items()
            if called in sized and getattr(part, name, None) == "auto"
        }
        parts.append(replace(part, **fitted))
    return replace(scenario, input=parts[0], output=parts[1])


def sweep_asked(scenario, given):
    """Return what a sweep is asked for, from texts.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    given : dict of str to str
        "over", "from", "to", and where wanted "points" and "scale"; quantities with their units.

    Returns
    -------
    Asked
        For `sweep_of`.

    Raises
    ------
    ScenarioError
        With a problem for everything that cannot be read.

    Examples
    --------
    >>> from engine.scenario import Scenario
    >>> sweep_asked(Scenario(), {"over": "rl", "from": "1k", "to": "100k", "points": "50"}).high
    100000.0
    """
    known = swept_parameters(scenario)
    parameter = known.get(given.get("over", ""))
    if parameter is None:
        raise ScenarioError([_unknown(given.get("over", ""), known)])
    return span_asked(parameter, given)


def span_asked(parameter, given):
    """Return what a sweep over a parameter is asked for, from texts.

    Parameters
    ----------
    parameter : Parameter
        What is swept.
    given : dict of str to str
        As of `sweep_asked`.

    Returns
    -------
    Asked
        Ends, points and scale.

    Raises
    ------
    ScenarioError
        With a problem for everything that cannot be read.
    """
    problems, ends = [], {}
    for name in ("from", "to"):
        try:
            ends[name] = parse(given.get(name, ""), parameter.unit)
        except QuantityError as error:
            problems.append(Problem(name, error.given, f"a value like {parameter.unit.example}", error.reason))
    text = given.get("points", str(USUAL_POINTS)).strip()
    points = int(text) if text.isascii() and text.isdigit() and len(text) <= 4 else 0
    wanted = Asked(
        parameter.key, ends.get("from", math.nan), ends.get("to", math.nan), points, given.get("scale", SCALES[0])
    )
    problems += _wrong(wanted, parameter, shown(text))
    if problems:
        raise ScenarioError(problems)
    return wanted


def _unknown(key, known):
    reason = f"'{shown(key)}' is no number of this stage that it could be swept over"
    return Problem("over", shown(key), f"one of {', '.join(known)}", reason)


def _wrong(wanted, parameter, text):
    """Yield what cannot be of a sweep whose ends were read."""
    if not FEWEST_POINTS <= wanted.points <= MOST_POINTS:
        accepted = f"a whole number from {FEWEST_POINTS} to {MOST_POINTS}"
        yield Problem("points", text, accepted, f"'{text}' is no number of points that is solved")
    if wanted.scale not in SCALES:
        reason = f"'{shown(wanted.scale)}' is not a way of spacing points"
        yield Problem("scale", shown(wanted.scale), f"one of {', '.join(SCALES)}", reason)
    if math.isnan(wanted.low) or math.isnan(wanted.high):
        return
    unit, low, high = parameter.unit, parameter.low, parameter.high
    if wanted.low >= wanted.high:
        accepted = f"a value above {as_typed(wanted.low, unit)}"
        yield Problem("to", in_query(wanted.high, unit), accepted, "the sweep ends where it begins, or before")
    elif wanted.high < low or wanted.low > high:
        reason = f"nothing from {as_typed(wanted.low, unit)} to {as_typed(wanted.high, unit)} is in range"
        yield Problem("to", in_query(wanted.high, unit), parameter.accepted, f"{reason} for {parameter.symbol}")
    if wanted.scale == "log" and wanted.low <= 0.0:
        reason = "a logarithmic spacing has no beginning at 0 or below"
        yield Problem("from", in_query(wanted.low, unit), "a value above 0, or linear spacing", reason)


# ---------------------------------------------------------------- the sweep


def sweep_of(scenario, key, low, high, points=USUAL_POINTS, scale="linear"):
    """Return a stage solved over one of its parameters.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    key : str
        Key of one of its `swept_parameters`.
    low : float
        First value [unit of the parameter].
    high : float
        Last value, above the first [unit of the parameter].
    points : int
        How many values, from `FEWEST_POINTS` to `MOST_POINTS` [-].
    scale : str
        One of `SCALES`.

    Returns
    -------
    Sweep
        All results at all values; a value that makes no stage leaves a gap with its reason.

    Raises
    ------
    ScenarioError
        If there is no such parameter, or the span cannot be.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Every value is a stage of its own, solved with all its corners: what is "auto" is sized anew. `as_built` keeps it.
    """
    numbers = _numbers(scenario)
    if key not in numbers:
        raise ScenarioError([_unknown(key, numbers)])
    place, name, parameter = numbers[key]
    x = values_of(Asked(key, low, high, points, scale), parameter)
    found, reasons = solved(scenario, place, [{name: value} for value in x])
    return Sweep(key, parameter.symbol, parameter.unit.name, x, found, reasons)


def values_of(wanted, parameter):
    """Return the values of a sweep.

    Parameters
    ----------
    wanted : Asked
        Ends, points and scale.
    parameter : Parameter
        What is swept.

    Returns
    -------
    tuple of float
        Values, rising, both ends among them [unit of the parameter].

    Raises
    ------
    ScenarioError
        If the span cannot be.
    """
    wrong = list(_wrong(wanted, parameter, str(wanted.points)))
    if wrong:
        raise ScenarioError(wrong)
    spaced = np.linspace if wanted.scale == "linear" else np.geomspace
    return tuple(float(f"{value:.12g}") for value in spaced(wanted.low, wanted.high, wanted.points))


def solved(scenario, place, changes):
    """Return a stage solved with changes to one of its records.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    place : int
        Which of its `parts`.
    changes : list of dict of str to float
        Attributes of that record to values, one dictionary for each stage.

    Returns
    -------
    points : tuple of OperatingPoint or None
        The solved stages; None where one is refused.
    reasons : tuple of str
        Why it is; empty where it is not.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.
    """
    names, parts = ("input", "coupling", "output", "conditions"), scenario.parts()
    made, reasons = [], []
    for change in changes:
        try:
            made.append(replace(scenario, **{names[place]: replace(parts[place], **change)}))
            reasons.append("")
        except ScenarioError as error:
            made.append(None)
            reasons.append(str(error))
    found = iter(_each([one for one in made if one]))
    points = [next(found) if one else None for one in made]
    for k, (one, point) in enumerate(zip(made, points, strict=True)):
        if one and point is None:
            reasons[k] = _unsized(one)
    return tuple(points), tuple(reasons)


def _each(scenarios):
    """Return stages solved together, each with all that it has alone.

    A batch has transfer ratios only where every stage in it is driven, and overdrive only where every stage asks for
    current. So those that lack what they would have alone are solved anew among their like.
    """
    points, again = operating_points(scenarios), {}
    for k, point in enumerate(points):
        found = point.states["closed"].quantities if point else {}
        if "IC_needed" not in found:
            continue
        driven, asks = (found[name].low > _SPEAKS for name in ("IF", "IC_needed"))
        if driven and ("CTR_available" not in found or (asks and "overdrive" not in found)):
            again.setdefault(asks, []).append(k)
    for places in again.values():
        for k, point in zip(places, operating_points([scenarios[k] for k in places]), strict=True):
            points[k] = point
    return points


def _unsized(scenario):
    """Return why a stage's "auto" resistors cannot be sized."""
    try:
        size(scenario)
    except ScenarioError as error:
        return str(error)
    return ""
