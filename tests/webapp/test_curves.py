"""The panel of curves: its form, its drawing, its table, and its files."""

import csv
import io
import math
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from engine import (
    INPUTS,
    OUTPUTS,
    characteristics_of,
    room_over,
    scenario_from_query,
    sweep_of,
    swept_parameters,
    transfer_of,
)
from tests.markup import tree_of
from webapp.present.axes import apart, decades, even, marked
from webapp.present.chart import Band, Chart, Column, Dot, Level, Line, Mark
from webapp.present.curve_form import CurveForm, result_groups, usual_span
from webapp.present.graph import HEIGHT, LEFT, RIGHT, TOP, WIDTH, graph
from webapp.routes.curve_files import harmless, table_of

PLOTS = ("characteristics", "transfer", "room", "any")
KINDS = (*(f"in={kind}" for kind in INPUTS), *(f"out={kind}" for kind in OUTPUTS), "coupler=fast-gate&vcc=5V")
BAD = (
    "",
    "abc",
    "<script>alert(1)</script>",
    "nan",
    "inf",
    "1e300",
    "-1",
    "0",
    "1,5",
    "\x00",
    "9" * 300,
    "4k7k",
    "{{7*7}}",
)


def panel(client, query="", **own):
    answer = client.get(f"/stage/panel?panel=curves&{query}", params=None)
    if own:
        extra = {f"p.{key}": text for key, text in own.items()}
        pairs = [pair.partition("=")[::2] for pair in query.split("&") if pair]
        answer = client.get("/stage/panel", params=[("panel", "curves"), *pairs, *extra.items()])
    assert answer.status_code == 200
    return tree_of(answer.text)


def numbers(client, query="", **own):
    pairs = [pair.partition("=")[::2] for pair in query.split("&") if pair]
    answer = client.get("/stage/curve.csv", params=[*pairs, *((f"p.{key}", text) for key, text in own.items())])
    assert answer.status_code == 200
    head, *rows = csv.reader(io.StringIO(answer.text, newline=""))
    return head, [[float(cell) if cell else None for cell in row] for row in rows]


# ---------------------------------------------------------------- what is drawn


@pytest.mark.parametrize("query", KINDS)
@pytest.mark.parametrize("plot", PLOTS)
def test_every_kind_has_every_plot(client, query, plot):
    page = panel(client, query, plot=plot, points="5") if plot != "characteristics" else panel(client, query, plot=plot)
    if "measured" in query and plot == "transfer":
        assert "known by its table" in page.select_one(".curve-problems").text
        assert not page.select("svg.graph")
        return
    assert not page.select(".curve-problems")
    assert page.select("svg.graph .line")
    rows = page.select("[data-readings] tbody tr")
    assert len(rows) == 5 or plot == "characteristics"
    heads = [cell.text for cell in page.select("[data-readings] thead th")]
    assert all(len(row.select("th, td")) == len(heads) for row in rows)
    assert [cell.text for cell in page.select(".readout dt")] == heads
    places = [float(row["data-at"]) for row in rows]
    assert places == sorted(places)


def test_characteristics_with_the_load_line_come_first(client):
    page = panel(client)
    assert page.select_one("[name='p.plot'] option[selected]")["value"] == "characteristics"
    assert page.select("svg.graph .line.load")
    assert len(page.select("svg.graph .dot")) == 2
    assert "straight: 3.30 V behind 4.70 kΩ" in page.select_one(".curve-notes").text


def test_operating_points_stand_on_the_drawn_curves(client):
    page = panel(client, "r1=15k&rl=1k&vcc=5V")
    dots = [(float(dot["cx"]), float(dot["cy"])) for dot in page.select("svg.graph .dot")]
    for kind in ("load", "main"):
        points = [
            tuple(map(float, pair.split(",")))
            for line in page.select(f"svg.graph .line.{kind}")
            for pair in line["points"].split()
        ]
        x, y = dots[0]
        assert min(math.hypot(x - a, y - b) for a, b in points) < 4.0


def test_the_level_that_is_asked_for_and_the_present_value_are_pointed_out(client):
    words = panel(client, plot="transfer").select_one("svg.graph").text
    for told in ("low up to 800 mV", "high from 2.00 V", "VS 48.0 V", "lowest", "highest"):
        assert told in words
    words = panel(client, plot="room").select_one("svg.graph").text
    for told in ("bin from 80.0 %", "bin to 160 %", "this one 110 %", "just enough"):
        assert told in words
    assert "now 4.70 kΩ" in panel(client, plot="any").select_one("svg.graph").text


