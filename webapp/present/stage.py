"""The whole live part of the explorer as one record."""

from dataclasses import dataclass

from engine import findings_of, operating_point, query_from, traps_of
from webapp.present import results
from webapp.present.cycle import CycleView, cycle_view
from webapp.present.finding_list import FindingList, listed
from webapp.present.input_plot import InputPlot, input_plot
from webapp.present.load_figures import load_figures
from webapp.present.reasoning import WorkedView, reasoning
from webapp.present.schematic import schematic
from webapp.present.traps import trap_views


@dataclass(frozen=True, slots=True)
class StageView:
    """A solved stage as printed.

    Attributes
    ----------
    query : str
        Canonical query string.
    title : str
        The stage in a line.
    state : str
        Switch state that is shown.
    place : str
        The same in words.
    other_query : str
        Link to the other switch state.
    sides : tuple of SideView
        The schematic.
    broad : bool
        Whether the sides are too small to be read beside the verdict of a window of usual width.
    verdicts : tuple of VerdictView
        What both states read as.
    bars_title : str
        What the bars are about.
    bars : tuple of BarView
        Needed and available collector current, or threshold and drive.
    overdrive : str
        Their ratio in a phrase.
    ratios : str
        The same as transfer ratios.
    ruler : RulerView or None
        The receiver's zones.
    input_plot : InputPlot or None
        The characteristic of a controller's input.
    load_figures : tuple of FigureRow
        What only this output side has.
    findings : FindingList
        What holds and what does not.
    traps : tuple of TrapView
        Values that look like a mistake.
    worked : WorkedView or None
        How it is worked out; None where that is left out.
    nodes : tuple of RowView
        Table of nodes; empty where the tables are left out.
    branches : tuple of RowView
        Table of branches; empty where the tables are left out.
    summary : str
        The shown state in two sentences.
    hazardous : bool
        Whether the cautions for dangerous voltages apply.
    cycle : CycleView or None
        One period of the line; None for a stage on direct current.
    """

    query: str
    title: str
    state: str
    place: str
    other_query: str
    sides: tuple
    broad: bool
    verdicts: tuple
    bars_title: str
    bars: tuple
    overdrive: str
    ratios: str
    ruler: results.RulerView | None
    input_plot: InputPlot | None
    load_figures: tuple
    findings: FindingList
    traps: tuple
    worked: WorkedView | None
    nodes: tuple
    branches: tuple
    summary: str
    hazardous: bool
    cycle: CycleView | None


LATER = frozenset({"cycle", "worked", "tables"})
"""Sections that may be left out of an answer, because nobody sees them at the moment."""

BESIDE_VERDICT = 1080
"""Width of both sides together that can be read beside the verdict, in the units of the drawings."""


def stage_view(scenario, left_out=frozenset(), *, slow=True):
    """Return the record of a scenario, without the sections that are left out, and the solved stage it was made from.

    What is slow to judge may be left to another answer. Raises ScenarioError if a resistor cannot be sized.
    """
    point = operating_point(scenario)
    name = scenario.conditions.switch
    other = "open" if name == "closed" else "closed"
    links = {name: query_from(scenario), other: query_from(scenario.showing(other))}
    # Over the cycle a remedy takes long to try, and a trap too; both are looked for once the hand rests.
    moving = bool(left_out) and scenario.input.kind == "ac"
    judged = findings_of(point, remedies=not moving, slow=slow)
    sides = schematic(point, name)
    view = StageView(
        query=links[name],
        title=results.title(scenario),
        state=name,
        place=scenario.input.states[name],
        other_query=links[other],
        sides=sides,
        broad=sum(side.width for side in sides) > BESIDE_VERDICT,
        verdicts=results.verdicts(point, name, links),
        bars_title=results.bars_title(point),
        bars=results.bars(point),
        overdrive=results.overdrive(point),
        ratios=results.ratios(point),
        ruler=results.ruler(point),
        input_plot=input_plot(point),
        load_figures=load_figures(point),
        findings=listed(scenario, judged),
        traps=() if moving else trap_views(traps_of(point, judged)),
        worked=None if "worked" in left_out else reasoning(point, name),
        nodes=() if "tables" in left_out else results.node_rows(point),
        branches=() if "tables" in left_out else results.branch_rows(point, name),
        summary=results.summary(point, name),
        hazardous=results.hazardous(point),
        cycle=None if "cycle" in left_out else cycle_view(scenario),
    )
    return view, point
