"""Findings as they are listed: those that are known at once, and that on speed, which takes a while."""

from dataclasses import dataclass

from engine import NO_RATE, RULES, Finding, Scenario, findings_of, operating_point
from webapp.present.results import FindingView, finding_views


@dataclass(frozen=True, slots=True)
class FindingList:
    """Findings in the order in which they are listed.

    Attributes
    ----------
    open_findings : tuple of FindingView
        What does not hold, and notes.
    speed : FindingView or None
        Whether the signal rate is kept up with; None where none is wanted, or it is not known yet.
    awaited : bool
        Whether that is still to be looked at.
    passed : tuple of FindingView
        What holds.
    """

    open_findings: tuple[FindingView, ...]
    speed: FindingView | None
    awaited: bool
    passed: tuple[FindingView, ...]


def listed(scenario: Scenario, found: tuple[Finding, ...]) -> FindingList:
    """Return findings as they are listed; that on speed stands by itself, so that it keeps its place."""
    views = finding_views(found)
    speed = next((view for view in views if RULES[view.code].slow), None)
    quick = [view for view in views if not RULES[view.code].slow]
    awaited = speed is None and scenario.conditions.rate != NO_RATE
    passed, open_findings = (tuple(v for v in quick if (v.severity == "pass") is held) for held in (True, False))
    return FindingList(open_findings, speed, awaited, passed)


def finding_list(scenario: Scenario) -> FindingList:
    """Return the whole list of a scenario; raises ScenarioError if a resistor cannot be sized."""
    return listed(scenario, findings_of(operating_point(scenario)))
