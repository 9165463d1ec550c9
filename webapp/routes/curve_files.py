"""What the panel of curves shows, as files: numbers for a spreadsheet, a drawing for a report."""

import csv
import io

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from engine import Problem, ScenarioError, query_from, scenario_from
from webapp.present.cells import harmless
from webapp.present.chart import TIMES, Chart, Column
from webapp.present.graph import graph
from webapp.present.panels.curves import curve
from webapp.problems import rejected
from webapp.render import fragment
from webapp.routes.panels import own_values
from webapp.routes.scenario import pairs_of

router = APIRouter(include_in_schema=False)

_LINE = 19  # height of a line of text below the drawing
_WIDEST = 112  # characters of one
_DRAWN = {"corners": "Hatched", "load": "Dotted"}


@router.get("/stage/curve.csv")
async def curve_csv(request: Request):
    """Answer the numbers of a chart."""
    try:
        _, chart = await run_in_threadpool(_asked, request)
    except ScenarioError as error:
        return rejected(error)
    return _file(table_of(chart), "text/csv; charset=utf-8; header=present", f"{chart.key}.csv")


@router.get("/stage/curve.svg")
async def curve_svg(request: Request):
    """Answer a chart as a drawing that stands alone."""
    try:
        scenario, chart = await run_in_threadpool(_asked, request)
    except ScenarioError as error:
        return rejected(error)
    drawn = graph(chart)
    told = (
        f"{chart.title}. {chart.condition}.",
        *(band.name for band in chart.bands),
        *chart.notes,
        query_from(scenario),
    )
    lines = [
        (piece, drawn.height + _LINE * number)
        for number, piece in enumerate((piece for text in told for piece in _pieces(text)), start=1)
    ]
    height = drawn.height + _LINE * (len(lines) + 1)
    answer = fragment(request, "files/curve.svg", g=drawn, lines=lines, height=height)
    return _file(answer.body.lstrip(), "image/svg+xml", f"{chart.key}.svg")


def _asked(request):
    """Return scenario and chart; raise ScenarioError where there is none."""
    scenario = scenario_from(pairs_of(request))
    wanted, chart, problems = curve(scenario, own_values(request))
    if chart is None or wanted.problems:
        reasons = problems or ("there is nothing to draw",)
        raise ScenarioError([Problem("curve", wanted.plot, "values that can be drawn", text) for text in reasons])
    return scenario, chart


def _file(content, media_type, name):
    """Return an answer that is kept as a file."""
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return Response(content, media_type=media_type, headers=headers)


def _pieces(text):
    """Return a text in lines that fit below the drawing."""
    line, pieces = "", []
    for word in text.split():
        while len(word) > _WIDEST:
            pieces.append((line + " " + word[:_WIDEST]).strip())
            line, word = "", word[_WIDEST:]
        if len(line) + len(word) >= _WIDEST:
            pieces.append(line)
            line = ""
        line = f"{line} {word}".strip()
    return [*pieces, line] if line else pieces


def table_of(chart: Chart) -> str:
    """Return a chart's numbers after RFC 4180: a header with units, one row for each value, SI throughout."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    columns = (chart.x, *chart.columns)
    writer.writerow([harmless(_headed(column)) for column in columns])
    for k in range(len(chart.x.values)):
        writer.writerow(["" if column.values[k] is None else f"{column.values[k]:.9g}" for column in columns])
    return text.getvalue()


def _headed(column: Column) -> str:
    """Return the head of a column with its unit; ratios and counts are plain numbers."""
    unit = {TIMES: "1", "count": "1"}.get(column.unit, column.unit)
    return f"{column.name} [{unit}]"
