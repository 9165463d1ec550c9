"""A bag of couplers: each as a dot over the bin, and the transfer ratio that two readings imply."""

from dataclasses import dataclass

from engine import (
    MOST_COUPLERS,
    MOST_SEED,
    RULES,
    SURROUNDINGS,
    ConvergenceError,
    Readings,
    Scenario,
    ScenarioError,
    bag_of,
    implied_CTR,
    query_from,
)
from webapp.present.axes import TickView
from webapp.present.figures import plain
from webapp.present.panels.drawn import Typed, told
from webapp.present.panels.spread import UNSOLVED
from webapp.present.results import SIGNS

WIDTH, LEFT, RIGHT = 760, 70, 70
"""View box of the dots, and where the ends of the bin stand in it."""

USUAL = 20
"""Couplers of a bag where nothing else is asked for."""

_DOT, _BASE = 18, 44  # distance of dots; height of what is below them
_WAYS = {"stage": "voltages across R1 and RL", "currents": "IF and IC at a VCE"}
_SURROUNDINGS = {"worst": "at every corner, to the end of the service", "nominal": "with everything else nominal, new"}
_FIELDS = {
    "stage": (("vr1", "Across R1", "V", (1e-6, 1e4)), ("vrl", "Across RL", "V", (1e-6, 1e4))),
    "currents": (("if", "IF", "A", (1e-9, 10.0)), ("ic", "IC", "A", (1e-12, 10.0)), ("vce", "VCE", "V", (0.01, 1e3))),
}
"""Way of reading to its fields: key, label, unit, bounds."""

_ACCURACIES = 0.001, 0.5


@dataclass(frozen=True, slots=True)
class DotView:
    """One coupler.

    Attributes
    ----------
    number : int
        Which it is, from 1.
    x, y : float
        Where it stands.
    passes : bool
        Whether everything holds with it.
    value : str
        Its transfer ratio or threshold.
    sign : str
        A sign for the verdict.
    word : str
        The verdict in a word.
    fails : str
        What does not hold; empty if everything does.
    """

    number: int
    x: float
    y: float
    passes: bool
    value: str
    sign: str
    word: str
    fails: str


@dataclass(frozen=True, slots=True)
class ImpliedView:
    """What two readings imply.

    Attributes
    ----------
    answer : str
        In a sentence.
    place : str
        Where that lies in the bin, in a sentence.
    x : float
        The same on the scale of the dots.
    """

    answer: str
    place: str
    x: float


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field of the readings.

    Attributes
    ----------
    key : str
        Its name.
    label : str
        What it asks for.
    value : str
        What was typed.
    """

    key: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class BagPanel:
    """The panel.

    Attributes
    ----------
    error : str
        What is wrong with what was typed or drawn; empty if nothing is.
    answer : str
        How many of the couplers work, in a sentence; empty if they could not be tried.
    whole : str
        What fails whatever the coupler, in a sentence; empty if nothing does.
    description : str
        The drawing in a sentence.
    width, height : int
        View box.
    base : int
        Where the scale stands.
    ticks : tuple of TickView
        The ends of the bin.
    dots : tuple of DotView
        The couplers.
    symbol : str
        What tells them from each other.
    count, seed, at : str
        What is asked for.
    next : str
        Number of the next draw.
    again : str
        Query of the stage with the next draw.
    most : int
        The most couplers.
    surroundings : tuple of (str, str)
        Choices of surroundings with their words.
    reads : bool
        Whether readings imply anything: the coupler has a transfer ratio.
    by : str
        Way of reading.
    ways : tuple of (str, str)
        Ways of reading with their words.
    fields : tuple of FieldView
        Fields of the readings, the accuracy last.
    refused : str
        What is wrong with the readings; empty if nothing is.
    implied : ImpliedView or None
        What they imply; None where they are not all there.
    """

    error: str
    answer: str
    whole: str
    description: str
    width: int
    height: int
    base: int
    ticks: tuple[TickView, ...]
    dots: tuple[DotView, ...]
    symbol: str
    count: str
    seed: str
    at: str
    next: str
    again: str
    most: int
    surroundings: tuple[tuple[str, str], ...]
    reads: bool
    by: str
    ways: tuple[tuple[str, str], ...]
    fields: tuple[FieldView, ...]
    refused: str
    implied: ImpliedView | None


def bag_panel(scenario: Scenario, values: dict[str, str]) -> BagPanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    typed = Typed(values)
    count = typed.whole("count", USUAL, 1, MOST_COUPLERS)
    number = typed.whole("seed", 1, 0, MOST_SEED)
    at = typed.choice("at", SURROUNDINGS[::-1])
    error, bag = told(typed.problems), None
    try:
        bag = bag_of(scenario, count, number, at)
    except ConvergenceError:
        error = UNSOLVED
    readings = Typed(values)
    by = readings.choice("by", tuple(_WAYS))
    implied, refused = _implied(scenario, readings, by)
    dots, base = _dots(bag) if bag else ((), 0)
    again = (number + 1) % (MOST_SEED + 1)
    own = f"panel=bag&p.count={count}&p.seed={again}&p.at={at}"
    query = query_from(scenario)
    return BagPanel(
        error=error,
        answer=_answer(bag) if bag else "",
        whole=_whole(bag) if bag else "",
        description=_answer(bag) if bag else "",
        width=WIDTH,
        height=base + _BASE,
        base=base,
        ticks=_ticks(bag) if bag else (),
        dots=dots,
        symbol="CTR" if scenario.coupling.has_ratio else "threshold",
        count=str(count),
        seed=str(number),
        at=at,
        next=str(again),
        again=f"{query}&{own}" if query else own,
        most=MOST_COUPLERS,
        surroundings=tuple((key, _SURROUNDINGS[key]) for key in SURROUNDINGS[::-1]),
        reads=scenario.coupling.has_ratio,
        by=by,
        ways=tuple(_WAYS.items()),
        fields=_fields(scenario, values, by),
        refused=refused,
        implied=implied,
    )


def _answer(bag):
    """Return how many couplers work, in a sentence."""
    count, where = len(bag.specimens), _SURROUNDINGS[bag.surroundings]
    if bag.passing == count:
        return f"All {count} couplers of this bag work, {where}." if count > 1 else f"This coupler works, {where}."
    return f"{bag.passing} of {count} couplers of this bag work, {where}; {count - bag.passing} do not."


def _whole(bag):
    """Return what fails whatever the coupler, in a sentence."""
    if not bag.undrawn:
        return ""
    named = "; ".join(f"“{RULES[code].title}”" for code in bag.undrawn)
    return f"Judged for the stage as a whole, and failing whatever the coupler: {named}."


def _along(place):
    """Return where a place in the bin stands."""
    return round(LEFT + place * (WIDTH - LEFT - RIGHT), 1)


def _ticks(bag):
    """Return the ends and the middle of the bin."""
    middle = (bag.low * bag.high) ** 0.5
    return tuple(TickView(_along(k / 2), plain(value, bag.unit)) for k, value in enumerate((bag.low, middle, bag.high)))


def _dots(bag):
    """Return the couplers, piled up where they would touch, and where the scale stands below them."""
    piles, places = [], {}
    for k, one in sorted(enumerate(bag.specimens), key=lambda pair: pair[1].place):
        x = _along(one.place)
        row = next((row for row, last in enumerate(piles) if x - last >= _DOT), len(piles))
        piles[row : row + 1] = [x]
        places[k] = x, row
    base = _DOT * (len(piles) + 1)
    return tuple(
        _dot(bag, k, one, places[k][0], base - _DOT * (places[k][1] + 0.75)) for k, one in enumerate(bag.specimens)
    ), base


def _dot(bag, k, one, x, y):
    """Return one coupler."""
    fails = "; ".join(RULES[code].title for code in one.failing)
    sign, word = (SIGNS["pass"], "works") if one.passes else (SIGNS["stop"], "fails")
    return DotView(k + 1, x, y, one.passes, plain(one.value, bag.unit), sign, word, fails)


def _usual_accuracy(scenario, by):
    """Return how far a reading may be off: a resistor's tolerance where one is read across, else one per cent."""
    return max(scenario.conditions.tolerance, _ACCURACIES[0]) if by == "stage" else 0.01


