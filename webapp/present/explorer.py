"""The explorer's records for a scenario: the live part and what the controls need to know of it."""

from dataclasses import dataclass

from engine import Scenario
from webapp.present.controls import hints, values_in_force
from webapp.present.stage import StageView, stage_view


@dataclass(frozen=True, slots=True)
class Explorer:
    """A scenario, solved and ready to print.

    Attributes
    ----------
    scenario : Scenario
        The scenario.
    stage : StageView
        The live part.
    values : dict of str to float
        Key of a slider to the value in force.
    hints : dict of str to str
        Key of a control to a remark.
    """

    scenario: Scenario
    stage: StageView
    values: dict
    hints: dict


def explore(scenario, left_out=frozenset(), *, slow=True):
    """Return the records of a scenario, less what is left out; raises ScenarioError if a resistor cannot be sized."""
    view, point = stage_view(scenario, left_out, slow=slow)
    return Explorer(scenario, view, values_in_force(point), hints(point))
