"""What R1 and RL may be: every limit is where its finding stops to hold, at all corners of the stage built anew."""

from dataclasses import replace

import numpy as np
import pytest

from engine import findings_of, operating_point, scenario_from_query, timing_of
from engine.findings import FAILING
from engine.resized import Resized
from engine.several import operating_points
from engine.windows import PRECISION, longest, windows_of

STAGES = (
    "", "tamin=-20C&tamax=70C&years=10", "years=10&ageing=stress&stloss=5%25&tamax=85C", "out=pull-down",
    "out=indicator", "out=controller", "out=relay", "out=dc-load", "out=gate", "in=two-wire", "in=logic&r1=150R",
    "in=limited", "in=measured", "in=transistor&qat=across", "leak=10k", "vcc=5V&logic=ttl&ineed=1mA",
    "vs=12V&r1=300R&rl=22R&vcc=12V&logic=cmos", "in=ac&cs=10u&r1=100k",
)  # fmt: skip


def passes(point, code):
    """Whether a finding on a solved stage passes, or is not asked."""
    found = {f.code: f.severity for f in findings_of(point, remedies=False)}
    return found.get(code, "pass") not in FAILING


@pytest.mark.parametrize("query", STAGES)
def test_a_finding_holds_up_to_its_limit_and_fails_beyond(query):
    scenario = scenario_from_query(query)
    trial, bounds = Resized(scenario), [b for window in windows_of(scenario).values() for b in window.bounds]
    assert bounds
    tried = []
    for bound in bounds:
        outwards = (1.0 + 0.02 * (bound.code == "zero-crossing") + 2.0 * PRECISION) ** (
            1 if bound.side == "upper" else -1
        )
        for R, holds in ((bound.R, True), (bound.R * outwards, False)):
            tried.append((bound, holds, trial.fitted(**(trial.present | {bound.part: R}))))
    for (bound, holds, _), point in zip(tried, operating_points([other for *_, other in tried]), strict=True):
        assert passes(point, bound.code) is holds, bound


@pytest.mark.parametrize("query", ["", "tamin=-20C&tamax=70C&years=10", "in=two-wire", "out=relay"])
def test_all_holds_within_the_window_and_something_fails_outside(query):
    scenario = scenario_from_query(query)
    trial = Resized(scenario)
    for part, window in windows_of(scenario).items():
        assert not window.empty
        assert window.elsewhere == ()
        assert window.holds_present
        for R in np.geomspace(*window.ends, 4):
            solved = operating_point(trial.fitted(**(trial.present | {part: float(R)})))
            assert not [f.code for f in findings_of(solved, remedies=False) if f.severity in FAILING]


def test_ends_are_the_tightest_limits_and_say_what_sets_them():
    windows = windows_of(scenario_from_query("tamin=-20C&tamax=70C&years=10"))
    R1, RL = windows["R1"], windows["RL"]
    assert (R1.low.code, R1.high.code) == ("power-r1", "saturation")
    assert (RL.low.code, RL.high.code) == ("saturation", "level-dark")
    assert "after 10 years" in RL.low.condition
    assert "70 °C" in RL.low.condition
    assert "70 °C" in RL.high.condition
    assert {b.code for b in R1.bounds if b.side == "lower"} >= {"power-r1", "led-current"}
    assert R1.low.R == max(b.R for b in R1.bounds if b.side == "lower")
    assert RL.high.R == min(b.R for b in RL.bounds if b.side == "upper")
    assert RL.low.title == "Saturation"


def test_the_limit_of_speed_is_looked_at_where_a_rate_is_wanted():
    for query in ("", "in=ac&cs=10u&rate=10Hz"):
        assert not any(window.timed or window.speed for window in windows_of(scenario_from_query(query)).values())
    window = windows_of(scenario_from_query("rate=8kHz"))["RL"]
    assert window.timed
    assert window.speed is window.high
    assert (window.speed.side, window.speed.code) == ("upper", "edge-rate")
    assert "less than the 8 kHz wanted" in window.speed.reason
    for share, holds in ((0.995, True), (1.005, False)):
        rate = timing_of(scenario_from_query(f"rl={share * window.speed.R}")).max_rate.low
        assert (rate >= 8e3) is holds


def test_a_rate_that_nothing_holds_and_one_that_sets_no_limit():
    assert "edge-rate" in windows_of(scenario_from_query("rate=1MHz"))["RL"].elsewhere
    window = windows_of(scenario_from_query("rate=5kHz&rl=100k"))["RL"]
    assert not window.holds_present
    assert window.high.code == "edge-rate"


def test_port_package_and_sensor_limit_r1():
    port = windows_of(scenario_from_query("in=logic&r1=150R&pins=8&ipack=24mA"))["R1"]
    assert {b.code for b in port.bounds if b.side == "lower"} >= {"port-current", "package-current"}
    assert port.low.code == "package-current"
    sensor = windows_of(scenario_from_query("in=two-wire"))["R1"]
    assert sensor.high.code == "sensor-load"


