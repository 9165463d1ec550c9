"""Findings: what holds, what does not, by how much, and what would mend it.

Every finding is one `Rule` in the `RULES` of its module: what it asks and why, in words, the function that takes the
solved stage and returns a `Finding` or nothing, and what yields possible remedies. What a module offers for rules of
others is in its `REMEDIES`. Rules that take a while (`Rule.slow`) are asked by themselves. A remedy is only looked for
where a rule fails, and only offered once a solve has shown that it mends its rule and breaks no other.
"""

from dataclasses import replace

from engine.findings import (
    alternating,
    barrier,
    bridged,
    detector,
    drive,
    led,
    outputs_gate,
    outputs_line,
    outputs_receiver,
    outputs_relay,
    outputs_switch,
    service,
    speed,
)
from engine.findings.drive import HAZARDOUS_AC, HAZARDOUS_DC
from engine.findings.finding import FAILING, SEVERITIES, Finding, Mend, Rule
from engine.findings.mending import Trials
from engine.quantity import CELSIUS, as_typed

__all__ = [
    "FAILING",
    "HAZARDOUS_AC",
    "HAZARDOUS_DC",
    "RULES",
    "SEVERITIES",
    "Finding",
    "Mend",
    "Rule",
    "findings_of",
    "judged",
    "judged_late",
]

_PARTS = (
    bridged, detector, outputs_switch, outputs_receiver, outputs_relay, outputs_gate, outputs_line, speed, drive, led,
    alternating, barrier, service,
)  # fmt: skip


def _remedies(code):
    """Yield what yields remedies of a rule: the modules' of what is special first, in the end its own module's."""
    for part in reversed(_PARTS):
        if code in part.RULES and part.RULES[code].remedies:
            yield part.RULES[code].remedies
        elif code in part.REMEDIES:
            yield part.REMEDIES[code]


RULES = {code: replace(rule, remedies=tuple(_remedies(code))) for part in _PARTS for code, rule in part.RULES.items()}
"""Code of a finding to its rule, in the order of importance."""

_ORDER = {code: place for place, code in enumerate(RULES)}
_QUICK = tuple(rule for rule in RULES.values() if not rule.slow)
_SLOW = tuple(rule for rule in RULES.values() if rule.slow)


def _possible(code, point):
    """Yield the possible remedies of a finding, the best first; None where nothing can be fitted."""
    for remedy in RULES[code].remedies:
        yield from remedy(point)


def judged(point):
    """Return every finding on a solved stage without remedies, but those of slow rules.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage; of several at once as `Observed.point` gives them.

    Returns
    -------
    list of Finding
        In the order of `RULES`.
    """
    return [_placed(finding, point) for rule in _QUICK if (finding := rule.measure(point)) is not None]


def judged_late(point):
    """Return the findings of slow rules on a solved stage without remedies.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.

    Returns
    -------
    list of Finding
        In the order of `RULES`; none where nothing is wanted that they are about.
    """
    return [finding for rule in _SLOW if (finding := rule.measure(point)) is not None]


def _placed(finding, point):
    """Return a finding with the temperature and the age where it is worst, where the stage has more than one."""
    conditions = point.scenario.conditions
    if finding.worst is None or not (conditions.years or conditions.TA_ends != (conditions.TA, conditions.TA)):
        return finding
    condition = finding.condition
    if conditions.TA_ends != (conditions.TA, conditions.TA):
        condition += f", at {as_typed(float(point.varied['TA'][finding.worst]), CELSIUS)}"
    name = "CTR" if "CTR" in point.varied else "threshold"
    specimens = point.varied[name]
    weakest = specimens.min() if name == "CTR" else specimens.max()
    if conditions.years and specimens[finding.worst] == weakest:
        condition += f", after {conditions.years:g} years"
    return replace(finding, condition=condition)


def findings_of(point, *, remedies=True, slow=True):
    """Return every finding on a solved stage, the gravest first.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    remedies : bool
        Whether to look for remedies too, which takes a solve for each that is tried.
    slow : bool
        Whether to ask slow rules too: that on the signal rate, where one is wanted, follows edges over time.

    Returns
    -------
    tuple of Finding
        Findings by severity, then in the order of `RULES`. The remedy of a stop or a caution has been tried out: with
        it the rule passes, and no other rule that is asked comes out graver than before.
    """
    asked = (judged, judged_late) if slow else (judged,)
    made = [ask(point) for ask in asked]
    found = [finding for some in made for finding in some]
    if remedies and any(finding.severity in FAILING for finding in found):
        trials = Trials(point, made, asked, _possible)
        found = [replace(f, mend=trials.remedy(f.code)) if f.severity in FAILING else f for f in found]
    return tuple(sorted(found, key=lambda finding: (SEVERITIES.index(finding.severity), _ORDER[finding.code])))
