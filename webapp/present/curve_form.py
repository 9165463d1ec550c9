"""What of a stage's curves is asked for: the panel's own values, read and shown again."""

import math
from dataclasses import dataclass
from urllib.parse import urlencode

from engine import (
    CELSIUS,
    RATIO,
    RULES,
    STATES,
    USUAL_POINTS,
    VOLT,
    Asked,
    Parameter,
    QuantityError,
    Scenario,
    ScenarioError,
    as_typed,
    declared,
    findings_of,
    operating_point,
    parse,
    present_value,
    results_of,
    room_parameter,
    room_span,
    shown,
    span_asked,
    supply_of,
    swept_parameters,
    transfer_span,
)
from webapp.present.curve_words import result_name
from webapp.words import words_for

PLOTS = {
    "characteristics": "Output characteristics",
    "transfer": "Transfer curve",
    "room": "Margin against CTR",
    "any": "Any result against any parameter",
}
"""Name of a plot to its title."""

ROOMS = {"overdrive": "overdrive", "level": "margin of the lit level"}
HOLDS = {"held": "as they are fitted now", "anew": "sized anew at each value"}

_MARGIN = "margin"
_SPANS = {"V": (0.0, 50.0), "1": (0.0, 2.0), "degC": (-40.0, 85.0), "count": (0.0, 10.0), "ohm": (100.0, 1e6)}
_SPANS |= {"A": (10e-6, 100e-3), "F": (1e-9, 10e-6), "W": (0.1, 10.0)}
_WHOLE = frozenset({"nd", "pins", "nsplit"})
_DECADES = 10.0


@dataclass(frozen=True, slots=True)
class Option:
    """One choice of a list.

    Attributes
    ----------
    value : str
        What is sent.
    label : str
        What is read.
    chosen : bool
        Whether it is the one.
    """

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field of the form.

    Attributes
    ----------
    name : str
        Its key, without "p.".
    label : str
        What it is called.
    value : str
        What stands in it.
    usual : str
        What stands in it unless it is changed.
    groups : tuple of (str, tuple of Option)
        Its choices by heading; empty for a field that is typed in.
    error : str
        What is wrong with it.
    """

    name: str
    label: str
    value: str
    usual: str
    groups: tuple = ()
    error: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for.

    Attributes
    ----------
    plot : str
        One of `PLOTS`.
    asked : Asked or None
        The span; None where there is none or it cannot be.
    show : str
        Result that is drawn over any parameter.
    room : str
        One of `ROOMS`.
    hold : str
        One of `HOLDS`.
    V_end : float or None
        Voltage that output characteristics end at [V].
    fields : tuple of FieldView
        The form.
    kept : tuple of (str, str)
        What the form keeps in mind of what stood in it.
    query : str
        The same as part of an address.
    problems : tuple of str
        What is wrong, in sentences.
    """

    plot: str
    asked: Asked | None
    show: str
    room: str
    hold: str
    V_end: float | None
    fields: tuple
    kept: tuple
    query: str
    problems: tuple


