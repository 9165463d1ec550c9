"""Curves of a coupler, read from its model on test circuits, with the points that its card states."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.coupler.bench import Wiring, measure
from engine.coupler.calibrate import model_of
from engine.coupler.families import TransistorCard
from engine.coupler.report import turning_on
from engine.errors import CardError
from engine.quantity import AMPERE, CELSIUS, RATIO, VOLT, as_typed

_STEPS = 41
_TEMPERATURES = -25.0, 25.0, 85.0  # [degC], of the forward voltage
_STEP_WARM = 5.0  # [K]
_ROWS_WARM = 25.0  # [K]
_APART = 1.4  # [-], least ratio of two LED currents of a family of curves
_MOST_LEVELS = 5
_BACK = 1.25  # [-], how far a family goes beyond the test voltage
_LOWEST = 1e-3  # [V]


@dataclass(frozen=True, slots=True)
class Trace:
    """One curve.

    Attributes
    ----------
    name : str
        What tells it from the others.
    y : tuple of float
        Its values [unit of the graph].
    """

    name: str
    y: tuple


@dataclass(frozen=True, slots=True)
class Graph:
    """Curves over one quantity.

    Attributes
    ----------
    title : str
        What is shown.
    condition : str
        Under which it holds, in words.
    x_name : str
        Symbol of the quantity that is set.
    x_unit : str
        Name of its SI unit.
    logarithmic : bool
        Whether it spans decades.
    y_name : str
        Symbol of the quantity that follows.
    y_unit : str
        Name of its SI unit.
    x : tuple of float
        Values that are set [x_unit].
    rows : tuple of int
        Places in `x` of round values, for a table.
    traces : tuple of Trace
        The curves.
    points : tuple of (float, float)
        What the card states [x_unit, y_unit].
    """

    title: str
    condition: str
    x_name: str
    x_unit: str
    logarithmic: bool
    y_name: str
    y_unit: str
    x: tuple
    rows: tuple
    traces: tuple
    points: tuple


@lru_cache(maxsize=32)
def curves_of(card):
    """Return the curves of a card's model.

    Parameters
    ----------
    card : Card
        The card, of any family.

    Returns
    -------
    tuple of Graph
        Of transistors: transfer ratio over LED current and over temperature, the family of collector currents; of
        others the threshold over temperature, where the card states it; of all the forward voltage.

    Raises
    ------
    CardError
        If the card cannot be calibrated, or a curve is not finite.
    ConvergenceError
        If a test circuit cannot be solved, which is a defect.

    References
    ----------
    Derived here, on the test circuits of `engine.coupler.bench`.
    """
    model = model_of(card)
    family = _transistor if isinstance(card, TransistorCard) else _switching
    with np.errstate(all="ignore"):
        graphs = (*family(model), _forward(model))
    if not all(np.isfinite(trace.y).all() for graph in graphs for trace in graph.traces):
        raise CardError(card.name, "title", "the model gives a curve that is not finite")
    return graphs


# ---------------------------------------------------------------- what is set


def _round_values(low, high):
    """Return the values of 1, 2 and 5 in every decade of a span."""
    decades = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    values = (float(f"{figure}e{decade}") for decade in decades for figure in (1, 2, 5))
    return [value for value in values if low * (1 - 1e-9) <= value <= high * (1 + 1e-9)]


def _set(values, round_values):
    """Return rising values with round ones among them, and the places of those."""
    x = np.unique([*values, *round_values])
    return x, tuple(int(place) for place in np.searchsorted(x, round_values))


def _currents(points):
    """Return LED currents over the span of a card's points."""
    low, high = points[0][0], points[-1][0]
    return _set(np.geomspace(low, high, _STEPS), _round_values(low, high))


def _warmth(points):
    """Return ambient temperatures over the span of a card's points."""
    low, high = points[0][0], points[-1][0]
    rows = [low, *np.arange(np.ceil((low + 1) / _ROWS_WARM) * _ROWS_WARM, high, _ROWS_WARM), high]
    steps = np.arange(np.ceil(low / _STEP_WARM) * _STEP_WARM, high, _STEP_WARM)
    return _set(steps, rows)


def _traces(named):
    return tuple(Trace(name, tuple(float(value) for value in y)) for name, y in named)


def _listed(x):
    return tuple(float(value) for value in x)


# ---------------------------------------------------------------- graphs


