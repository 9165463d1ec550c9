"""The panel of curves: one of several charts of the stage, with its form, its table and its files."""

from dataclasses import dataclass

from engine import Scenario
from webapp.present.chart import Chart
from webapp.present.curve_charts import chart_of
from webapp.present.curve_form import CurveForm
from webapp.present.graph import GraphView, graph


@dataclass(frozen=True, slots=True)
class CurvesPanel:
    """The panel as printed.

    Attributes
    ----------
    fields : tuple of FieldView
        Its form.
    kept : tuple of (str, str)
        What the form keeps in mind.
    query : str
        What is shown, as part of an address.
    graph : GraphView or None
        The drawing; None where there is none.
    problems : tuple of str
        What is wrong, in sentences.
    """

    fields: tuple
    kept: tuple
    query: str
    graph: GraphView | None
    problems: tuple


def curves_panel(scenario: Scenario, given: dict[str, str]) -> CurvesPanel:
    """Return the panel of a stage; raise ScenarioError where its "auto" resistors cannot be sized."""
    wanted, chart, problems = curve(scenario, given)
    drawn = graph(chart) if chart else None
    return CurvesPanel(wanted.fields, wanted.kept, wanted.query, drawn, problems)


def curve(scenario: Scenario, given: dict[str, str]):
    """Return what is asked for, its chart (None where there is none) and what is wrong."""
    wanted = CurveForm(scenario, given).read()
    problems = wanted.problems
    chart: Chart | None = None
    if wanted.asked or wanted.plot == "characteristics":
        chart = chart_of(scenario, wanted)
    elif not problems:
        problems = (
            "This input side is known by its table; it has no supply of its own to draw a transfer curve over.",
        )
    if chart and not any(value is not None for line in chart.lines for value in line.column.values):
        problems, chart = (*problems, *(chart.notes or ("No value here makes a stage that has this result.",))), None
    return wanted, chart, problems