class CurveForm:
    """Reads the panel's own values for a stage, and lays its form out.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    given : dict of str to str
        The panel's own values.
    """

    def __init__(self, scenario: Scenario, given: dict[str, str]) -> None:
        self.scenario, self.given = scenario, given
        self.fields: list[FieldView] = []
        self.problems: list[str] = []
        self.kept: list[tuple[str, str]] = []

    def read(self) -> Wanted:
        """Return what is asked for."""
        usual = "any" if {"over", "show"} & self.given.keys() else next(iter(PLOTS))
        threshold = {} if self.scenario.coupling.has_ratio else {"room": "Margin against the threshold"}
        plot = self._choice("plot", "Plot", PLOTS | threshold, usual)
        asked, show, room, hold, V_end = None, "", "", "held", None
        if plot == "characteristics":
            V_end = self._voltage()
        elif plot == "transfer":
            key = supply_of(self.scenario)
            asked = self._span(self._numbers[key], *transfer_span(self.scenario), plot) if key else None
        elif plot == "room":
            room = (
                self._choice("room", "Shown", ROOMS, "overdrive") if self.scenario.coupling.has_ratio else "overdrive"
            )
            asked = self._span(room_parameter(self.scenario), *room_span(self.scenario), plot, "log")
        else:
            key = self._parameter()
            show = self._result()
            low, high, points, scale = usual_span(self.scenario, self._numbers[key])
            hold = self._hold(key)
            asked = self._span(self._numbers[key], low, high, key, scale, points)
        query = urlencode([(f"p.{field.name}", field.value) for field in self.fields])
        return Wanted(
            plot, asked, show, room, hold, V_end, tuple(self.fields), tuple(self.kept), query, tuple(self.problems)
        )

    @property
    def _numbers(self) -> dict[str, Parameter]:
        return swept_parameters(self.scenario)

    def _choice(self, name, label, words, usual):
        """Return a choice among words; the usual one, with a problem told, where it is none of them."""
        value = self.given.get(name, usual)
        error = ""
        if value not in words:
            error, value = f"there is no choice '{shown(value)}'", usual
            self.problems.append(f"{label}: {error}.")
        options = tuple(Option(word, told, word == value) for word, told in words.items())
        self.fields.append(FieldView(name, label, value, usual if name != "plot" else "", (("", options),), error))
        return value

    def _voltage(self):
        """Return the voltage that characteristics end at, None for the usual one."""
        text = self.given.get("vce", "").strip()
        value, error = None, ""
        if text:
            try:
                value = parse(text, VOLT)
                if not 0.0 < abs(value) <= 1000.0:
                    value, error = None, "a voltage up to 1 kV, other than 0, is drawn up to"
            except QuantityError as problem:
                error = str(problem)
        if error:
            self.problems.append(f"Up to: {error}.")
        label = "VCE up to, or empty" if self.scenario.coupling.has_ratio else ""
        if label:
            self.fields.append(FieldView("vce", label, text, "", (), error))
        return value

    def _parameter(self):
        """Return the key of the parameter that is swept."""
        words, own = {}, {parameter.key for parameter in declared(self.scenario.output).values()}
        for key, parameter in self._numbers.items():
            label = words_for(key, self.scenario.output.kind if key in own else "").label
            words[key] = f"{parameter.symbol} – {label.lower() if label[1:2].islower() else label}"
        return self._choice("over", "Against", words, "rl" if "rl" in words else next(iter(words)))

    def _result(self):
        """Return the name of the result that is drawn."""
        groups = result_groups(self.scenario)
        names = [value for _, options in groups for value, _ in options]
        usual = f"closed:{self.scenario.output.observed}"
        usual = usual if usual in names else names[0]
        value, error = self.given.get("show", usual), ""
        if value not in names:
            error, value = f"this stage has no result '{shown(value)}'", usual
            self.problems.append(f"Result: {error}.")
        laid = tuple(
            (heading, tuple(Option(name, label, name == value) for name, label in options))
            for heading, options in groups
        )
        self.fields.append(FieldView("show", "Result", value, usual, laid, error))
        return value

    def _hold(self, key):
        """Return whether resistors that are "auto" are held, where the stage has any."""
        parts = self.scenario.input, self.scenario.output
        if not any(getattr(part, name, None) == "auto" for part in parts for name in ("R1", "RL", "CD")):
            return "held"
        return self._choice("hold", "Resistors that are auto", HOLDS, "anew" if key in ("if", "il") else "held")

    def _span(self, parameter, low, high, about, scale="linear", points=USUAL_POINTS):
        """Return the span that is asked for; where the form was about something else, or left alone, the usual one."""
        ends = {name: as_typed(float(f"{end:.3g}"), parameter.unit) for name, end in (("from", low), ("to", high))}
        usual = ends | {"points": str(points), "scale": scale}
        given = self.given if self.fields[0].value == "any" else {k: v for k, v in self.given.items() if k != "scale"}
        about = f"{about} {parameter.key}"
        other = self.given.get("for", about) != about
        texts = {}
        for name, text in usual.items():
            typed = given.get(name, text)
            texts[name] = text if other or typed == given.get(f"was-{name}") else typed
            self.kept.append((f"was-{name}", text))
        self.kept.append(("for", about))
        asked, wrong = None, {}
        try:
            asked = span_asked(parameter, texts)
        except ScenarioError as error:
            wrong = {problem.field: f"{problem.reason}; {problem.accepted}" for problem in error.problems}
            self.problems += [f"{_LABELS[name]}: {told}." for name, told in wrong.items()]
        for name in ("from", "to", "points"):
            self.fields.append(FieldView(name, _LABELS[name], texts[name], usual[name], (), wrong.get(name, "")))
        if self.fields[0].value == "any":
            options = tuple(Option(word, told, word == texts["scale"]) for word, told in _SPACINGS.items())
            groups, error = (("", options),), wrong.get("scale", "")
            self.fields.append(FieldView("scale", _LABELS["scale"], texts["scale"], usual["scale"], groups, error))
        return asked


_SPACINGS = {"linear": "even", "log": "by decades"}
_LABELS = {"from": "From", "to": "To", "points": "Points", "scale": "Spacing"}


def result_groups(scenario):
    """Return what can be drawn: heading to pairs of value and label."""
    point = operating_point(scenario)
    groups = []
    for state in STATES:
        names = results_of(point.states[state])
        groups.append((scenario.input.states[state], [(f"{state}:{name}", result_name(name)) for name in names]))
    rules = [f.code for f in findings_of(point, remedies=False, slow=False)]
    groups.append(("margins", [(f"{_MARGIN}:{code}", RULES[code].title) for code in RULES if code in rules]))
    return groups


def usual_span(scenario, parameter):
    """Return a span around the value that a parameter has: ends, points, spacing."""
    present, unit = present_value(scenario, parameter.key), parameter.unit
    low, high = _SPANS.get(unit.name, (parameter.low, parameter.high))
    scale, points = "linear", USUAL_POINTS
    if unit is VOLT or unit.name == "count" or (unit is RATIO and not parameter.key.startswith("ctr")):
        low, high = (0.0, 2.0 * present) if present and present > 0.0 else (low, high)
    elif unit is CELSIUS:
        low, high = (min(low, present), max(high, present)) if present is not None else (low, high)
    else:
        scale = "log"
        away = 4.0 if unit is RATIO else _DECADES
        low, high = (present / away, present * away) if present else (max(low, parameter.low), high)
    low, high = (min(max(float(f"{end:.2g}"), parameter.low), parameter.high) for end in (low, high))
    if low >= high:
        low, high = parameter.low, parameter.high
    if scale == "log" and low <= 0.0:
        low = min(high / 1e3, 1e-6)
    if parameter.key in _WHOLE:
        low, high = math.floor(low), min(math.ceil(max(high, low + 4)), parameter.high)
        points = int(high - low) + 1
    return low, high, points, scale