def test_any_result_of_any_parameter(client):
    page = panel(client, over="ta", show="open:I(U1)")
    assert page.select_one("[name='p.plot'] option[selected]")["value"] == "any"
    assert page.select_one("figcaption").text.startswith("I(U1), contact open over TA")
    assert panel(client, over="rl", show="margin:level-lit").select_one("svg.graph .limit")
    assert "rating" in panel(client, over="r1", show="closed:P(R1)").select_one("svg.graph").text


def test_a_series_with_gaps_tells_why(client):
    page = panel(client, over="nd", **{"from": "0", "to": "4", "points": "9"})
    assert "4 of 9 values make no stage" in page.select_one(".curve-notes").text
    assert len(page.select("svg.graph .line")) == 5
    assert "–" in page.select_one("[data-readings]").text
    nothing = panel(client, over="ta", **{"from": "149.5", "to": "1000"}, points="2")
    assert nothing.select("svg.graph .line")
    empty = panel(client, over="nd", **{"from": "0.2", "to": "0.8", "points": "3"})
    assert not empty.select("svg.graph")
    assert "there are no parts of diodes" in empty.select_one(".curve-problems").text


# ---------------------------------------------------------------- the form


def test_values_that_are_left_alone_follow_the_stage(client):
    kept = {"was-from": "470 Ω", "was-to": "47 kΩ", "was-points": "61", "was-scale": "log", "for": "rl rl"}
    given = {"plot": "any", "over": "rl", "from": "470 Ω", "to": "20k", "points": "61", "scale": "log"}
    wanted = CurveForm(scenario_from_query("rl=1k"), given | kept).read()
    assert (wanted.asked.low, wanted.asked.high) == (100.0, 20e3)
    other = CurveForm(scenario_from_query("rl=1k"), given | kept | {"over": "ta"}).read()
    assert (other.asked.low, other.asked.high) == (-40.0, 85.0)
    alone = CurveForm(scenario_from_query("rl=1k"), {"over": "rl", "from": "470"}).read()
    assert (alone.asked.low, alone.asked.high) == (470.0, 10e3)


@pytest.mark.parametrize("query", KINDS)
def test_every_parameter_has_a_usual_span(query):
    scenario = scenario_from_query(query)
    for parameter in swept_parameters(scenario).values():
        low, high, points, scale = usual_span(scenario, parameter)
        assert parameter.low <= low < high <= parameter.high
        assert 2 <= points <= 400
        assert scale == "linear" or low > 0.0


def test_resistors_are_held_unless_the_current_that_sizes_them_is_swept():
    scenario = scenario_from_query("")
    assert CurveForm(scenario, {"over": "vs"}).read().hold == "held"
    assert CurveForm(scenario, {"over": "if"}).read().hold == "anew"
    assert "hold" not in {
        field.name for field in CurveForm(scenario_from_query("r1=6k8"), {"over": "vs"}).read().fields
    }


@pytest.mark.parametrize("query", KINDS)
def test_every_result_has_words(query):
    for _, options in result_groups(scenario_from_query(query)):
        for value, label in options:
            assert label
            assert value.startswith("margin:") or label.partition(" – ")[2]


@pytest.mark.parametrize("k", range(len(BAD)))
def test_bad_values_are_told_within_the_panel(client, k):
    asked = {
        "any": ("over", "show", "from", "to", "points", "scale", "hold", "for", "was-from"),
        "transfer": ("from", "points"),
        "room": ("to", "room"),
        "characteristics": ("vce",),
    }
    cases = [("any", "plot"), *((plot, key) for plot, keys in asked.items() for key in keys)]
    for plot, key in cases[k % 2 :: 2]:  # the others are asked with the texts beside this one
        page = panel(client, **({"points": "3", "plot": plot} | {key: BAD[k]}))
        assert not page.select("#panel script")
        assert page.select(".curve-problems") or page.select("svg.graph")


