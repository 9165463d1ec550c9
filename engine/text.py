"""A scenario as a flat query string and back, every rejected field reported at once.

Keys and units come from the declarations; nothing here knows what a parameter does.
"""

from dataclasses import replace
from urllib.parse import parse_qsl, quote, urlencode

from engine.errors import Problem, QuantityError, ScenarioError
from engine.inputs import INPUTS
from engine.outputs import OUTPUTS
from engine.parameter import declared
from engine.quantity import as_typed, in_query, parse, shown
from engine.scenario import Conditions, Coupling, Scenario, refused

_MOST_FIELDS = 100  # more pairs than any scenario has; what is beyond is refused unread
_SIDES = {"in": INPUTS, "out": OUTPUTS}
_KINDS = (*INPUTS.values(), Coupling, *OUTPUTS.values(), Conditions)
KEYS = frozenset(_SIDES) | {p.key for kind in _KINDS for p in declared(kind).values()}
"""Every key that some scenario knows."""

_CARD = declared(Coupling)["card"].key
_FREE = frozenset(p.key for kind in _KINDS for p in declared(kind).values() if p.longest)


def scenario_from(pairs):
    """Return the scenario that a list of key and text means.

    Keys that another kind of side knows are left aside, so that choosing another kind keeps a form usable.

    Parameters
    ----------
    pairs : iterable of (str, str)
        Decoded query string.

    Returns
    -------
    Scenario
        The scenario; what is not given has its default.

    Raises
    ------
    ScenarioError
        With a problem for every field that is unknown, repeated, unreadable or out of range.
    """
    pairs = list(pairs)
    if len(pairs) > _MOST_FIELDS:
        raise ScenarioError(
            [Problem("", f"{len(pairs)} fields", f"at most {_MOST_FIELDS}", "there are too many fields")]
        )
    given, problems = _collected(pairs)
    records, kinds = [], [_kind(key, given, problems) for key in _SIDES]
    given.setdefault(_CARD, kinds[1].usual_coupler)
    for kind in (kinds[0], Coupling, kinds[1], Conditions):
        records.append(_record(kind, given, problems))
    if problems:
        raise ScenarioError(problems)
    side_in, coupling, side_out, conditions = records
    return Scenario(input=side_in, coupling=coupling, output=side_out, conditions=conditions)


def scenario_from_query(query):
    """Return the scenario that a query string means.

    Parameters
    ----------
    query : str
        Query string without its question mark.

    Returns
    -------
    Scenario
        The scenario.

    Raises
    ------
    ScenarioError
        As `scenario_from`.

    Examples
    --------
    >>> scenario_from_query("vs=36V&r1=6k8").input.R1
    6800.0
    """
    return scenario_from(parse_qsl(query, keep_blank_values=True))


def query_from(scenario):
    """Return the canonical query string of a scenario: defaults left out, units carried, order fixed.

    Parameters
    ----------
    scenario : Scenario
        The scenario.

    Returns
    -------
    str
        Query string without a question mark.

    Examples
    --------
    >>> query_from(scenario_from_query("r1=6800&in=contact-high&vs=48"))
    'in=contact-high&r1=6k8'
    """
    return urlencode(list(pairs_from(scenario, defaults=False)), quote_via=quote)


def pairs_from(scenario, *, defaults=True, readable=False):
    """Yield key and text of every parameter of a scenario.

    Parameters
    ----------
    scenario : Scenario
        The scenario.
    defaults : bool
        Whether to yield those that have their default value too.
    readable : bool
        Whether to write quantities as they are printed ("4.7 kΩ") instead of as in a query string ("4k7").

    Yields
    ------
    tuple of (str, str)
        Key and text.
    """
    for part in scenario.parts():
        side = {id(scenario.input): "in", id(scenario.output): "out"}.get(id(part))
        if side and (defaults or part.kind != next(iter(_SIDES[side]))):
            yield side, part.kind
        usual = _usual(part, scenario)
        write = as_typed if readable else in_query
        for name, parameter in declared(part).items():
            value = getattr(part, name)
            if defaults or value != getattr(usual, name):
                yield parameter.key, value if isinstance(value, str) else write(value, parameter.unit)


def _usual(part, scenario):
    """Return a record of the same kind with its default values; the usual coupler is that of the output side."""
    return Coupling(card=scenario.output.usual_coupler) if part is scenario.coupling else type(part)()


def _collected(pairs):
    """Return the texts by key, and a problem for every key that is unknown or repeated."""
    given, problems = {}, []
    for key, text in pairs:
        if key not in KEYS:
            problems.append(
                Problem(shown(key), shown(text), f"one of {', '.join(sorted(KEYS))}", "there is no such field")
            )
        elif key in given:
            problems.append(Problem(key, shown(text), "one value", f"{key} is given more than once"))
        else:
            given[key] = text
    return given, problems


def _kind(key, given, problems):
    """Return the kind of side that is asked for, or the default with a problem noted."""
    kinds = _SIDES[key]
    name = given.get(key, next(iter(kinds)))
    if name in kinds:
        return kinds[name]
    accepted = f"one of {', '.join(kinds)}"
    problems.append(Problem(key, shown(name), accepted, f"'{shown(name)}' is not a kind of side"))
    return next(iter(kinds.values()))


def _record(kind, given, problems):
    """Return a record of one kind with every readable value, noting a problem for every other."""
    values = {}
    for name, parameter in declared(kind).items():
        text = given.get(parameter.key)
        if text is None:
            continue
        try:
            values[name] = _value(parameter, text)
        except QuantityError as error:
            problems.append(Problem(parameter.key, error.given, parameter.accepted, error.reason))
    record = kind(**values)
    wrong = [_as_given(problem, given) for problem in refused(record)]
    problems += wrong
    return kind() if wrong else record


def _as_given(problem, given):
    """Return a problem that quotes what was typed instead of the value it was read as."""
    text = shown(given.get(problem.field, problem.given))
    if problem.field in _FREE:
        return replace(problem, given=text)
    return Problem(problem.field, text, problem.accepted, problem.reason.replace(problem.given, f"'{text}'"))


def _value(parameter, text):
    """Return what a text means for a parameter."""
    word = text.strip()
    if word in parameter.words or parameter.longest:
        return word
    if parameter.unit is None:
        raise QuantityError(shown(text), f"'{shown(text)}' is not a choice for {parameter.symbol}", parameter.accepted)
    return parse(text, parameter.unit)


__all__ = ["KEYS", "pairs_from", "query_from", "scenario_from", "scenario_from_query"]
