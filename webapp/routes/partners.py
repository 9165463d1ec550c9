"""A coupler and an output side that do not go together: whichever was just changed gets its usual partner.

What was changed shows beside the last good scenario, which the form carries.
"""

from engine import OUTPUTS, ScenarioError, declared, load_card, output_for, scenario_from, scenario_from_query
from webapp.words import KIND_WORDS

_OF_COUPLER = frozenset({"coupler", "card", "ctr", "ctrmin", "ctrmax", "rbe"})


def with_partner(pairs, was):
    """Return the scenario that a form means, and what was changed with it.

    Parameters
    ----------
    pairs : list of (str, str)
        What the form carries.
    was : str or None
        Query string of the last good scenario.

    Returns
    -------
    scenario : Scenario
        The scenario.
    notice : str
        What has been taken instead, and why; empty where nothing has.

    Raises
    ------
    ScenarioError
        As `engine.scenario_from`, for whatever else is wrong.
    """
    last = _last(was)
    pairs = _renewed(pairs, last)
    try:
        return scenario_from(pairs), ""
    except ScenarioError as error:
        reasons = [problem.reason for problem in error.problems if problem.field == "coupler"]
        given = dict(pairs)
        if last is None or not reasons or given.get("out") not in OUTPUTS:
            raise
        if last.output.kind != given["out"]:
            return _other_coupler(pairs, reasons[0])
        return _other_output(pairs, reasons[0], last, error)


def _last(was):
    """Return the last good scenario, None where there is none."""
    try:
        return None if was is None else scenario_from_query(was)
    except ScenarioError:
        return None


def _renewed(pairs, last):
    """Return what a form carries, less what another kind of output side has a usual value of its own for.

    That is what had its usual value before, and what means something else there.
    """
    kind = dict(pairs).get("out")
    if last is None or kind == last.output.kind:
        return pairs
    last = _as_it_stood(pairs, last)
    usual = type(last.output)()
    left = {
        parameter.key
        for name, parameter in declared(usual).items()
        if getattr(last.output, name) == getattr(usual, name)
        or {(kind, parameter.key), (last.output.kind, parameter.key)} & KIND_WORDS.keys()
    }
    return [(key, text) for key, text in pairs if key not in left]


def _as_it_stood(pairs, last):
    """Return the scenario of a form before its output side or coupler was changed; the last good one if unreadable."""
    before = [(key, text) for key, text in pairs if key not in ("out", "coupler")]
    try:
        return scenario_from([*before, ("out", last.output.kind), ("coupler", last.coupling.card)])
    except ScenarioError:
        return last


def _other_coupler(pairs, reason):
    """Return the scenario with the usual coupler of its output side."""
    scenario = scenario_from([(key, text) for key, text in pairs if key not in _OF_COUPLER])
    return scenario, f"{_sentence(reason)} So the coupler is now: {scenario.coupling.data.title}."


def _other_output(pairs, reason, last, error):
    """Return the scenario with the usual output side of its coupler."""
    card = dict(pairs).get("coupler", "")
    if card == "own":
        raise error
    kind = output_for(load_card(card).family).kind
    moved = _renewed([*((key, text) for key, text in pairs if key != "out"), ("out", kind)], last)
    scenario = scenario_from(moved)
    return scenario, f"{_sentence(reason)} So the output side is now: {scenario.output.title}."


def _sentence(reason):
    """Return a reason as a sentence."""
    return f"{reason[0].upper()}{reason[1:]}."
