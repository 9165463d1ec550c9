"""The panels that draw at random: what they print, what they refuse, and the stream of a long run."""

import re

import pytest

from engine import INPUTS, OUTPUTS, Plan, Run, bag_of, implied_CTR, scenario_from_query, spread_of
from engine import Readings as Read
from tests.api.test_fuzz import SPECIMENS
from tests.markup import tree_of
from webapp.present.panels import PANELS
from webapp.present.panels.bag import bag_panel
from webapp.present.panels.spread import percent, spread_panel
from webapp.present.panels.spread_plot import BOTTOM, HEIGHT, LEFT, RIGHT, WIDTH, Printer, histogram

LOOSE = "vs=24V&ctrmin=20%25&vcctol=5%25"
KINDS = [*(f"in={side}" for side in INPUTS), *(f"out={load}" for load in OUTPUTS)]
EVIL = '"><script>alert(1)</script>{{7*7}}'


def printed(client, panel, query=""):
    answer = client.get(f"/stage/panel?panel={panel}&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


def events(client, query):
    """Return the events of a stream as pairs of name and text."""
    answer = client.get(f"/stage/spread/run?{query}")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith("text/event-stream")
    found = []
    for block in answer.text.strip().split("\n\n"):
        name, *lines = block.split("\n")
        assert all(line.startswith("data: ") for line in lines)
        found.append((name.removeprefix("event: "), "\n".join(line.removeprefix("data: ") for line in lines)))
    return found


def test_both_are_panels():
    assert (PANELS["spread"].title, PANELS["bag"].title) == ("Spread", "A bag of couplers")


# ---------------------------------------------------------------- spread


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k&vcc=0V", LOOSE, "tamin=-20C&tamax=70C&years=9"])
def test_every_stage_has_a_spread(client, query):
    soup = printed(client, "spread", query)
    assert soup.select_one("svg.histogram[role=img]")["aria-label"].startswith("Histogram of ")
    assert soup.select_one(".spread-answer").get_text().strip()
    assert len(soup.select(".spread-table")) >= 6
    assert len(soup.select(".yields tbody tr")) >= 5
    assert "nan" not in soup.get_text().lower().replace("nanoamp", "")
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))


def test_answer_and_yields_are_the_engines(client):
    soup, found = printed(client, "spread", LOOSE), spread_of(scenario_from_query(LOOSE))
    kept = 2000 - found.all.failing
    assert 0 < kept < 2000
    assert f"{kept:,} of 2,000 stages keep every rule" in soup.select_one(".spread-answer").get_text()
    row = next(row for row in soup.select(".yields tbody tr") if "Saturation" in row.get_text())
    assert f"{found.yields['saturation'].failing} of 2,000" in row.get_text()
    assert "fails" in row["class"]
    width = float(row.select_one("rect.kept")["width"])
    assert width == pytest.approx(100.0 * found.yields["saturation"].share)


def test_rules_that_hold_at_every_corner_are_told_apart(client):
    soup, found = printed(client, "spread", LOOSE), spread_of(scenario_from_query(LOOSE))
    sure = sum(kept.guaranteed for kept in found.yields.values())
    assert f"{sure} rules hold at every corner" in soup.get_text()
    unbroken = printed(client, "spread", "ctrmin=40%25&tol=20%25").select_one(".spread-answer").get_text()
    assert "although some corner does not: with 95 % confidence fewer than 0.1" in unbroken


def test_few_that_fail_are_not_rounded_away():
    assert percent(1.0, 0) == "100 %"
    assert percent(1.0 - 3 / 100_000, 3) == "99.997 %"
    assert percent(1.0 - 2 / 200_000, 2) == "99.999 %"
    assert percent(0.5, 1000) == "50 %"


@pytest.mark.parametrize("key", ["open.quantities.VOUT", "closed.powers.R1", "closed.nodes.A", "open.currents.RL"])
def test_any_quantity_may_be_drawn(client, key):
    soup = printed(client, "spread", f"p.q={key}")
    assert soup.select_one("#spread-q option[selected]")["value"] == key
    place = "contact closed" if key.startswith("closed") else "contact open"
    assert place in soup.select_one("svg.histogram .axis-name").get_text()


def test_overdrive_is_told_as_a_multiple_with_its_limit(client):
    soup = printed(client, "spread", f"{LOOSE}&p.q=closed.quantities.overdrive")
    assert soup.select_one(".histogram .limit-name").get_text() == "limit: saturation"
    row = next(row for row in soup.select(".spread-table tr") if row.th.get_text().strip() == "overdrive")
    assert not re.search("%", row.get_text())


