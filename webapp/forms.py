"""The controls of the explorer: one field for each parameter, with label, help, slider and, where one is due, an error.

Limits and units belong to the engine; here are only words, the stops of the sliders and what was typed.
"""

from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache

from engine import (
    AMPERE,
    CELSIUS,
    INPUTS,
    OHM,
    OUTPUTS,
    RATIO,
    VOLT,
    Conditions,
    Coupling,
    as_typed,
    declared,
    ladder,
    pairs_from,
)
from webapp.words import CHOICES, WORDS, words_for


@dataclass(frozen=True, slots=True)
class Slider:
    """A slider that steps through values written as text.

    Attributes
    ----------
    stops : tuple of str
        The values.
    position : int
        Index of the stop nearest to the value in force.
    """

    stops: tuple
    position: int

    @property
    def last(self):
        """Return the index of the last stop."""
        return len(self.stops) - 1


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field as printed.

    Attributes
    ----------
    key : str
        Name in the query string.
    symbol : str
        Symbol of the trade.
    label : str
        Name for people.
    help : str
        One sentence.
    accepted : str
        What it accepts.
    longest : int
        The most characters that may be typed.
    text : str
        What stands in it.
    words : tuple of str
        Words it accepts beside a number.
    options : tuple of (str, str)
        Choices as word and words for people; empty for a quantity.
    slider : Slider or None
        The slider, for quantities that are often dragged.
    resets : str
        Key of the field that goes back to "auto" when this one is moved.
    hint : str
        What the solved stage has to say about it.
    error : str
        What is wrong with what stands in it; empty if nothing is.
    """

    key: str
    symbol: str
    label: str
    help: str
    accepted: str
    longest: int
    text: str
    words: tuple
    options: tuple
    slider: Slider | None
    resets: str
    hint: str
    error: str

    @property
    def mark(self):
        """Return its symbol where that stands beside the label; empty where the label says as much."""
        return self.symbol if self.slider or self.symbol.isupper() or len(self.symbol) == 1 else ""


@dataclass(frozen=True, slots=True)
class GroupView:
    """The fields of one part of the stage.

    Attributes
    ----------
    name : str
        "input", "coupler", "output" or "conditions".
    title : str
        Heading.
    kind : FieldView or None
        Choice of the kind of side or the class of coupler.
    fields : tuple of FieldView
        What is dragged.
    more : tuple of FieldView
        What is seldom changed.
    around : tuple of FieldView
        Parts that may stand around the LED.
    """

    name: str
    title: str
    kind: FieldView | None
    fields: tuple
    more: tuple
    around: tuple


@lru_cache(maxsize=64)
def _stops(key, series, span, start=100.0):
    """Return the stops of a slider and their values, for one of the spans that it may have."""
    if key in ("r1", "rl"):
        values, unit = ladder(start, span, series), OHM
    elif key in ("if", "il"):
        values, unit = ladder(1e-4, span, "E24"), AMPERE
    elif key == "ctr":
        values, unit = (
            tuple(percent / 100 for percent in (*range(10, 100, 2), *range(100, 200, 5), *range(200, 605, 10))),
            RATIO,
        )
    elif key == "ta":
        values, unit = tuple(float(T) for T in range(-40, 126)), CELSIUS
    else:
        step = next(step for step in (0.05, 0.1, 0.5, 1.0, 5.0) if span / step <= 200)
        values, unit = tuple(round(k * step, 2) for k in range(round(span / step) + 1)), VOLT
    return tuple(as_typed(value, unit) for value in values), values


_SPANS = {
    "vs": dict.fromkeys(INPUTS, (72.0, 400.0, 1000.0)) | {"logic": (6.0, 30.0, 1000.0)},
    "vcc": dict.fromkeys(OUTPUTS, (30.0, 150.0, 1000.0))
    | dict.fromkeys(("pull-up", "pull-down"), (6.0, 30.0, 1000.0))
    | dict.fromkeys(("ac-load", "ac-triac"), (400.0, 1000.0)),
    "vac": (400.0, 1000.0),
    "r1": (1e6, 1e8),
    "rl": (1e6, 1e8),
    "if": (5e-2, 1.0),
    "il": (5e-2, 1.0, 20.0),
    "ctr": (6.0,),
    "ta": (125.0,),
}
"""Key of a slider to the upper ends it may have: the first that holds the value is taken."""

_LEAST = {("gate", "rl"): 1.0, ("dc-load", "rl"): 10.0, ("ac-triac", "rl"): 10.0}
"""Kind of side and key of a resistor to where its slider begins, where that is not 100 ohm [ohm]."""


def slider_stops(key, kind, series, value):
    """Return the stops of a field's slider at a value, as texts and as SI values; None for fields without one."""
    if key not in _SPANS:
        return None
    spans = _SPANS[key][kind] if isinstance(_SPANS[key], dict) else _SPANS[key]
    span = next((span for span in spans if value <= span), spans[-1])
    return _stops(key, series, span, _LEAST.get((kind, key), 100.0))


