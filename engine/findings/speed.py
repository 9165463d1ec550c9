"""Whether a stage follows the signal rate that is wanted of it. That takes a while, as its edges are followed."""

from dataclasses import replace

from engine.findings.finding import Finding, Mend, Rule, listed, printed
from engine.findings.fitting import fitted
from engine.inputs import CurrentLimited
from engine.pace import EDGE_RATE, Pace, followed, last_kept
from engine.preferred import ladder
from engine.quantity import HERTZ, OHM, as_typed
from engine.scenario import NO_RATE
from engine.sizing import LEAST, MOST
from engine.timing import why_untimed

_DOWN_TO = 0.02  # [-], of the present RL, that is looked through
_UP_TO = 8.0  # [-], times the present R1
_BASE = (10e3, 1e6)  # [ohm], base resistors: below, the detector hardly conducts; above, its own leakage does as much
_NONE = "none"
_SHARES = (0.7, 0.5, 0.35, 0.25, 0.18, 0.12)  # [-], of R1, for more light, and of an RL that takes as much more
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
        reason = f"Whether it follows {as_typed(wanted, HERTZ)} is not known: {why[0].lower()}{why[1:]}"
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
        reason = f"At worst a level is not surely read, however slow the signal; {as_typed(wanted, HERTZ)} is wanted."
    else:
        than = "which keeps up with the" if held else "less than the"
        reason = f"The output follows {printed(worst, HERTZ)} at worst, {than} {as_typed(wanted, HERTZ)} wanted."
    margin = max(worst / wanted - 1.0, 0.0) if held else worst / wanted - 1.0
    where = f"{_EDGES[name]}, at the slowest corner"
    return Finding(EDGE_RATE, severity, worst, wanted, margin, HERTZ.name, where, reason)


# ---------------------------------------------------------------- remedies


def _remedies(point):
    """Yield what makes the stage faster: the least change of each kind that suffices, then two at a time.

    Nothing where a level is not sure in the first place, as that has remedies of its own.
    """
    scenario, load = point.scenario, point.scenario.output
    levels = {"closed": load.level_when_lit, "open": load.level_when_dark}
    verdicts = {name: point.states[name].verdict for name in levels}
    if not all(verdict.sure and verdict.level == levels[name] for name, verdict in verdicts.items()):
        return
    pace, series = Pace(scenario.conditions.rate), scenario.conditions.series
    R1, RL = (point.sized[part].chosen for part in ("R1", "RL"))
    yield _fitting(point, pace, "RL", ladder(max(RL * _DOWN_TO, LEAST), RL, series))
    driven = not isinstance(scenario.input, CurrentLimited)
    if driven:
        yield _fitting(point, pace, "R1", ladder(R1, min(R1 * _UP_TO, MOST), series)[::-1])
    bases = tuple(_bases(scenario))
    yield from _keeping(pace, bases[::-1])
    if driven:
        brighter = [mend for share in _SHARES if (mend := fitted(point, "R1", R1 * share, "nearest"))]
        lighter = [mend for share in _SHARES if (mend := fitted(point, "RL", RL * share, "nearest"))]
        yield from _keeping(pace, [_joined(a, b) for a, b in zip(lighter, brighter, strict=False)])
        yield from _keeping(pace, [_joined(a, b) for b in brighter[::2] for a in bases[::-2]])


def _fitting(point, pace, part, values):
    """Return the remedy of the last of some resistances with which the rate is kept; None if there is none."""
    R = last_kept(pace, lambda value: fitted(point, part, value, "nearest").scenario, values)
    return fitted(point, part, R, "nearest") if R else None


def _bases(scenario):
    """Yield base resistors, which lead off what is stored, where the base is brought out; the smallest first."""
    if scenario.coupling.RBE == _NONE and getattr(scenario.coupling.data, "base_lead", False):
        for R in ladder(*_BASE, "E6"):
            yield Mend(f"fit RBE {as_typed(R, OHM)}", replace(scenario, coupling=replace(scenario.coupling, RBE=R)))


def _joined(first, second):
    """Return two remedies as one; the second one's is of the input side."""
    stage = replace(first.scenario, input=second.scenario.input)
    return Mend(f"{first.text} and {second.text.removeprefix('make ')}", stage)


def _keeping(pace, mends):
    """Yield the remedies with which the rate is kept."""
    kept = pace.kept([mend.scenario for mend in mends]) if mends else ()
    yield from (mend for mend, does in zip(mends, kept, strict=True) if does)


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
        "light; where a level is not sure however slow the signal, what mends the level. A note stands where edges are "
        "not followed.",
        measure=_rate,
        remedies=_remedies,
        slow=True,
    ),
)

REMEDIES = {}