def test_bars_marks_and_limits_stand_where_their_values_are():
    found = spread_of(scenario_from_query(LOOSE), Plan(500)).states["closed"]["quantities"]["overdrive"]
    plot = histogram("overdrive", found, (("saturation", 1.0),), Printer("1", True))
    scale = plot.reach[1] / (found.high - found.low)

    def across(value):
        return plot.reach[0] + (value - found.low) * scale

    assert plot.limits[0].x == pytest.approx(across(1.0), abs=0.5)
    assert [mark.x for mark in plot.marks] == pytest.approx(
        [across(v) for v in (found.median, found.p1, found.p99)], abs=0.5
    )
    assert plot.bars[0][0] == pytest.approx(across(found.minimum), abs=0.5)
    heights = [bar[3] for bar in plot.bars]
    counts = [count for count in found.counts if count]
    assert heights[counts.index(max(counts))] == max(heights)
    assert max(heights) / sorted(heights)[-2] == pytest.approx(max(counts) / sorted(counts)[-2], rel=0.02)
    for x, top, width, height in plot.bars:
        assert LEFT <= x
        assert x + width <= WIDTH - RIGHT + 1
        assert top + height == pytest.approx(HEIGHT - BOTTOM)
    assert sum(int(row[1].replace(",", "")) for row in plot.rows) == 500


def test_a_limit_far_away_is_told_in_words():
    found = spread_of(scenario_from_query(""), Plan(200)).states["closed"]["quantities"]["IF"]
    plot = histogram("IF", found, (("led-current", 50e-3),), Printer("A"))
    assert plot.limits == ()
    assert plot.beyond == "The limit of “LED current”, 50.0 mA, lies far above."


def test_a_quantity_that_never_varies_is_one_bar():
    found = spread_of(scenario_from_query("vcctol=0%25"), Plan(200)).states["closed"]["nodes"]["VCC"]
    plot = histogram("V(VCC)", found, (), Printer("V"))
    assert len(plot.bars) == 1
    assert plot.rows == (("3.30 V", "200", "100 %"),)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("p.samples=99", "Samples: 99 is out of range; accepted: 100 to 200000."),
        ("p.samples=1e9", "Samples: 1e9 is out of range"),
        ("p.samples=150.5", "it is no whole number"),
        ("p.seed=x", "Draw: "),
        ("p.dist=square", "'square' is not a choice; accepted: one of uniform, normal."),
        ("p.q=closed.quantities.nothing", "this stage has no such quantity"),
        ("p.q=...", "this stage has no such quantity"),
    ],
)
def test_what_is_typed_wrong_is_told_and_the_usual_is_shown(client, typed, told):
    soup = printed(client, "spread", typed)
    assert told in soup.select_one(".error").get_text()
    assert "2,000 samples" in soup.select_one("#spread-result").get_text()


@pytest.mark.parametrize("panel", ["spread", "bag"])
@pytest.mark.parametrize("key", ["samples", "seed", "dist", "q", "count", "at", "by", "vr1", "vrl", "acc"])
def test_nothing_typed_gets_into_the_page_as_it_is(client, panel, key):
    answer = client.get("/stage/panel", params={"panel": panel, f"p.{key}": EVIL})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.text


@pytest.mark.parametrize(
    ("panel", "keys"),
    [("spread", ("samples", "seed", "dist", "q")), ("bag", ("count", "seed", "at", "by", "vr1", "if", "vce", "acc"))],
)
def test_anything_may_be_typed(client, panel, keys):
    own = {"p.by": "currents", "p.ic": "1mA", "p.vrl": "1V"} if panel == "bag" else {"p.samples": "100"}
    for key in keys:
        for text in SPECIMENS[::3]:
            answer = client.get("/stage/panel", params={"panel": panel, **own, f"p.{key}": text})
            assert answer.status_code == 200
            assert "Traceback" not in answer.text


def test_more_than_is_quick_is_left_to_a_run(client):
    soup = printed(client, "spread", f"{LOOSE}&p.samples=30000&p.seed=4&p.dist=normal")
    button = soup.select_one("[data-run]")
    assert "2,000 samples, draw 4" in soup.select_one("#spread-result").get_text()
    assert button.get_text() == "Draw 30,000 samples"
    assert button.has_attr("data-at-once")
    assert "p.samples=30000&p.seed=4&p.dist=normal" in button["data-run"]
    usual = printed(client, "spread").select_one("[data-run]")
    assert not usual.has_attr("data-at-once")
    assert usual.get_text() == "Draw 100,000 samples"