def test_what_is_wrong_stands_beside_its_field(client):
    page = panel(client, over="rl", **{"from": "10 V"})
    field = page.select_one("[name='p.from']")
    assert (field["value"], field["aria-invalid"]) == ("10 V", "true")
    assert "'V' is not a unit of this field" in page.select_one(".curve-problems").text
    assert not page.select("svg.graph")


def test_the_page_shows_the_panel_without_script(client):
    page = tree_of(client.get("/stage?rl=10k&panel=curves&p.plot=transfer&p.points=5").text)
    assert page.select_one("#panel-curves [data-readings]")
    hidden = {field["name"]: field["value"] for field in page.select("#panel-curves noscript input")} or {
        name: "" for name in ("rl", "panel") if f'name="{name}"' in str(page.select_one("#panel-curves noscript"))
    }
    assert {"rl", "panel"} <= hidden.keys()


def test_what_is_typed_is_escaped(client):
    page = client.get("/stage/panel", params={"panel": "curves", "p.over": "<b>", "p.from": '"><b>', "p.show": "<i>"})
    assert "<b>" not in page.text
    assert "<i>" not in page.text


# ---------------------------------------------------------------- files


def test_numbers_of_the_file_are_those_of_the_engine(client):
    scenario = scenario_from_query("r1=6k8")
    head, rows = numbers(client, "r1=6k8", over="vs", show="closed:VOUT", **{"from": "10", "to": "60", "points": "11"})
    series = sweep_of(scenario, "vs", 10.0, 60.0, 11).series("closed", "VOUT")
    assert head[0] == "VS [V]"
    assert head[1:] == [f"VOUT, contact closed{end} [V]" for end in ("", ", lowest", ", highest")]
    for row, *wanted in zip(rows, series.value, series.low, series.high, strict=True):
        assert row[1:] == pytest.approx(wanted, rel=1e-6)
    _, rows = numbers(client, plot="transfer", points="7")
    wanted = transfer_of(scenario_from_query(""), points=7).sweep.series("closed", "VOUT").value
    assert [row[1] for row in rows] == pytest.approx(wanted, rel=1e-6)
    _, rows = numbers(client, plot="room", points="7")
    assert [row[1] for row in rows] == pytest.approx(
        room_over(scenario_from_query(""), points=7).overdrive.value, rel=1e-6
    )
    head, rows = numbers(client, plot="characteristics")
    found = characteristics_of(scenario_from_query(""))
    assert [row[0] for row in rows] == pytest.approx(found.V, rel=1e-6)
    line = [row[head.index("load line [A]")] for row in rows]
    assert [value for value in line if value is not None] == pytest.approx(
        found.line[: sum(v is not None for v in line)]
    )


def test_the_file_is_one_for_spreadsheets(client):
    answer = client.get("/stage/curve.csv?p.over=nd&p.from=0&p.to=2&p.points=5&p.show=margin:level-lit")
    assert answer.headers["Content-Type"].startswith("text/csv; charset=utf-8")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="any.csv"'
    assert answer.text.count("\r\n") == 6
    assert "\n" not in answer.text.replace("\r\n", "")
    assert answer.text.splitlines()[2].endswith(",")  # a gap is an empty cell


def test_no_cell_begins_a_formula():
    for start in ("=", "+", "-", "@", "\t", "\r"):
        assert harmless(f"{start}1+1") == f"'{start}1+1"
    assert harmless("VOUT [V]") == "VOUT [V]"
    x = Column("=x", "V", (1.0, 2.0))
    chart = Chart("any", "", "", x, False, "y", "V", (Column('a "b", c', "V", (-1.0, None)),))
    assert table_of(chart) == '\'=x [V],"a ""b"", c [V]"\r\n1,-1\r\n2,\r\n'


@pytest.mark.parametrize("plot", PLOTS)
def test_the_drawing_stands_alone(client, plot):
    answer = client.get(f"/stage/curve.svg?tamin=0C&p.plot={plot}")
    assert answer.headers["Content-Type"].startswith("image/svg+xml")
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{plot}.svg"'
    root = ElementTree.fromstring(answer.content)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert not [e for e in root.iter() if e.tag.endswith(("script", "style", "image")) or "style" in e.attrib]
    colours = {e.get(name) for e in root.iter() for name in ("fill", "stroke")} - {None, "none"}
    assert {"#000", "#fff"} <= colours
    assert all(c.startswith("url(#") or c in ("#000", "#fff", "#555", "#999", "#ddd") for c in colours)
    assert "tamin=0C" in answer.text