def slider_for(key, kind, series, value):
    """Return the slider of a field at a value; None for fields without one."""
    if (found := slider_stops(key, kind, series, value)) is None:
        return None
    stops, values = found
    above = min(bisect_left(values, value), len(values) - 1)
    below = max(above - 1, 0)
    return Slider(stops, below if value - values[below] < values[above] - value else above)


def sliders_of(scenario, values):
    """Return key to the SI values of the stops of every slider, at the values in force."""
    kinds, series = _kinds(scenario), scenario.conditions.series
    return {key: slider_stops(key, kinds.get(key, ""), series, value)[1] for key, value in values.items()}


def _kinds(scenario):
    """Return key of a field to the kind of the side that has it."""
    return {p.key: record.kind for record in (scenario.input, scenario.output) for p in declared(record).values()}


def groups(scenario, values, hints, given=None, problems=()):
    """Return the controls.

    Parameters
    ----------
    scenario : Scenario
        The scenario in force: its kinds decide which fields there are.
    values : dict of str to float
        Key of a slider to the value in force, in SI units.
    hints : dict of str to str
        Key to what the solved stage has to say.
    given : dict of str to str or None
        What was typed, where it differs from the scenario because it was refused.
    problems : iterable of Problem
        What was refused.

    Returns
    -------
    tuple of GroupView
        Input side, coupler, output side, conditions.
    """
    texts = dict(pairs_from(scenario, readable=True)) | (given or {})
    errors = {}
    for view in problem_views(problems):
        errors.setdefault(view.field, view.text)
    make = _Maker(scenario, texts, values, hints, errors)
    side_in, side_out = scenario.input, scenario.output
    return (
        make.group("input", "Input side", side_in, make.kind("in", "Driven by", INPUTS)),
        make.group("coupler", "Coupler", Coupling, make.field("coupler", declared(Coupling)["card"])),
        make.group("output", "Output side", side_out, make.kind("out", "Works on", OUTPUTS)),
        make.group("conditions", "Conditions", Conditions, None),
    )


