"""The comparison of two stages: the values that differ, every figure, and the findings that appear or vanish."""

from dataclasses import dataclass

from engine import RULES, SEVERITIES, Parameter, as_typed, declared, findings_of, operating_point, pairs_from
from webapp.present.comparing.change import Change, change_of_number, change_of_text
from webapp.present.comparing.figures import StateChanges, state_changes
from webapp.present.results import FindingView, finding_views
from webapp.words import CHOICES, words_for

_SIDES = {"in": "Input side", "out": "Output side"}
_LONGEST = 60  # characters of a text that a table has room for


@dataclass(frozen=True, slots=True)
class ParameterChange:
    """A value of the form that differs.

    Attributes
    ----------
    key : str
        Name in the query string.
    symbol : str
        Symbol of the trade.
    label : str
        Name for people.
    change : Change
        What it is before and after.
    """

    key: str
    symbol: str
    label: str
    change: Change


@dataclass(frozen=True, slots=True)
class FindingChange:
    """A finding that does not hold in one of the stages, or in both.

    Attributes
    ----------
    code : str
        Stable name.
    title : str
        Name for people.
    sign : str
        What has become of it, as a sign.
    word : str
        The same in a word: "appears", "vanishes", "graver", "milder" or "stays".
    before : FindingView or None
        The finding before; None where it is not asked.
    after : FindingView or None
        The finding after.
    """

    code: str
    title: str
    sign: str
    word: str
    before: FindingView | None
    after: FindingView | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two stages compared.

    Attributes
    ----------
    told : str
        What differs, in a sentence.
    parameters : tuple of ParameterChange
        Values that differ.
    states : tuple of StateChanges
        Figures of both states.
    findings : tuple of FindingChange
        Findings that do not hold in one of them.
    """

    told: str
    parameters: tuple[ParameterChange, ...]
    states: tuple[StateChanges, ...]
    findings: tuple[FindingChange, ...]


def comparison(before, after):
    """Return two scenarios compared; raises ScenarioError if a resistor of one cannot be sized."""
    points = operating_point(before), operating_point(after)
    parameters, states = parameter_changes(*points), state_changes(*points)
    findings = finding_changes(*(finding_views(findings_of(point, remedies=False)) for point in points))
    return Comparison(_told(parameters, states, findings), parameters, states, findings)


def _told(parameters, states, findings):
    """Return what differs, in a sentence."""
    if not parameters:
        return "Both stages are the same."
    differing, count = sum(len(state.differing) for state in states), sum(state.count for state in states)
    parts = [f"{_counted(len(parameters), 'value differs', 'values differ')}, and {differing} of {count} figures"]
    for word, verb in (("appears", "appear"), ("vanishes", "vanish")):
        if number := sum(finding.word == word for finding in findings):
            parts.append(_counted(number, f"finding {word}", f"findings {verb}"))
    return f"{'; '.join(parts)}."


def _counted(number, one, more):
    """Return a number with its words."""
    return f"{number} {one if number == 1 else more}"


def parameter_changes(before, after):
    """Return the values of the form in which two solved stages differ; what only one of them has too."""
    sheets = [_sheet(point) for point in (before, after)]
    keys = dict.fromkeys([*sheets[0], *sheets[1]])
    lines = ((key, *(sheet.get(key, _Line("", None, None)) for sheet in sheets)) for key in keys)
    return tuple(_parameter(key, a, b) for key, a, b in lines if a.text != b.text)


@dataclass(frozen=True, slots=True)
class _Line:
    """One value of a stage: its text, its number where it is one, its parameter, and the kind of its side."""

    text: str
    value: float | None
    parameter: Parameter | None
    kind: str = ""


def _sheet(point):
    """Return key to line for everything that a scenario states; a resistor that was sized has its value there."""
    scenario, sized = point.scenario, {name.lower(): one for name, one in point.sized.items()}
    lines = {
        p.key: (getattr(part, name), p, getattr(part, "kind", ""))
        for part in scenario.parts()
        for name, p in declared(part).items()
    }
    made = {}
    for key, text in pairs_from(scenario, readable=True):
        value, parameter, kind = lines.get(key, (None, None, ""))
        if key in sized and sized[key].automatic:
            value, text = sized[key].chosen, f"{text}: {as_typed(sized[key].chosen, parameter.unit)}"
        number = value if isinstance(value, float) and parameter.unit is not None else None
        made[key] = _Line(_shown(text), number, parameter, kind)
    return made


def _parameter(key, a, b):
    """Return how one value differs."""
    known = b if b.parameter else a
    if key in _SIDES:
        return ParameterChange(key, "", _SIDES[key], change_of_text(a.text, b.text))
    symbol, label = known.parameter.symbol, words_for(key, known.kind).label
    if a.value is None or b.value is None:
        return ParameterChange(key, symbol, label, change_of_text(a.text, b.text))
    change = change_of_number(a.value, b.value, known.parameter.unit, (a.text, b.text))
    return ParameterChange(key, symbol, label, change)


def _shown(text):
    """Return a value as a table shows it: a choice by its name, a packed card cut off."""
    text = CHOICES.get(text, text)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"


def finding_changes(before, after):
    """Return what has become of every finding that does not hold in one of two lists, the gravest after first."""
    lists = [{view.code: view for view in views} for views in (before, after)]
    made = []
    for code in RULES:
        a, b = (views.get(code) for views in lists)
        graveness = [_graveness(view) for view in (a, b)]
        if any(graveness):
            made.append((max(graveness), FindingChange(code, RULES[code].title, *_became(*graveness), a, b)))
    order = ("+", "▲", "▼", "=", "−")
    made.sort(key=lambda one: (order.index(one[1].sign), -one[0]))
    return tuple(change for _, change in made)


def _graveness(view):
    """Return how grave a finding is; nothing where it holds or is not asked."""
    return 0 if view is None or view.severity == "pass" else len(SEVERITIES) - SEVERITIES.index(view.severity)


def _became(before, after):
    """Return the sign and the word for what a finding has become."""
    if not before:
        return "+", "appears"
    if not after:
        return "−", "vanishes"
    return ("▲", "graver") if after > before else ("▼", "milder") if after < before else ("=", "stays")
