"""A stage within a page elsewhere: the schematic, what both states read, the main figures."""

from dataclasses import dataclass

from engine import STATES, operating_point, query_from
from webapp.present import results
from webapp.present.figures import Figure, figure
from webapp.present.schematic import schematic
from webapp.present.stage import BESIDE_VERDICT

_MAIN = ("IF", "VF", "IC", "VCE")


@dataclass(frozen=True, slots=True)
class EmbeddedView:
    """A stage as a frame shows it; the names are those that the schematic's template asks of a stage.

    Attributes
    ----------
    query : str
        Query string of the stage.
    other_query : str
        That with the switch in its other state.
    title : str
        The stage in a line.
    place : str
        Switch state that is shown.
    sides : tuple of SideView
        The schematic.
    broad : bool
        Whether the sides are too wide to stand beside each other.
    verdicts : tuple of VerdictView
        What both states read as.
    places : tuple of str
        Both states in words.
    figures : tuple of (str, tuple of (Figure or None))
        Symbol, and the figure in both states.
    overdrive : str
        How many times over the coupler can give what the load needs, in a phrase.
    hazardous : bool
        Whether the cautions for dangerous voltages apply.
    """

    query: str
    other_query: str
    title: str
    place: str
    sides: tuple
    broad: bool
    verdicts: tuple
    places: tuple
    figures: tuple[tuple[str, tuple[Figure | None, ...]], ...]
    overdrive: str
    hazardous: bool


def embedded_view(scenario):
    """Return what a frame shows of a stage; raises ScenarioError if a resistor cannot be sized."""
    point, state = operating_point(scenario), scenario.conditions.switch
    sides = schematic(point, state)
    queries = {name: query_from(scenario.showing(name)) for name in STATES}
    found = [point.states[name].quantities for name in STATES]
    names = dict.fromkeys((*_MAIN, scenario.output.observed))
    return EmbeddedView(
        query=queries[state],
        other_query=next(query for name, query in queries.items() if name != state),
        title=results.title(scenario),
        place=scenario.input.states[state],
        sides=sides,
        broad=sum(side.width for side in sides) > BESIDE_VERDICT,
        verdicts=results.verdicts(point, state, queries),
        places=tuple(scenario.input.states[name] for name in STATES),
        figures=tuple(
            (name, tuple(figure(q[name]) if name in q else None for q in found))
            for name in names
            if any(name in q for q in found)
        ),
        overdrive=results.overdrive(point),
        hazardous=results.hazardous(point),
    )