def _forward(model):
    card, hold = model.card, 1.0
    wiring = Wiring(hold=hold, VCC=card.ICC[2] if "supply" in model.terminals else hold)
    IF, rows = _currents(card.VF_points)
    traces = ((as_typed(TA, CELSIUS), measure(model, IF, wiring, TA=TA).VF) for TA in _TEMPERATURES)
    title, names = "Forward voltage over LED current", ("IF", AMPERE.name, True, "VF", VOLT.name)
    return Graph(title, "card at 25 °C", *names, _listed(IF), rows, _traces(traces), card.VF_points)


def _transistor(model):
    yield _ratio(model)
    yield _warm_ratio(model)
    yield _family(model)


def _ratio(model):
    card, held = model.card, Wiring(hold=model.card.CTR_VCE)
    IF, rows = _currents(card.CTR_shape)
    ends = (("max", card.CTR_max), ("typ", card.CTR_typ), ("min", card.CTR_min))
    traces = ((name, measure(model, IF, held, CTR=CTR).IO / IF) for name, CTR in ends)
    points = tuple((current, relative * card.CTR_typ) for current, relative in card.CTR_shape)
    condition = f"VCE = {as_typed(card.CTR_VCE, VOLT)}, 25 °C; card: typical part"
    names = "IF", AMPERE.name, True, "CTR", RATIO.name
    return Graph("Transfer ratio over LED current", condition, *names, _listed(IF), rows, _traces(traces), points)


def _warm_ratio(model):
    card, held = model.card, Wiring(hold=model.card.CTR_VCE)
    curves = card.CTR_temperature
    TA, rows = _warmth([(min(c[0][0] for _, c in curves),), (max(c[-1][0] for _, c in curves),)])

    def relative(IF):
        return measure(model, np.full(len(TA), IF), held, TA=TA).IO / measure(model, IF, held).IO[0]

    traces = ((as_typed(IF, AMPERE), relative(IF)) for IF, _ in curves)
    points = tuple(point for _, curve in curves for point in curve)
    condition = f"relative to 25 °C, VCE = {as_typed(card.CTR_VCE, VOLT)}; one curve for each LED current of the card"
    names = "TA", CELSIUS.name, False, "CTR", RATIO.name
    return Graph("Transfer ratio over temperature", condition, *names, _listed(TA), rows, _traces(traces), points)


def _levels(card):
    """Return the LED currents of a family of curves: those of the card's tests, and further ones between them."""
    tested = {card.CTR_IF, card.VCE_sat_IF, card.knee[0]}
    levels = sorted(tested)
    for further in (card.CTR_IF / 2, card.CTR_IF * 2, card.CTR_IF / 4):
        apart = all(max(further / level, level / further) >= _APART for level in levels)
        if apart and len(levels) < _MOST_LEVELS:
            levels.append(further)
    return sorted(levels)


def _family(model):
    card = model.card
    _, VCE, IC = card.knee
    end = min(max(_BACK * card.CTR_VCE, 3 * VCE, 3 * card.VCE_sat), max(card.VCEO, card.CTR_VCE, VCE))
    span = end * np.linspace(0.0, 1.0, _STEPS) ** 2
    x, rows = _set(np.maximum(span, _LOWEST), _round_values(max(end / 100, _LOWEST), end))
    traces = (
        (as_typed(level, AMPERE), measure(model, np.full(len(x), level), Wiring(hold=x)).IO) for level in _levels(card)
    )
    points = (
        (card.CTR_VCE, card.CTR_typ * card.CTR_IF),
        (card.VCE_sat, card.VCE_sat_IC),
        (VCE, IC),
    )
    condition = "typical part, 25 °C; one curve for each LED current. Card: CTR test, saturation test, knee"
    names = "VCE", VOLT.name, False, "IC", AMPERE.name
    return Graph("Collector current over its voltage", condition, *names, _listed(x), rows, _traces(traces), points)


def _switching(model):
    card, points = model.card, model.card.threshold_temperature
    if not points:
        return
    TA, rows = _warmth(points)
    at, relative = np.array(points).T
    expected = np.interp(TA, at, relative)
    read = [turning_on(model, card.IF_typ, degrees, near) for degrees, near in zip(TA, expected, strict=True)]
    stated = tuple((degrees, factor * card.IF_typ) for degrees, factor in points)
    names = "TA", CELSIUS.name, False, "IF", AMPERE.name
    title, condition = "Threshold over temperature", "LED current from which a typical part is on"
    yield Graph(title, condition, *names, _listed(TA), rows, _traces((("typ", read),)), stated)