def test_files_of_what_cannot_be_drawn_are_refused(client):
    for name in ("csv", "svg"):
        for query in ("p.over=rl&p.from=x", "in=measured&p.plot=transfer", "vs=abc", "vs=1V&if=3mA"):
            answer = client.get(f"/stage/curve.{name}?{query}")
            assert answer.status_code == 422
            assert answer.json()["errors"]


def test_a_large_file_is_bounded(client):
    assert client.get("/stage/curve.csv?p.over=rl&p.points=100000").status_code == 422
    many = "&".join(f"p.x{k}=1" for k in range(500))
    assert client.get(f"/stage/curve.csv?p.over=rl&p.points=3&{many}").status_code == 200


# ---------------------------------------------------------------- layout


def chart(**changed):
    x = Column("x", "V", (1.0, 2.0, 3.0, 4.0))
    y = Column("y", "A", (1.0, None, 2.0, 3.0))
    usual = {
        "key": "any", "title": "t", "condition": "c", "x": x, "log_x": False, "y_name": "y", "y_unit": "A",
        "columns": (y,), "lines": (Line(y, "main", "y"),),
    }  # fmt: skip
    return Chart(**usual | changed)


def test_lines_are_broken_at_gaps():
    view = graph(chart())
    assert [len(stroke.split()) for stroke in view.lines[0].strokes] == [
        2,
        2,
    ]  # a single value is a dot: twice the same


def test_what_is_drawn_lies_within_the_field():
    y = Column("y", "A", (1.0, 2.0, 3.0, 4.0))
    bands, limits = (Band(y, Column("z", "A", (2.0, 3.0, 4.0, 9.0)), "corners", "b"),), (Level(12.0, "limit"),)
    marks, dots = (Mark(2.0, "here", strong=True), Mark(2.05, "there"), Mark(9.0, "beyond")), (Dot(3.0, 3.0, "dot"),)
    view = graph(chart(bands=bands, limits=limits, marks=marks, dots=dots, columns=(y,), lines=(Line(y, "main", "y"),)))
    assert [mark.text for mark in view.marks] == ["here", "there"]
    assert view.marks[0].text_y != view.marks[1].text_y
    for band in view.bands:
        for pair in band.areas[0].split():
            x, y_at = map(float, pair.split(","))
            assert LEFT <= x <= WIDTH - RIGHT
            assert TOP <= y_at <= HEIGHT
    assert TOP <= view.limits[0].y < view.dots[0].y
    assert view.shown.cells[0] == "2.00 V"


def test_a_line_that_leaves_the_field_is_named_above_it():
    y = Column("y", "A", (0.0, 5.0, 50.0, 500.0))
    view = graph(chart(lines=(Line(y, "main", "steep"),), columns=(y,), top=10.0))
    assert view.lines[0].y < TOP
    assert max(float(tick.text.split()[0]) for tick in view.y_ticks if tick.text) <= 20


def test_values_of_many_decades_have_a_scale_of_decades():
    y = Column("y", "A", (1e-9, 1e-6, 1e-3, 1.0))
    view = graph(chart(lines=(Line(y, "main", "y"),), columns=(y,)))
    ys = [float(pair.partition(",")[2]) for pair in view.lines[0].strokes[0].split()]
    steps = [a - b for a, b in pairwise(ys)]
    assert steps == pytest.approx([steps[0]] * 3, abs=0.2)
    assert len([tick for tick in view.y_ticks if tick.text]) <= 10


def test_marks_of_scales():
    assert even(0.0, 1.0) == [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]
    assert even(-5.0, 5.0)[0] <= -5.0 < 5.0 <= even(-5.0, 5.0)[-1]
    assert decades(1e3, 1e5) == [1e3, 2e3, 5e3, 1e4, 2e4, 5e4, 1e5]
    assert [tick.text for tick in marked([(0.0, "1"), (10.0, "2"), (100.0, "3")])] == ["1", "", "3"]
    assert apart([0.0, 1.0, 2.0], 10.0, 100.0) == [0.0, 10.0, 20.0]
    assert apart([95.0, 99.0], 10.0, 100.0) == [90.0, 100.0]
