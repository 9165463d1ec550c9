"""Both resistors chosen: everything holds with them, something named fails beyond, or what excludes what is told."""

from dataclasses import replace

import numpy as np
import pytest

from engine import ScenarioError, findings_of, operating_point, scenario_from_query, timing_of
from engine.choose import size_for
from engine.conflicts import fewest, never, pairs, smallest
from engine.findings import FAILING
from engine.findings.fitting import POWER_RATINGS
from engine.preferred import preferred
from engine.resized import PARTS, Resized
from engine.several import operating_points
from engine.windows import windows_of
from engine.wishes import Wishes, missed, wishes_from

STAGES = (
    "", "tamin=-20C&tamax=70C&years=10", "out=pull-down", "out=indicator", "out=controller", "out=relay",
    "out=ac-load", "out=ac-triac", "out=dc-load", "out=gate", "in=two-wire", "in=logic", "in=limited", "in=measured",
    "in=transistor", "series=E3", "series=E192", "vs=230V&vcc=5V&logic=ttl", "in=ac&cs=10u",
    "years=10&ageing=stress&tamax=85C",
)  # fmt: skip


def failing(scenario, wishes):
    """Return the codes that fail in a stage solved alone, wishes among them."""
    return failing_at(operating_point(scenario), wishes)


def failing_at(point, wishes):
    """Return the codes that fail in a solved stage, wishes among them."""
    found = findings_of(point, remedies=False)
    return {f.code for f in found if f.severity in FAILING} | set(missed(wishes, point))


@pytest.mark.parametrize(
    ("query", "prefer"), [*((query, "middle") for query in STAGES), *((query, "current") for query in STAGES[::2])]
)
def test_everything_holds_with_the_answer_and_what_is_named_fails_beyond(query, prefer):
    scenario, wishes = scenario_from_query(query), Wishes(prefer=prefer)
    sizing = size_for(scenario, wishes)
    assert sizing.conflict is None
    assert failing(sizing.scenario, wishes) == set()
    trial, tried = Resized(sizing.scenario), []
    for part, chosen in sizing.chosen.items():
        assert trial.present[part] == chosen.R
        if chosen.kept:
            assert chosen.above == chosen.below == ()
            continue
        assert preferred(chosen.R, sizing.series) == chosen.R
        for way, stops in (("up", chosen.above), ("down", chosen.below)):
            beyond = preferred(chosen.R * (1.000001 if way == "up" else 0.999999), sizing.series, way)
            tried.append((part, way, stops, trial.fitted(**(trial.present | {part: beyond}))))
    for (part, way, stops, _), point in zip(tried, operating_points([one for *_, one in tried]), strict=True):
        assert set(stops) == failing_at(point, wishes) - {"power-r1", "power-rl"}, (part, way)


@pytest.mark.parametrize("query", ["", "out=pull-down", "in=logic", "tamax=70C&years=10"])
def test_r1_is_as_large_as_can_be(query):
    sizing = size_for(scenario_from_query(query))
    assert sizing.chosen["R1"].above[0] == sizing.binding == "overdrive"


def test_the_overdrive_that_is_asked_for_is_kept():
    for times in (1.0, 2.0, 5.0):
        sizing = size_for(scenario_from_query("series=E192"), Wishes(overdrive=times, keep=("RL",)))
        assert times <= sizing.overdrive <= 1.03 * times
        closed = operating_point(sizing.scenario).states["closed"].quantities
        assert closed["overdrive"].low == sizing.overdrive


def test_limits_of_the_current_are_kept():
    wishes = Wishes(IF_least=2e-3, IF_most=2.8e-3, prefer="current")
    sizing = size_for(scenario_from_query("vstol=5%25"), wishes)
    assert sizing.conflict is None
    assert wishes.IF_least <= sizing.IF[1] <= sizing.IF[2] <= wishes.IF_most
    assert sizing.chosen["R1"].above == ("least-current",)
    assert sizing.binding == "least-current"


def test_limits_of_the_current_closer_than_the_tolerances_are_a_conflict():
    sizing = size_for(scenario_from_query(""), Wishes(IF_least=2e-3, IF_most=2.2e-3))
    assert ("least-current", "most-current") in sizing.conflict.pairs
    assert set(sizing.conflict.together) == {"least-current", "most-current"}


def test_the_preference_for_current_never_takes_more_of_it():
    for query in STAGES[:4]:
        scenario = scenario_from_query(query)
        middle, least = (size_for(scenario, Wishes(prefer=prefer)) for prefer in ("middle", "current"))
        assert least.IF[0] <= middle.IF[0] * (1.0 + 1e-9)