def test_over_a_cycle_fewer_are_quick_and_fewer_are_possible(client):
    soup = printed(client, "spread", "in=ac")
    assert "200 samples" in soup.select_one("#spread-result").get_text()
    assert soup.select_one("[data-run]").get_text() == "Draw 5,000 samples"
    assert "In no yield, as it is judged for the stage as a whole" in soup.get_text()


# ---------------------------------------------------------------- the stream


def test_a_run_tells_its_progress_and_then_what_it_found(client):
    found = events(client, f"{LOOSE}&p.samples=6000&p.seed=2&p.q=closed.quantities.overdrive")
    assert [name for name, _ in found] == ["progress"] * (len(found) - 1) + ["result"]
    told = [tuple(map(int, text.split())) for _, text in found[:-1]]
    assert told == sorted(told)
    assert told[-1] == (6000, 6000)
    assert len(told) > 1
    result = tree_of(found[-1][1])
    kept = 6000 - spread_of(scenario_from_query(LOOSE), Plan(6000, 2)).all.failing
    assert f"{kept:,} of 6,000 stages keep every rule" in result.select_one("#spread-result .spread-answer").get_text()
    assert result.select_one(".axis-name").get_text() == "overdrive, contact closed"


def test_the_result_of_a_run_is_the_panels_own_fragment(client):
    streamed = tree_of(events(client, "p.samples=2000")[-1][1]).select_one("#spread-result")
    shown = printed(client, "spread").select_one("#spread-result")
    assert re.sub(r"\s+", " ", str(streamed)) == re.sub(r"\s+", " ", str(shown))


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("p.samples=7", "Samples: 7 is out of range"),
        ("vs=nonsense", "vs: "),
        ("vs=0.5V", "no resistor gives"),
        ("in=ac&p.samples=9999", "accepted: 100 to 5000"),
    ],
)
def test_a_run_that_cannot_be_tells_why(client, query, told):
    ((name, text),) = events(client, query)
    assert name == "refused"
    assert told in text


def test_a_run_that_takes_too_long_is_left_off(client, monkeypatch):
    monkeypatch.setattr("webapp.routes.spread_run.LONGEST", 0.0)
    *_, (name, text) = events(client, "p.samples=20000")
    assert name == "refused"
    assert "takes longer than" in text


def test_a_run_of_an_unknown_quantity_draws_the_usual_one(client):
    result = events(client, "p.samples=200&p.q=nothing")[-1][1]
    assert "VOUT, contact closed" in result


def test_samples_that_cannot_be_solved_are_told(client, monkeypatch):
    from engine import ConvergenceError

    def broken(self):
        raise ConvergenceError(600, 1.0, "OUT")

    monkeypatch.setattr(Run, "step", broken)
    assert "a fault of Lightgap" in printed(client, "spread", "vs=37V").select_one(".error").get_text()
    assert "a fault of Lightgap" in events(client, "")[-1][1]
    assert client.get("/api/spread").status_code == 422


# ---------------------------------------------------------------- the bag


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k&vcc=0V", "ctrmin=100%25&ctrmax=100%25"])
def test_every_stage_has_a_bag(client, query):
    soup = printed(client, "bag", query)
    assert len(soup.select("svg.bag g")) == 20
    assert len(soup.select("#panel-bag .values tbody tr")) == 20
    assert "nan" not in soup.get_text().lower()


def test_couplers_are_the_engines_by_shape_and_by_word(client):
    query = "ctrmin=20%25&ctrmax=300%25&rl=1k8"
    soup, bag = printed(client, "bag", query), bag_of(scenario_from_query(query))
    assert 0 < bag.passing < 20
    assert len(soup.select("svg.bag circle")) == bag.passing
    assert len(soup.select("svg.bag g.not path")) == 20 - bag.passing
    assert f"{bag.passing} of 20 couplers of this bag work" in soup.select_one(".spread-answer").get_text()
    words = [row.select("td")[1].get_text().split()[-1] for row in soup.select("#panel-bag .values tbody tr")]
    assert words == ["works" if one.passes else "fails" for one in bag.specimens]


