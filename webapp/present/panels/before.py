"""The panel "Before and after": the stage that is held, and what differs from it in the stage that is shown."""

from dataclasses import dataclass
from urllib.parse import urlencode

from engine import Scenario, ScenarioError, query_from, scenario_from_query
from webapp.present.comparing.comparison import Comparison, comparison
from webapp.present.results import title

_MOST = 10  # figures that are told here; all of them are on the page of the comparison


@dataclass(frozen=True, slots=True)
class BeforePanel:
    """What is held beside what is shown.

    Attributes
    ----------
    held : str
        The stage that is held, in a line; empty where none is.
    shown : str
        What the shown stage is of the two: "after", or "before" where the one after is held.
    comparison : Comparison or None
        What differs from before to after; None where no stage is held.
    figures : tuple of (str, tuple)
        The shown state and the other one, each with the first figures that differ.
    more : int
        How many more figures differ.
    query : str
        Query string of the page that compares both.
    refused : str
        Why what is held is no stage; empty where it is one.
    """

    held: str = ""
    shown: str = "after"
    comparison: Comparison | None = None
    figures: tuple = ()
    more: int = 0
    query: str = ""
    refused: str = ""


def before_panel(scenario: Scenario, own: dict[str, str]) -> BeforePanel:
    """Return what differs from the stage that is held, which is `before` or `after` of the panel's values."""
    name = next((name for name in ("before", "after") if name in own), None)
    if name is None:
        return BeforePanel()
    try:
        held = scenario_from_query(own[name])
        pair = (held, scenario) if name == "before" else (scenario, held)
        found = comparison(*pair)
    except ScenarioError as error:
        return BeforePanel(refused="; ".join(problem.reason for problem in error.problems))
    states = sorted(found.states, key=lambda state: state.state != scenario.conditions.switch)
    figures = tuple((state, state.differing[:_MOST]) for state in states)
    return BeforePanel(
        held=title(held),
        shown="after" if name == "before" else "before",
        comparison=found,
        figures=figures[:1],
        more=sum(len(state.differing) for state in states) - len(figures[0][1]),
        query=urlencode(dict(zip("ab", map(query_from, pair), strict=True))),
    )