def test_rl_lies_well_within_what_it_may_be():
    """About the geometric middle of what the strongest drive allows: far from the limit by leakage."""
    sizing = size_for(scenario_from_query(""))
    assert windows_of(sizing.scenario)["RL"].high.R > 5.0 * sizing.chosen["RL"].R


@pytest.mark.parametrize(("keep", "R"), [("R1", 22e3), ("RL", 10e3)])
def test_what_is_to_be_kept_stays(keep, R):
    sizing = size_for(scenario_from_query("r1=22k&rl=10k"), Wishes(keep=(keep,)))
    assert sizing.chosen[keep].R == R
    assert sizing.chosen[keep].kept
    assert sizing.conflict is None


@pytest.mark.parametrize(
    ("query", "part"),
    [("in=limited", "R1"), ("in=ac&dropper=capacitor", "R1"), ("out=dc-load", "RL"), ("out=ac-load", "RL")],
)
def test_what_is_not_a_matter_of_choice_stays(query, part):
    scenario = scenario_from_query(query)
    sizing = size_for(scenario)
    assert sizing.chosen[part].kept
    assert sizing.chosen[part].R == Resized(scenario).present[part]


def test_ratings_are_raised_to_the_next_standard_one_and_no_further():
    sizing = size_for(scenario_from_query("out=gate&r1w=125mW"))
    R1 = sizing.chosen["R1"]
    assert R1.rating in POWER_RATINGS
    assert sizing.scenario.input.R1_rating == R1.rating
    assert failing(sizing.scenario, Wishes()) == set()
    smaller = POWER_RATINGS[POWER_RATINGS.index(R1.rating) - 1]
    weaker = replace(sizing.scenario, input=replace(sizing.scenario.input, R1_rating=smaller))
    assert failing(weaker, Wishes()) == {"power-r1"}


def test_a_rating_that_is_enough_stays():
    sizing = size_for(scenario_from_query("r1w=2W"))
    assert sizing.chosen["R1"].rating is None
    assert sizing.scenario.input.R1_rating == 2.0


def test_a_leak_that_lights_the_led_excludes_saturation():
    sizing = size_for(scenario_from_query("leak=10k"))
    conflict = sizing.conflict
    assert conflict.alone == ()
    assert ("saturation", "residual-light") in conflict.pairs
    assert len(conflict.together) == 2
    assert conflict.looked_at > 100
    assert set(conflict.failing) == failing(sizing.scenario, Wishes())
    # Each of the two can be met by itself.
    for code in conflict.together:
        assert any(code not in failing(_with(sizing.scenario, R1), Wishes()) for R1 in (1e3, 4.7e3, 470e3))


def _with(scenario, R1):
    trial = Resized(scenario)
    return trial.fitted(R1, trial.present["RL"])


def test_what_no_resistor_mends_is_told_beside_the_answer():
    scenario = scenario_from_query("vcc=5V&tamin=-20C")
    sizing = size_for(scenario)
    assert sizing.conflict.alone == ("receiver-supply",)
    assert sizing.conflict.together == ()
    assert sizing.conflict.failing == ("receiver-supply",)
    assert failing(sizing.scenario, Wishes()) == {"receiver-supply"}
    assert sizing.binding == "overdrive"


def test_gaps_of_an_unsmoothed_line_are_beyond_resistors():
    sizing = size_for(scenario_from_query("in=ac"))
    assert sizing.conflict.alone == ("zero-crossing",)
    assert failing(sizing.scenario, Wishes()) == {"zero-crossing"}


def test_auto_that_cannot_be_sized_is_no_hindrance():
    scenario = scenario_from_query("vs=1kV&if=1uA")
    with pytest.raises(ScenarioError):
        operating_point(scenario)
    sizing = size_for(scenario)
    assert sizing.conflict is None
    assert failing(sizing.scenario, Wishes()) == set()


@pytest.mark.parametrize("query", ["vs=0V", "vs=1V", "vcc=0V", "in=ac&vac=1V"])
def test_a_stage_that_cannot_work_has_an_answer_all_the_same(query):
    sizing = size_for(scenario_from_query(query))
    assert sizing.conflict.failing
    # Where no current flows there is no finding on saturation, which is told all the same.
    assert set(sizing.conflict.failing) - {"saturation"} == failing(sizing.scenario, Wishes()) - {"saturation"}
    assert all(np.isfinite(chosen.R) for chosen in sizing.chosen.values())


# ---------------------------------------------------------------- wishes


def test_wishes_that_are_left_out_are_as_usual():
    assert wishes_from({}) == wishes_from({"overdrive": " ", "ifmin": "none", "other": "x"}) == Wishes()


