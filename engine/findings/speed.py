"""Whether a stage follows the signal rate that is wanted of it. Its edges are followed over time, which takes a while."""

from dataclasses import replace

from engine.findings.finding import Finding, Mend, Rule, listed, printed
from engine.findings.fitting import fitted
from engine.inputs import CurrentLimited
from engine.pace import EDGE_RATE, Pace, followed, largest
from engine.preferred import ladder
from engine.quantity import HERTZ, OHM, as_typed
from engine.scenario import NO_RATE
from engine.sizing import LEAST, MOST
from engine.timing import why_untimed

_DOWN_TO = 0.02  # [-], of the present RL, that is looked through
_UP_TO = 8.0  # [-], times the present R1
_BASE = (10e3, 1e6)  # [ohm], base resistors: below, the detector hardly conducts; above, its own leakage does as much
_NONE = "none"
_BOTH = (0.7, 0.5, 0.35, 0.25, 0.18, 0.12)  # [-], of both resistors, where a smaller RL takes more light
_EDGES = {"on": "switching on", "off": "switching off"}


def _rate(point):
    """Return the finding on the signal rate; None where none is wanted."""
    scenario, wanted = point.scenario, point.scenario.conditions.rate
    if wanted == NO_RATE:
        return None
    why = why_untimed(scenario)
    timing = None if why else followed((scenario,))[0]
    if timing is None:
        why = why or "One of its edges was not found, which is a fault of Lightgap."
        reason = f"Whether it follows {printed(wanted, HERTZ)} is not known: {why[0].lower()}{why[1:]}"
        return Finding(EDGE_RATE, "note", 0.0, wanted, -1.0, HERTZ.name, "edges are not followed", reason)
    return _held(timing, wanted)


def _held(timing, wanted):
    """Return the finding on edges that are known."""
    nominal, worst = (rate or 0.0 for rate in (timing.max_rate.value, timing.max_rate.low))
    held = not Pace(wanted).missed(timing)
    severity = "pass" if held else "stop" if nominal < wanted else "caution"
    last = {name: timing.edges[name].valid.high for name in _EDGES}
    name = next((name for name, time in last.items() if time is None), max(last, key=lambda name: last[name] or 0.0))
    if not worst:
        reason = f"At worst a level is not surely read, however slow the signal; {printed(wanted, HERTZ)} is wanted."
    else:
        than = "which keeps up with the" if held else "less than the"
        reason = f"The output follows {printed(worst, HERTZ)} at worst, {than} {printed(wanted, HERTZ)} wanted."
    margin = max(worst / wanted - 1.0, 0.0) if held else worst / wanted - 1.0
    where = f"{_EDGES[name]}, at the slowest corner"
    return Finding(EDGE_RATE, severity, worst, wanted, margin, HERTZ.name, where, reason)


# ---------------------------------------------------------------- remedies


def _remedies(point):
    """Yield what makes the stage faster: the least change of each kind that suffices."""
    scenario = point.scenario
    pace, series = Pace(scenario.conditions.rate), scenario.conditions.series
    R = {part: point.sized[part].chosen for part in ("R1", "RL")}
    lighter = ladder(max(R["RL"] * _DOWN_TO, LEAST), R["RL"], series)
    yield _fitting(point, pace, "RL", lighter)
    driven = not isinstance(scenario.input, CurrentLimited)
    if driven:
        fainter = ladder(R["R1"], min(R["R1"] * _UP_TO, MOST), series)
        smallest = largest(pace, lambda value: _with(point, "R1", 1.0 / value), [1.0 / value for value in fainter[::-1]])
        yield fitted(point, "R1", 1.0 / smallest, "nearest") if smallest else None
    yield from _base(scenario, pace)
    if driven:
        yield from _both(point, pace, R)


def _with(point, part, R):
    """Return the stage with another resistor."""
    side, field = {"R1": ("input", "R1"), "RL": ("output", "RL")}[part]
    return replace(point.scenario, **{side: replace(getattr(point.scenario, side), **{field: float(R)})})


def _fitting(point, pace, part, values):
    """Return the remedy of the largest resistance with which the rate is kept; None if there is none."""
    R = largest(pace, lambda value: _with(point, part, value), values)
    return fitted(point, part, R, "nearest") if R else None


def _base(scenario, pace):
    """Yield a base resistor, which leads off what is stored, where the base is brought out."""
    if scenario.coupling.RBE != _NONE or not getattr(scenario.coupling.data, "base_lead", False):
        return

    def based(R):
        return replace(scenario, coupling=replace(scenario.coupling, RBE=R))

    R = largest(pace, based, ladder(*_BASE, "E6"))
    if R:
        yield Mend(f"fit RBE {as_typed(R, OHM)}", based(R))


def _both(point, pace, R):
    """Yield a smaller RL with as much more light, the largest of each that suffices first."""
    made = []
    for share in _BOTH:
        lighter = fitted(point, "RL", R["RL"] * share, "nearest")
        brighter = fitted(point, "R1", R["R1"] * share, "nearest")
        if lighter and brighter:
            stage = replace(lighter.scenario, input=brighter.scenario.input)
            made.append(Mend(f"{lighter.text} and {brighter.text.removeprefix('make ')}", stage))
    for mend, kept in zip(made, pace.kept([mend.scenario for mend in made]), strict=True):
        if kept:
            yield mend


RULES = listed(
    Rule(
        code=EDGE_RATE,
        title="Signal rate",
        asks="Does the output follow the signal rate that is wanted, at its slowest corner?",
        why="The next edge comes before the level is surely read, and pulses are lost.",
        limit_from="The signal rate in the form, where one is wanted.",
        worst_where="At the slowest corner of light, RL, supply and temperature; each half of the period has to be as "
        "long as the slower edge takes from rest until its level is surely read.",
        severities=("stop", "caution", "note"),
        mends="The largest RL of the series that does, less LED current, a base resistor, or a smaller RL with more "
        "light. A note stands where edges are not followed.",
        measure=_rate,
        remedies=_remedies,
        slow=True,
    ),
)

REMEDIES = {}