@dataclass(frozen=True, slots=True)
class _Maker:
    """Makes the fields of one form."""

    scenario: object
    texts: dict
    values: dict
    hints: dict
    errors: dict

    def group(self, name, title, record, kind):
        """Return the fields of one record."""
        unused = {"coupler"} | self._unused(record)
        keys = {p.key: p for p in declared(record).values() if p.key not in unused}
        made = {key: self.field(key, parameter, getattr(record, "kind", "")) for key, parameter in keys.items()}
        ordered = sorted(keys, key=_ORDER.index)
        often = tuple(made[key] for key in ordered if not (WORDS[key].more or WORDS[key].around))
        more = tuple(made[key] for key in ordered if WORDS[key].more)
        around = tuple(made[key] for key in ordered if WORDS[key].around)
        return GroupView(name, title, kind, often, more, around)

    def _unused(self, record):
        """Return the keys of a record that the stage at hand has no use for, unless something is wrong there."""
        if record is Conditions:
            return _ageing_unused(self.scenario.conditions.ageing) - self.errors.keys()
        if record is not Coupling:
            return set()
        coupling = self.scenario.coupling
        unused = set() if coupling.has_ratio else {"ctr", "ctrmin", "ctrmax"}
        if not getattr(coupling.data, "base_lead", False):
            unused.add("rbe")
        if coupling.card != "own":
            unused.add("card")
        return unused - self.errors.keys()

    def kind(self, key, label, kinds):
        """Return the choice of the kind of a side."""
        options = tuple((name, CHOICES[name]) for name in kinds)
        error = self.errors.get(key, "")
        accepted = ", ".join(name for name, _ in options)
        return FieldView(key, "", label, "", accepted, _TYPED, self.texts[key], (), options, None, "", "", error)

    def named(self, word):
        """Return what a choice is called; a card of one's own has its title."""
        coupling = self.scenario.coupling
        if not word == coupling.card == "own":
            return CHOICES.get(word, word)
        title = coupling.data.title
        return title if len(title) <= _SHOWN else f"{title[: _SHOWN - 1].rstrip()}…"

    def field(self, key, parameter, kind=""):
        """Return one field."""
        words = words_for(key, kind)
        options = tuple((word, self.named(word)) for word in parameter.words) if not parameter.unit else ()
        slider = slider_for(key, kind, self.scenario.conditions.series, self.values.get(key, 0.0))
        return FieldView(
            key, parameter.symbol, words.label, words.help, parameter.accepted, parameter.longest or _TYPED,
            self.texts[key], () if options else parameter.words, options, slider, words.resets,
            self.hints.get(key, ""), self.errors.get(key, ""),
        )  # fmt: skip


def _ageing_unused(ageing):
    """Return the keys of what another way of ageing asks for."""
    asked = {
        "own": {"loss", "lossyears"},
        "stress": {"stloss", "sthours", "stif", "stta", "stpower", "stenergy", "duty"},
    }
    return set().union(*(keys for way, keys in asked.items() if way != ageing))


_ORDER = list(WORDS)
_SHOWN = 22  # characters of a title that a list of choices has room for
_TYPED = 60  # characters, more than any quantity needs


@dataclass(frozen=True, slots=True)
class ProblemView:
    """A refused field as printed.

    Attributes
    ----------
    field : str
        Key of the field.
    label : str
        Its name for people.
    text : str
        What is wrong, and what is accepted.
    """

    field: str
    label: str
    text: str


def problem_views(problems):
    """Return refused fields as printed, each named as its control is."""
    return tuple(ProblemView(p.field, _label(p.field), f"{p.reason}; accepted: {p.accepted}") for p in problems)


def _label(key):
    """Return what a field is called, or its key where no control has it."""
    if key in WORDS:
        return WORDS[key].label
    return {"in": "Input side", "out": "Output side", "": "Address"}.get(key, key)


@dataclass(frozen=True, slots=True)
class Follower:
    """What follows the solved stage beside a control.

    Attributes
    ----------
    key : str
        The control.
    position : int
        Where its slider stands.
    last : int
        Index of the last stop of a slider that covers the value.
    stop : str
        The value there.
    hint : str
        The remark under it.
    """

    key: str
    position: int
    last: int
    stop: str
    hint: str


def followers(scenario, values, hints):
    """Return what follows the solved stage, for every control with a slider."""
    kinds, made = _kinds(scenario), []
    for key, value in values.items():
        slider = slider_for(key, kinds.get(key, ""), scenario.conditions.series, value)
        stop = slider.stops[slider.position]
        made.append(Follower(key, slider.position, slider.last, stop, hints.get(key, "")))
    return tuple(made)