def _fields(scenario, values, by):
    """Return the fields of the readings."""
    asked = [FieldView(key, label, values.get(key, "").strip()) for key, label, *_ in _FIELDS[by]]
    accuracy = values.get("acc", "").strip()
    usual = f"{100.0 * _usual_accuracy(scenario, by):g} %"
    return (*asked, FieldView("acc", f"Each within (usually {usual})", accuracy))


def _implied(scenario, typed, by):
    """Return what the readings imply, and what is wrong with them."""
    read = [typed.quantity(key, unit, None, bounds) for key, _, unit, bounds in _FIELDS[by]]
    accuracy = typed.quantity("acc", "1", _usual_accuracy(scenario, by), _ACCURACIES)
    if typed.problems or not scenario.coupling.has_ratio or None in read:
        return None, told(typed.problems)
    drive, response, *held = read
    try:
        found = implied_CTR(scenario, Readings(drive, response, accuracy, *held))
    except ScenarioError as error:
        return None, " ".join(f"These readings do not go together: {problem.reason}." for problem in error.problems)
    except ConvergenceError:
        return None, UNSOLVED
    return _implied_view(scenario, found), ""


def _implied_view(scenario, found):
    """Return what the readings imply, in sentences."""
    low, high = scenario.coupling.bin()
    ends = f"{plain(low, '1')} to {plain(high, '1')}"
    x = min(max(_along(found.place), 6.0), WIDTH - 6.0)
    if found.saturated:
        answer = (
            f"The output is saturated, so the readings give a lower bound alone: a CTR of at least "
            f"{plain(found.low, '1')} at the card's test point."
        )
        if found.place > 1.0:
            return ImpliedView(answer, f"That is above the bin, {ends}, already.", x)
        if found.place >= 0.0:
            return ImpliedView(answer, f"Within the bin, {ends}, that leaves the part above it.", x)
        return ImpliedView(answer, f"That says nothing within the bin, {ends}. Read with a smaller load resistor.", x)
    answer = (
        f"This specimen has a CTR of about {plain(found.value, '1')} at the card's test point: "
        f"{plain(found.low, '1')} to {plain(found.high, '1')} with what the readings may be off."
    )
    if found.place < 0.0:
        return ImpliedView(answer, f"That is below the bin, {ends}: aged, warm, or of another bin.", x)
    if found.place > 1.0:
        return ImpliedView(answer, f"That is above the bin, {ends}.", x)
    return ImpliedView(answer, f"That is {100.0 * found.place:.0f} % of the way up the bin, {ends}, by ratio.", x)