@pytest.mark.parametrize(
    ("texts", "fields"),
    [
        ({"overdrive": "0.5"}, ["overdrive"]), ({"overdrive": "1e9"}, ["overdrive"]),
        ({"overdrive": "two"}, ["overdrive"]),
        ({"ifmin": "2V"}, ["ifmin"]), ({"ifmax": "5A"}, ["ifmax"]), ({"ifmin": "5mA", "ifmax": "1mA"}, ["ifmin"]),
        ({"keep": "both"}, ["keep"]), ({"prefer": "<b>"}, ["prefer"]),
        ({"overdrive": "nan", "ifmin": "-1", "keep": "?", "prefer": ""}, ["overdrive", "keep", "ifmin", "prefer"]),
    ],
)  # fmt: skip
def test_wishes_that_cannot_be_are_refused_all_at_once(texts, fields):
    with pytest.raises(ScenarioError) as caught:
        wishes_from(texts)
    assert [p.field for p in caught.value.problems] == fields
    assert all(p.reason and p.accepted for p in caught.value.problems)


def test_both_resistors_cannot_be_kept():
    with pytest.raises(ScenarioError, match="only one resistor"):
        Wishes(keep=PARTS)


# ---------------------------------------------------------------- what excludes what

TABLE = {
    "a": np.array([1, 1, 0, 0], bool), "b": np.array([0, 1, 1, 0], bool), "c": np.array([1, 0, 1, 0], bool),
    "d": np.array([0, 0, 0, 0], bool),
}  # fmt: skip


def test_what_holds_nowhere():
    assert never(TABLE) == ("d",)


def test_three_that_exclude_each_other_only_together():
    three = {code: TABLE[code] for code in "abc"}
    assert pairs(three) == ()
    assert smallest(three) == ("a", "b", "c")
    assert smallest(TABLE) == ("d",)
    assert smallest({"a": TABLE["a"]}) == ()


def test_candidates_by_what_they_miss():
    assert list(fewest({"a": TABLE["a"], "b": TABLE["b"]})) == [1, 0, 2, 3]


# ---------------------------------------------------------------- speed


@pytest.mark.parametrize(
    ("query", "wished", "prefer"),
    [
        *(("rate=12kHz", None, prefer) for prefer in ("middle", "current")),
        ("", 20e-6, "middle"),
        ("rate=5kHz&vcc=5V&logic=ttl&tamin=-20C&tamax=70C", 50e-6, "middle"),
    ],
)
def test_a_signal_rate_and_a_time_of_the_edges_are_kept(query, wished, prefer):
    scenario = scenario_from_query(query)
    sizing = size_for(scenario, Wishes(prefer=prefer, transition=wished))
    assert sizing.conflict is None
    assert failing(sizing.scenario, sizing.wishes) == set()
    found = timing_of(sizing.scenario)
    times = [found.edges[name].transition.high for name in ("on", "off")]
    assert scenario.conditions.rate == "none" or found.max_rate.low >= scenario.conditions.rate
    assert wished is None or max(times) <= wished
    assert sizing.speed == (pytest.approx(found.max_rate.low, rel=1e-3), pytest.approx(max(times), rel=1e-3))


def test_without_a_rate_nothing_is_told_of_speed():
    assert size_for(scenario_from_query("")).speed is None


def test_a_rate_that_no_pair_holds_is_named_and_the_rest_chosen_without():
    sizing, usual = (size_for(scenario_from_query(query)) for query in ("rate=1MHz", ""))
    assert sizing.conflict.alone == sizing.conflict.failing == ("edge-rate",)
    assert [one.R for one in sizing.chosen.values()] == [one.R for one in usual.chosen.values()]


def test_a_rate_and_what_excludes_it_are_named_together():
    sizing = size_for(scenario_from_query("coupler=with-base&rate=12kHz"), Wishes(overdrive=3.0))
    assert set(sizing.conflict.together) == {"overdrive", "edge-rate"}
    assert sizing.conflict.alone == ()
    assert set(sizing.conflict.failing) & {"overdrive", "edge-rate"}


def test_a_rate_is_left_aside_where_edges_are_not_followed():
    sizing = size_for(scenario_from_query("in=ac&cs=10u&rate=50Hz"))
    assert sizing.untimed
    assert (sizing.speed, sizing.conflict) == (None, None)


@pytest.mark.parametrize("text", ["0", "-1s", "1e9", "5V", "soon"])
def test_a_time_that_cannot_be_names_its_wish(text):
    with pytest.raises(ScenarioError) as refused:
        wishes_from({"edge": text})
    assert [problem.field for problem in refused.value.problems] == ["edge"]