def test_collector_current_and_powers_limit_a_small_rl():
    """A strong drive of a strong coupler into a small load."""
    query = "vs=12V&r1=300R&r1w=1W&vcc=48V&vcctol=0%25&logic=cmos&vil=20V&vih=30V&rl=10k&rlw=100mW&coupler=low-drive"
    low = {b.code for b in windows_of(scenario_from_query(query))["RL"].bounds if b.side == "lower"}
    assert low >= {"collector-current", "detector-power", "power-rl"}


def test_an_empty_window_tells_what_excludes_what():
    window = windows_of(scenario_from_query("vcc=5V&logic=ttl&ineed=1mA"))["RL"]
    assert window.empty
    assert not window.holds_present
    assert window.low.R > window.high.R
    assert (window.low.code, window.high.code) == ("level-lit", "off-delivery")


def test_what_fails_whatever_the_resistor_is_does_not_empty_its_window():
    window = windows_of(scenario_from_query("vcc=5V&logic=ttl&ineed=1mA"))["R1"]
    assert window.elsewhere == ("off-delivery",)
    assert not window.empty


def test_what_holds_whatever_the_resistor_is_is_told():
    assert "collector-voltage" in windows_of(scenario_from_query(""))["RL"].always


def test_over_the_cycle_gaps_limit_a_smoothed_input():
    windows = windows_of(scenario_from_query("in=ac&cs=10u&r1=100k"))
    assert windows["R1"].high.code == "zero-crossing"
    assert windows["RL"].low.code == "zero-crossing"
    assert "zero-crossing" in windows_of(scenario_from_query("in=ac"))["R1"].elsewhere


def test_the_inrush_limits_r1_before_a_capacitor():
    scenario = scenario_from_query("in=ac&dropper=capacitor")
    low = windows_of(scenario)["R1"].low
    assert low.code == "inrush"
    trial = Resized(scenario)
    assert passes(operating_point(trial.fitted(low.R, trial.present["RL"])), "inrush")
    assert not passes(operating_point(trial.fitted(low.R / 1.02, trial.present["RL"])), "inrush")


def test_ageing_by_the_current_follows_r1():
    """With a larger R1 the LED ages less, so the limit lies above the one with the light of the present R1."""
    scenario = scenario_from_query("years=20&ageing=stress&stloss=20%25&r1=6k8&r1w=1W&tamax=85C")
    found = windows_of(scenario)["R1"].high
    assert found.code == "saturation"
    trial = Resized(scenario)
    for R, holds in ((found.R, True), (found.R * (1 + 2 * PRECISION), False)):
        assert passes(operating_point(trial.fitted(R, trial.present["RL"])), "saturation") is holds


def test_a_stage_without_supply_has_limits_of_something():
    windows = windows_of(scenario_from_query("vs=0V&r1=1k"))
    assert "saturation" in windows["R1"].elsewhere
    assert all(np.isfinite(window.ends).all() for window in windows.values())


def test_members_of_a_batch_are_those_of_the_stage_alone():
    """What holds with other resistors, corner by corner, is what holds in a scenario that has them."""
    scenario = scenario_from_query("tamax=70C&years=5")
    trial, R1, RL = Resized(scenario), np.array([1e3, 22e3, 68e3]), np.array([1e3, 220e3, 330.0])
    table = trial.table(R1, RL, trial.every_corner())
    for k in range(3):
        solved = operating_point(trial.fitted(R1[k], RL[k]))
        for finding in findings_of(solved, remedies=False):
            if finding.holds is not None and finding.code in table:
                np.testing.assert_array_equal(table[finding.code][k], finding.holds, err_msg=finding.code)


def test_a_dark_stage_does_not_count_as_saturated():
    """No ratio says anything there, in a batch with stages that are lit."""
    trial = Resized(scenario_from_query("vs=1V&vstol=0%25&r1=1k"))
    table = trial.table(np.array([1e3, 1e8]), np.array([4700.0, 4700.0]), trial.every_corner())
    assert not table["saturation"].any()


def test_corners_that_are_watched_grow_with_what_is_noted():
    trial = Resized(scenario_from_query(""))
    assert list(trial.watched) == [0]
    trial.note("saturation", (7, 3))
    assert list(trial.watched) == [0, 3, 7]
    assert list(trial.worst("saturation", np.array([3, 5]))) == [3]
    assert list(trial.worst("saturation", np.array([5, 6]))) == [5, 6]
    assert list(trial.worst("level-lit", np.array([5]))) == [5]


@pytest.mark.parametrize(
    ("row", "near", "found"), [("0110111", None, (4, 6)), ("0110111", 1, (1, 2)), ("1", 0, (0, 0))]
)
def test_longest_stretch(row, near, found):
    assert longest(np.array([c == "1" for c in row]), near) == found


def test_a_fitted_scenario_keeps_the_capacitor_that_was_sized():
    scenario = scenario_from_query("in=ac&dropper=capacitor")
    fitted = Resized(scenario).fitted(1e3, 2e3)
    assert fitted.input.R1 == 1e3
    assert isinstance(fitted.input.CD, float)
    assert replace(fitted.input, R1="auto", CD="auto") == scenario.input
