"""Output characteristics, load lines, and where they meet."""

import numpy as np
import pytest

from engine import characteristics_of, load_card, operating_point, scenario_from_query, switching_of
from engine.build import build
from engine.characteristics import load_line
from engine.coupler import model_of
from engine.coupler.bench import Wiring, measure

CLOSE = 0.005
"""How near an operating point lies to a curve, relative to the whole of it."""

STAGES = (
    "", "out=pull-down", "out=indicator", "out=indicator&colour=blue", "out=controller", "out=controller&flow=sourcing",
    "out=relay", "out=relay&kq=mosfet", "rin=10k&rpumin=20k&rpumax=50k", "iin=0A", "swap=yes", "logic=ttl",
    "coupler=cascade", "coupler=with-base&rbe=100k", "coupler=two-way", "in=ac", "in=ac&form=pair&coupler=two-way",
    "in=logic", "in=measured", "rl=1k&vcc=5V", "rl=1M", "tamin=-20C&tamax=70C&years=10", "ta=80C", "vs=0V&r1=1k",
)  # fmt: skip
SWITCHED = (
    "coupler=fast-gate&vcc=5V", "out=gate", "out=gate&vee=-5V", "out=dc-load", "out=ac-load", "out=ac-triac",
    "coupler=photo-relay", "out=pull-down&coupler=photo-relay", "out=relay&coupler=photo-relay",
    "out=indicator&coupler=fast-gate&vcc=5V", "tamin=-20C&tamax=70C&years=10&out=gate",
)  # fmt: skip


@pytest.mark.parametrize("query", STAGES)
def test_both_operating_points_lie_on_characteristic_and_load_line(query):
    found = characteristics_of(scenario_from_query(query))
    solved = operating_point(scenario_from_query(query))
    known = np.isfinite(found.line)
    for meeting in found.meetings:
        state = solved.states[meeting.state].quantities
        assert (meeting.IF, meeting.current) == (state["IF"].value, state["IC"].value)
        on_line = np.interp(meeting.V, found.V[known], found.line[known])
        assert on_line == pytest.approx(meeting.current, abs=CLOSE * abs(found.I_short))
        curve = next(y for IF, y in found.family if IF == max(meeting.IF, 0.0))
        there = np.interp(meeting.V, found.V, curve)
        assert there == pytest.approx(meeting.current, rel=CLOSE, abs=1e-12)


@pytest.mark.parametrize("query", STAGES)
def test_worst_specimens_enclose_the_nominal_curve(query):
    found = characteristics_of(scenario_from_query(query))
    lit = next(y for IF, y in found.family if IF == max(found.meetings[0].IF, 0.0))
    within = 1e-9 + 1e-6 * np.abs(lit).max()
    assert (np.minimum(found.low, found.high) <= lit + within).all()
    assert (np.maximum(found.low, found.high) >= lit - within).all()


def test_the_load_line_of_a_resistor_is_straight():
    found = characteristics_of(scenario_from_query("iin=0A&vcc=5V&rl=1k"))
    assert found.straight == pytest.approx(1e3)
    known = np.isfinite(found.line)
    assert found.line[known] == pytest.approx((5.0 - found.V[known]) / 1e3, rel=1e-6, abs=1e-11)
    assert np.isnan(found.line[found.V > 5.001]).all()


def test_a_receivers_resistance_turns_the_load_line():
    # A divider: 10 kohm to 10 V, 10 kohm to common, is 5 V behind 5 kohm.
    found = characteristics_of(scenario_from_query("iin=0A&vcc=10V&rl=10k&rin=10k&logic=cmos4000"))
    assert (found.V_open, found.straight) == pytest.approx((5.0, 5e3))


def test_a_diode_in_the_output_bends_the_load_line():
    found = characteristics_of(scenario_from_query("out=indicator&vcc=5V&rl=1k"))
    assert found.straight is None
    assert found.V_open < 5.0
    assert found.I_short < 5.0 / 1e3


def test_a_load_line_at_every_corner():
    scenario = scenario_from_query("iin=0A&vcc=10V&vcctol=10%25&tol=5%25&rl=1k&logic=cmos4000")
    found = characteristics_of(scenario)
    at = int(np.argmin(np.abs(found.V - 5.0)))
    V = found.V[at]
    assert found.line_low[at] == pytest.approx((9.0 - V) / 1050.0, rel=1e-4)
    assert found.line_high[at] == pytest.approx((11.0 - V) / 950.0, rel=1e-4)
    V, current = load_line(scenario.output, build(scenario).varied, steps=5)
    assert V.shape == current.shape
    assert (np.diff(V, axis=1) < 0).all()


def test_the_family_is_that_of_the_test_circuit():
    found = characteristics_of(scenario_from_query("r1=15k"))
    model = model_of(load_card("general"))
    for IF, curve in found.family:
        assert measure(model, IF, Wiring(hold=2.0)).IO[0] == pytest.approx(np.interp(2.0, found.V, curve), rel=2e-3)
    currents = [IF for IF, _ in found.family]
    assert currents == sorted(currents)
    assert len(currents) == 5


def test_ageing_and_temperature_widen_the_band():
    plain, aged = (characteristics_of(scenario_from_query(q)) for q in ("", "tamin=-20C&tamax=70C&years=10"))
    at = plain.V.searchsorted(2.0), aged.V.searchsorted(2.0)
    assert aged.low[at[1]] < 0.8 * plain.low[at[0]]
    assert aged.high[at[1]] > plain.high[at[0]]
    assert aged.TA_ends == (-20.0, 70.0)


def test_curves_may_end_where_it_is_asked():
    found = characteristics_of(scenario_from_query("vcc=24V&logic=cmos4000&rl=10k"), 1.0)
    assert found.V[-1] == 1.0


def test_nothing_to_supply():
    found = characteristics_of(scenario_from_query("vcc=0V"))
    assert (found.V_open, found.I_short) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert found.V[-1] == load_card("general").CTR_VCE


@pytest.mark.parametrize("query", SWITCHED)
def test_switching_points_lie_on_the_curve(query):
    scenario = scenario_from_query(query)
    found, solved = switching_of(scenario), operating_point(scenario)
    for meeting in found.meetings:
        on_curve = np.interp(meeting.IF, found.IF, found.V)
        assert on_curve == pytest.approx(meeting.V, abs=CLOSE * np.ptp(found.V))
        assert meeting.IF == solved.states[meeting.state].quantities["IF"].value
    nominal, least, most = found.threshold
    assert least < nominal < most
    turns = found.IF[np.abs(np.diff(found.V)).argmax()]
    assert turns == pytest.approx(nominal, rel=0.01)
    assert (found.low <= found.V).all()
    assert (found.V <= found.high).all()
    assert solved.states["closed"].quantities["IF_needed"].high == pytest.approx(most, rel=1e-6)


def test_the_band_of_a_threshold_is_where_some_are_on_and_some_are_off():
    found = switching_of(scenario_from_query("out=dc-load"))
    _, least, most = found.threshold
    between = (found.IF > 1.02 * least) & (found.IF < 0.98 * most)
    apart = found.high - found.low
    assert apart[between].min() > 10.0
    assert apart[found.IF < 0.97 * least].max() < 0.1
    assert apart[found.IF > 1.03 * most].max() < 3.0
