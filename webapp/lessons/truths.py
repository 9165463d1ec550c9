"""Answers, worked out from the stages of a lesson, and what a prediction is worth beside them.

No answer is ever kept: each is solved anew from the scenario that gives it.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from urllib.parse import parse_qsl

from engine import (
    UNITS,
    ConvergenceError,
    QuantityError,
    ScenarioError,
    operating_point,
    parse,
    query_from,
    scenario_from,
    scenario_from_query,
)
from webapp.lessons.lesson import IN_WORDS, LEVEL, LONGEST_STAGE, Lesson, LessonError, Step

LONGEST_PREDICTION = 400
"""Characters of a prediction."""

NEAR = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5)
"""Shares of an answer that a prediction may be told to lie within."""

SAME = 0.01
"""Share by which a quantity may change and count as staying."""

UNSOLVED = "No working point is found for this stage."
_ASIDE = ("was", "panel")  # what addresses of the explorer carry beside the scenario
_COUNTED = {"overdrive"}  # ratios that are told as so many times, not in percent
_BEYOND = 1e9  # more of any unit than a stage has


class PredictionError(ValueError):
    """A prediction that cannot be read; the sentence tells why, and what is accepted."""


@dataclass(frozen=True, slots=True)
class Truth:
    """An answer, worked out.

    Attributes
    ----------
    what : str
        Symbol of the quantity, or `LEVEL`.
    unit : str
        Name of its unit; empty for a level.
    value : float
        The nominal value [unit].
    low : float
        Smallest value over all corners [unit].
    high : float
        Largest value over all corners [unit].
    before : float or None
        What it was before the change; None where nothing is changed, or it was not there [unit].
    level : str
        The level that is read; empty for a quantity.
    sure : bool
        Whether every corner reads it.
    level_before : str
        The level before the change; empty where there is none.
    """

    what: str
    unit: str = ""
    value: float = 0.0
    low: float = 0.0
    high: float = 0.0
    before: float | None = None
    level: str = ""
    sure: bool = False
    level_before: str = ""


@dataclass(frozen=True, slots=True)
class Judged:
    """A prediction beside the answer.

    Attributes
    ----------
    text : str
        What was predicted, as typed.
    given : float or None
        The same as a number; None for a level [unit].
    right : bool
        Level: whether it is the one. Quantity: whether it lies within the worst-case range.
    off : float or None
        How far it is off, as a share of the answer; None where the answer is nothing [-].
    near : float or None
        The smallest share of `NEAR` that it lies within.
    way : str
        Which way the quantity goes: "rises", "falls", "stays"; empty where nothing is changed.
    predicted_way : str
        Which way it was predicted to go.
    """

    text: str
    given: float | None
    right: bool
    off: float | None = None
    near: float | None = None
    way: str = ""
    predicted_way: str = ""


def query_typed(text: str) -> tuple[str, str]:
    """Return the canonical query string of an address or query that was typed, and the panel that it names.

    Raises
    ------
    ValueError
        With a sentence that tells what is wrong with it.
    """
    if len(text) > LONGEST_STAGE + 200:
        raise ValueError(f"This address is longer than {LONGEST_STAGE} characters.")
    stripped = text.strip().partition("#")[0]
    head, mark, query = stripped.partition("?")
    if not mark:
        query = stripped if "=" in stripped else ""
        if not query and head and not head.rstrip("/").endswith("/stage"):
            raise ValueError("This is no address of a stage; accepted: /stage?… as the explorer has it.")
    pairs = parse_qsl(query, keep_blank_values=True)
    panel = next((value for key, value in pairs if key == "panel"), "")
    own = [(key, value) for key, value in pairs if key not in _ASIDE and not key.startswith("p.")]
    return _canonical(lambda: scenario_from(own)), panel if panel.isalpha() and len(panel) <= 16 else ""


def settled(lesson: Lesson) -> Lesson:
    """Return a lesson whose stages are written in their canonical form and can be solved.

    Raises
    ------
    LessonError
        With every field that cannot be, named as "steps.2.scenario".
    """
    wrong, steps = {}, []
    for k, step in enumerate(lesson.steps, 1):
        try:
            steps.append(settled_step(step))
        except LessonError as error:
            wrong |= {f"steps.{k}.{field}": text for field, text in error.wrong.items()}
    if wrong:
        raise LessonError(wrong)
    return replace(lesson, steps=tuple(steps))


def settled_step(step: Step) -> Step:
    """Return a step whose stages can be solved and have what is asked for; raises LessonError with its fields."""
    wrong, ask = {}, step.ask
    scenario = _noted(wrong, "scenario", step.scenario)
    if ask is not None and ask.after is not None:
        ask = replace(ask, after=_noted(wrong, "ask.after", ask.after))
    made = replace(step, scenario=scenario, ask=ask)
    if ask is not None and not wrong:
        if reason := _unasked(made):
            wrong["ask.what"] = reason
    if wrong:
        raise LessonError(wrong)
    return made


def _noted(wrong, field, query):
    """Return the canonical form of a query string, or note what is wrong with it."""
    try:
        return _canonical(lambda: scenario_from_query(query))
    except ValueError as error:
        wrong[field] = str(error)
        return ""


def _canonical(make):
    """Return the canonical query string of a scenario that can be solved; raises ValueError with a sentence."""
    try:
        scenario = make()
        operating_point(scenario)
        query = query_from(scenario)
    except ScenarioError as error:
        raise ValueError("; ".join(str(problem) for problem in error.problems)[:1000]) from error
    except ConvergenceError as error:
        raise ValueError(UNSOLVED) from error
    if len(query) > LONGEST_STAGE:
        raise ValueError(f"This address is longer than {LONGEST_STAGE} characters.")
    return query


def _unasked(step):
    """Return why a stage cannot be asked for something; empty if it can."""
    ask = step.ask
    if ask.what in (IN_WORDS, LEVEL):
        return ""
    there = _solved(step.answered_by).states[ask.state].quantities
    if ask.what in there:
        return ""
    return f"The stage of the answer has no such quantity in this state; it has {', '.join(there)}."


@lru_cache(maxsize=128)
def _solved(query):
    """Return a stage, solved; the same steps are asked for again and again."""
    return operating_point(scenario_from_query(query))


def levels_of(step: Step) -> tuple[str, ...]:
    """Return what may be read at the output of the stage that gives the answer."""
    return _solved(step.answered_by).scenario.output.words


def unit_of(step: Step) -> str:
    """Return the name of the unit that a prediction is read in; raises ScenarioError or KeyError if it has none."""
    found = _solved(step.answered_by).states[step.ask.state].quantities[step.ask.what]
    return "count" if step.ask.what in _COUNTED else found.unit


def truth_of(step: Step) -> Truth | None:
    """Return the answer to what a step asks; None where it is in words.

    Raises
    ------
    ScenarioError
        If the stage cannot be read by this version.
    KeyError
        If it has no such quantity any more.
    """
    ask = step.ask
    if ask is None or ask.what == IN_WORDS:
        return None
    state = _solved(step.answered_by).states[ask.state]
    before = _solved(step.scenario).states[ask.state] if ask.after is not None else None
    if ask.what == LEVEL:
        level_before = before.verdict.level if before is not None else ""
        return Truth(LEVEL, level=state.verdict.level, sure=state.verdict.sure, level_before=level_before)
    found = state.quantities[ask.what]
    earlier = before.quantities.get(ask.what) if before is not None else None
    value = earlier.value if earlier is not None and earlier.unit == found.unit else None
    return Truth(ask.what, unit_of(step), found.value, found.low, found.high, value)


def judged(step: Step, text: str) -> Judged:
    """Return what a prediction is worth.

    Raises
    ------
    PredictionError
        If it cannot be read.
    ScenarioError
        If the stage cannot be read by this version.
    """
    typed = text.strip()
    if not typed:
        raise PredictionError("A prediction is wanted here, or have the answer shown without one.")
    if len(typed) > LONGEST_PREDICTION:
        raise PredictionError(f"This is longer than {LONGEST_PREDICTION} characters.")
    truth = truth_of(step)
    if truth is None:
        return Judged(typed, None, True)
    if truth.what == LEVEL:
        if typed not in levels_of(step):
            raise PredictionError(f"Accepted: {', '.join(levels_of(step))}.")
        return Judged(typed, None, typed == truth.level)
    try:
        given = parse(typed, UNITS[truth.unit])
    except QuantityError as error:
        raise PredictionError(f"{error.reason[0].upper()}{error.reason[1:]}; {error.accepted}.") from error
    if abs(given) > _BEYOND:
        raise PredictionError("This is beyond anything that a stage has.")
    return _weighed(truth, typed, given)


def _weighed(truth, typed, given):
    """Return a predicted number beside the answer."""
    floor = UNITS[truth.unit].floor
    nothing = abs(truth.value) <= floor
    off = None if nothing else (given - truth.value) / abs(truth.value)
    near = next((share for share in NEAR if off is not None and abs(off) <= share * (1 + 1e-9)), None)
    # What is printed has three figures: a prediction of just that lies within.
    low, high = (end + side * (0.005 * abs(end) + floor) for end, side in ((truth.low, -1), (truth.high, 1)))
    within = low <= given <= high
    ways = ("", "") if truth.before is None else tuple(_way(truth.before, v, floor) for v in (truth.value, given))
    return Judged(typed, given, within, off, near, *ways)


def _way(before, after, floor):
    """Return which way a quantity goes."""
    if abs(after - before) <= max(SAME * abs(before), floor):
        return "stays"
    return "rises" if after > before else "falls"