def test_dots_stand_over_their_place_and_do_not_touch():
    panel = bag_panel(scenario_from_query("ctrmin=20%25"), {"count": "200"})
    bag = bag_of(scenario_from_query("ctrmin=20%25"), 200)
    left, right = panel.ticks[0].at, panel.ticks[2].at
    for dot, one in zip(panel.dots, bag.specimens, strict=True):
        assert dot.x == pytest.approx(left + one.place * (right - left), abs=0.1)
        assert 0 < dot.y < panel.base
    for k, dot in enumerate(panel.dots):
        for other in panel.dots[:k]:
            assert abs(dot.x - other.x) >= 14 or abs(dot.y - other.y) >= 14


def test_drawing_again_is_the_next_number(client):
    link = printed(client, "bag", "p.seed=6&p.count=5").select_one("[data-again]")
    assert (link["data-next"], link["data-again"]) == ("7", "bag-seed")
    again = tree_of(client.get(link["href"]).text)
    assert again.select_one("#bag-seed")["value"] == "7"
    assert len(again.select("svg.bag g")) == 5


def test_readings_in_the_stage_give_the_ratio(client):
    soup = printed(client, "bag", "vs=24V&r1=10k&rl=1k&p.vr1=22.8V&p.vrl=2V&p.acc=1%25")
    found = implied_CTR(scenario_from_query("vs=24V&r1=10k&rl=1k"), Read(22.8, 2.0, 0.01))
    text = soup.select_one(".bag-implied").get_text()
    assert f"a CTR of about {100 * found.value:.1f} %" in text
    assert "% of the way up the bin" in text
    assert soup.select_one("svg.bag .implied") is not None


def test_currents_on_the_bench_give_the_ratio(client):
    soup = printed(client, "bag", "p.by=currents&p.if=5mA&p.ic=2mA&p.vce=5V")
    found = implied_CTR(scenario_from_query(""), Read(5e-3, 2e-3, 0.01, 5.0))
    assert found.value == pytest.approx(0.4, rel=0.01)
    text = soup.select_one(".bag-implied").get_text()
    assert f"a CTR of about {100 * found.value:.1f} %" in text
    assert "below the bin" in text


def test_a_saturated_output_is_told(client):
    text = printed(client, "bag", "r1=10k&vs=24V&rl=22k&p.vr1=22.8V&p.vrl=3.2V").select_one(".bag-implied").get_text()
    assert "The output is saturated, so the readings give a lower bound alone" in text


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("p.vr1=22V&p.vrl=50V", "the load has no more than"),
        ("p.vr1=22V&p.vrl=1mA", "Across RL"),
        ("p.vr1=-1V&p.vrl=1V", "Across R1"),
        ("in=ac&p.vr1=5V&p.vrl=1V", "the line's voltage alternates"),
        ("p.by=currents&p.if=1mA&p.ic=5A&p.vce=5V", "the coupler has no more than"),
        ("p.vr1=22V&p.vrl=1V&p.acc=200%25", "Accuracy"),
    ],
)
def test_readings_that_cannot_be_are_told(client, query, told):
    soup = printed(client, "bag", query)
    assert told in soup.select_one("#bag-refused").get_text()
    assert soup.select_one(".bag-implied") is None


def test_a_coupler_with_a_threshold_is_not_asked_for_a_ratio(client):
    soup = printed(client, "bag", "out=ac-load")
    assert soup.select_one(".bag-readings") is None
    assert "threshold, new" in soup.get_text()


@pytest.mark.parametrize("typed", ["p.count=201", "p.count=0", "p.seed=-1", "p.at=best", "p.count=2.5"])
def test_what_is_typed_wrong_into_the_bag_is_told(client, typed):
    soup = printed(client, "bag", typed)
    assert "accepted: " in soup.select_one("#bag-error").get_text()
    assert len(soup.select("svg.bag g")) == 20


def test_pages_with_these_panels_work_without_script(client):
    for panel in ("spread", "bag"):
        soup = tree_of(client.get(f"/stage?panel={panel}&p.seed=3").text)
        assert soup.select_one(f"#{panel}-seed")["value"] == "3"
        assert soup.select_one(f"#panel-{panel} .spread-answer").get_text().strip()


def test_records_are_printed_as_they_are():
    assert spread_panel(scenario_from_query(""), {}).chosen == "closed.quantities.VOUT"
    assert spread_panel(scenario_from_query("out=indicator"), {}).chosen == "closed.quantities.IL"
