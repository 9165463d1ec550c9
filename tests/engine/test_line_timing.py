"""How fast a stage answers where the line sets the pace: the march, closed forms, limits of half a cycle."""

import math
from dataclasses import replace
from itertools import islice

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engine import line_timing_of, over_cycle, scenario_from_query
from engine.cycle import AcLoop, Diode, after_switching, march, over_the_cycle
from engine.cycling import switching
from engine.cycling.switched import first_of, for_good, switched
from engine.devices import JunctionParams

PULSING = (
    "in=ac",
    "in=ac&form=diode",
    "in=ac&form=pair&coupler=two-way",
    "in=ac&dropper=capacitor",
    "in=ac&out=indicator",
)
SMOOTHED = ("in=ac&cs=10u", "in=ac&cs=1m", "in=ac&dropper=capacitor&cs=10u", "in=ac&cs=10u&out=controller")
AT_OUTPUT = ("in=ac&co=10u", "in=ac&co=100u", "in=ac&cs=10u&co=10u", "in=ac&cs=1m&co=100u")


def timing(query):
    return line_timing_of(scenario_from_query(query))


def ends(span):
    return span.low, span.value, span.high


def a_loop(form="bridge", **more):
    """Return a loop of 24 V whose diodes drop next to nothing unless others are given."""
    one = np.ones(1)
    led, rectifier = (Diode(JunctionParams(1e-14 * one, 0.026 * n * one), 1.0 * one) for n in (1.5, 1.0))
    return AcLoop(form, 24.0 * one, 50.0 * one, 1e3 * one, led, rectifier, **more)


def marched(loop, phase, start, cycles, instants=128):
    windows = list(islice(after_switching(loop, np.array([phase]), np.array([start]), instants), cycles))
    return np.concatenate([x for x, _ in windows], axis=1)[0], np.concatenate([IF for _, IF in windows], axis=1)[0]


# ---------------------------------------------------------------- the march


@pytest.mark.parametrize("phase", [0.0, 0.125, 0.25, 0.75])
def test_a_linear_loop_agrees_with_a_general_integrator(phase):
    """A resistor and a capacitor on a sine, no rectifier."""
    R, C, f, cycles, instants = 1e3, 4.7e-6, 50.0, 3, 128
    t = np.arange(1, cycles * instants + 1) / (f * instants)

    def line(t):
        return 100.0 * np.sin(2.0 * np.pi * (f * t + phase))

    def rates(x, members):
        return (line(t)[None, :, None] - x) / R, np.full((*x.shape, 1), -1.0 / R)

    zero = np.zeros((1, len(t), 1))
    found = march(rates, np.array([[C]]), zero[:, :2], zero, np.array([1.0 / (f * instants)]), True)[0, :, 0]
    exact = solve_ivp(lambda t, v: (line(t) - v) / (R * C), (0.0, t[-1]), [0.0], t_eval=t, rtol=1e-9, atol=1e-9)
    assert np.abs(found - exact.y[0]).max() < 0.01 * np.abs(exact.y[0]).max()


@pytest.mark.parametrize("phase", [0.0, 0.25, 0.375])
def test_a_rectified_loop_agrees_with_a_general_integrator(phase):
    loop = a_loop(CS=np.array([10e-6]), RF=np.array([2e3]))
    x, _ = marched(loop, phase, [0.0], 3, 256)
    t = np.arange(1, len(x) + 1) / (50.0 * 256)

    def slope(t, v):
        e = loop.crest * np.sin(2.0 * np.pi * (50.0 * t + phase))
        into = sum(loop.forward().current(np.array([[s * e[0] - v[0]]]))[0][0, 0] for s in (1.0, -1.0))
        return [(into - loop.behind().current(np.array([[v[0]]]))[0][0, 0]) / loop.CS[0]]

    exact = solve_ivp(slope, (0.0, t[-1]), [0.0], t_eval=t, rtol=1e-6, atol=1e-6, max_step=1e-4)
    assert np.abs(x[:, 0] - exact.y[0]).max() < 0.01 * exact.y[0].max()


@pytest.mark.parametrize(
    ("form", "more"),
    [
        ("bridge", {"CS": [10e-6], "RF": [1e3]}),
        ("bridge", {"CD": [1e-6], "RB": [470e3]}),
        ("bridge", {"CD": [1e-6], "RB": [470e3], "CS": [4.7e-6], "RF": [1e3]}),
        ("diode", {"CD": [1e-6]}),
        ("bridge", {}),
    ],
)
@pytest.mark.parametrize("phase", [0.0, 0.25, 0.625])
def test_the_march_runs_into_the_steady_state(form, more, phase):
    loop = a_loop(form, **{name: np.array(value) for name, value in more.items()})
    steady = over_the_cycle(loop, 128).IF[0]
    _, IF = marched(loop, phase, [0.0] * loop.capacities.shape[1], 20)
    assert np.abs(IF[-128:] - np.roll(steady, -1 - int(128 * phase))).max() < 1e-3 * steady.max()


def test_switching_on_at_the_crest_takes_the_charge_of_the_inrush_once():
    """What passes a series capacitor in the first instants charges the smoothing one by as much, and not twice."""
    loop = a_loop(CD=np.array([1e-6]), CS=np.array([100e-6]), RF=np.array([1e6]))
    loop = replace(loop, R1=np.array([10.0]))
    x, _ = marched(loop, 0.25, [0.0, 0.0], 1)
    charge = 1e-6 * x[3, 0], 100e-6 * x[3, 1]
    assert charge[1] == pytest.approx(charge[0], rel=0.02)


# ---------------------------------------------------------------- closed forms


def test_discharge_of_the_smoothing_capacitor_is_an_exponential():
    """With a resistor that takes nearly all of its voltage the LED's current falls by e in each RF CS."""
    scenario = scenario_from_query("in=ac&cs=10u&rf=4k7&vac=230&if=10mA&r1w=50W")
    found = switched(scenario)["off"]
    t, IF = found.t, found.IF
    tau = scenario.input.RF * scenario.input.CS
    late = np.interp([0.5 * tau, 1.0 * tau], t, IF)
    # The LED keeps about a volt, which the current is measured above: its drop changes by a few nVT only.
    assert math.log(late[0] / late[1]) * tau / (0.5 * tau) == pytest.approx(1.0, abs=0.04)


def test_charge_of_the_output_capacitor_is_an_exponential():
    """Once the LED is dark RL charges CO to the supply: tau ln of the swing over what is left at the limit."""
    scenario = scenario_from_query("in=ac&co=10u&rl=10k")
    found, off = over_cycle(scenario), switched(scenario)["off"]
    VCC, limit = scenario.output.VCC, off.limit
    first = found.out[0].min()
    tau = 10e3 * 10e-6
    by_hand = [tau * math.log((VCC - begin) / (VCC - limit)) for begin in (first, found.out[0].max())]
    # The receiver's input current and the dark current hardly count; where in its ripple it begins, does.
    assert min(by_hand) * 0.97 <= off.stays[0].max() <= max(by_hand) * 1.03


@pytest.mark.parametrize("query", ["in=ac&vsmin=0V&cs=1m", "in=ac&vsmin=0V&cs=1m&dropper=capacitor"])
def test_a_line_that_may_be_absent_lights_nothing_at_worst(query):
    """With no voltage at all a capacitor that creeps stays where it is: the output is off at once, and on never."""
    found, usual = timing(query), timing(query.replace("vsmin=0V&", ""))
    assert (found.lit.high, found.dark.low, found.max_rate.low) == (None, 0.0, None)
    assert (found.lit.value, found.dark.value) == pytest.approx((usual.lit.value, usual.dark.value), rel=1e-6)


@pytest.mark.parametrize("query", ["in=ac&cs=47u", "in=ac&dropper=capacitor&cs=47u"])
def test_what_creeps_agrees_with_what_is_followed(query, monkeypatch):
    """The same capacitor followed instant by instant and averaged over the cycle."""
    scenario = scenario_from_query(query)
    monkeypatch.setattr(switching, "_CYCLES", 60)
    followed = switched(scenario)
    monkeypatch.setattr(switching, "_CYCLES", 1)
    crept = switched(scenario)
    for edge in ("on", "off"):
        assert len(followed[edge].phase) > 1
        assert len(crept[edge].phase) == 1
        away = np.abs(crept[edge].stays[0].max() - followed[edge].stays[0])
        assert away.min() < 0.01 * crept[edge].stays[0].max() + 0.25 / scenario.input.f


def test_first_and_last_passing_of_a_margin():
    t = np.arange(6.0)
    margin = np.array(
        [[-1.0, 1.0, -1.0, -3.0, 1.0, 2.0], [1.0, 1.0, 1.0, 1.0, 1.0, 1.0], [-1.0, 1.0, 1.0, 1.0, 1.0, -1.0]]
    )
    assert first_of(margin, t) == pytest.approx([0.5, 0.0, 0.5])
    assert for_good(margin, t, 3.5) == pytest.approx([3.75, 0.0, math.inf])


# ---------------------------------------------------------------- what a stage answers


@pytest.mark.parametrize("query", PULSING)
def test_without_smoothing_it_pulses_and_waits_a_dark_gap_at_most(query):
    found, gap = timing(query), over_cycle(scenario_from_query(query)).figures["unlit"]
    assert found.pulses
    assert found.steady.high is None
    assert found.dark.high == pytest.approx(0.0, abs=1e-9)
    assert ends(found.gap) == (gap.low, gap.value, gap.high)
    assert found.debounce == gap.high
    assert found.lit.high <= 1.01 * gap.high
    assert found.max_rate.low == pytest.approx(1.0 / (found.lit.high + found.gap.high))
    assert "zero crossing" in found.limited_by


@pytest.mark.parametrize("query", ["in=ac", "in=ac&form=diode", "in=ac&f=60&vac=120"])
def test_the_worst_instant_to_switch_on_is_the_end_of_the_light(query):
    scenario = scenario_from_query(query)
    found, cycle = timing(query), over_cycle(scenario)
    assert found.lit.high == pytest.approx(cycle.figures["unlit"].high, rel=0.01)
    starts = [one.start for one in cycle.unlit]
    assert min(abs(found.phases["on"] - start) for start in starts) < 0.005


@pytest.mark.parametrize("query", SMOOTHED + AT_OUTPUT)
def test_with_smoothing_it_stays_lit(query):
    found = timing(query)
    assert not found.pulses
    assert found.gap.high == 0.0
    assert found.debounce == 0.0
    for span in (found.lit, found.steady, found.dark):
        low, value, high = ends(span)
        assert 0.0 <= low <= value <= high
    assert found.steady.high >= found.lit.high > 0.0
    assert found.max_rate.low == pytest.approx(1.0 / (found.steady.high + found.dark.high))
    assert found.max_rate.low <= found.max_rate.value <= found.max_rate.high


@pytest.mark.parametrize(("small", "large"), [("in=ac&cs=10u", "in=ac&cs=22u"), ("in=ac&co=10u", "in=ac&co=22u")])
def test_a_larger_capacitor_takes_longer(small, large):
    one, other = timing(small), timing(large)
    assert other.dark.value > 1.5 * one.dark.value
    assert other.steady.high > one.steady.high


@pytest.mark.parametrize(
    ("query", "part"),
    [
        ("in=ac&cs=10u", "smoothing capacitor CS"),
        ("in=ac&co=100u", "capacitor CO"),
        ("in=ac&cs=1u&co=100u", "capacitor CO"),
        ("in=ac&cs=1m&co=10n", "smoothing capacitor CS"),
    ],
)
def test_it_names_the_capacitor_that_takes_the_time(query, part):
    assert part in timing(query).limited_by


def test_residual_current_that_lights_the_led_is_told():
    found = timing("in=ac&ileak=2mA")
    assert found.dark.high is None
    assert found.max_rate.low is None
    assert "residual" in found.limited_by


def test_a_stage_that_is_never_lit_is_told():
    found = timing("in=ac&if=10u")
    assert found.lit.value is None
    assert found.max_rate.value is None
    assert "never" in found.limited_by


def test_waveforms_begin_at_rest_and_end_where_it_stays():
    found = timing("in=ac&cs=10u")
    on, off = found.waves["on"], found.waves["off"]
    assert on.IF[0] == pytest.approx(0.0, abs=1e-9)
    assert off.IF[0] > 1e-4
    assert off.IF[-1] < 0.1 * off.IF[0]
    assert on.nominal[-1] < on.limit < on.nominal[0]
    assert off.nominal[0] < off.limit < off.nominal[-1]
    assert (on.low <= on.nominal + 1e-9).all()
    assert (on.nominal <= on.high + 1e-9).all()


# ---------------------------------------------------------------- a load that a triac switches


@pytest.mark.parametrize("f", [50, 60])
@pytest.mark.parametrize("load", ["ac-load", "ac-triac&rload=50"])
def test_a_triac_at_the_zero_crossing_takes_up_to_half_a_cycle_each_way(load, f):
    found, half = timing(f"out={load}&coupler=triac-zero&if=25mA&fline={f}"), 0.5 / f
    assert half < found.lit.value <= found.lit.high < half + 1e-3
    assert found.lit.low == 0.0
    assert ends(found.dark) == (0.0, half, half)
    assert found.max_rate.low == pytest.approx(1.0 / (found.lit.high + half))
    assert found.gap is None


def test_a_triac_of_any_phase_waits_only_where_the_line_is_too_low():
    found = timing("out=ac-triac&coupler=triac-random&if=25mA")
    assert found.lit.high < 1e-3
    assert found.dark.high == pytest.approx(10e-3)
    higher = timing("out=ac-triac&coupler=triac-random&if=25mA&igt=100mA")
    assert higher.lit.value > found.lit.value


def test_a_triac_that_is_never_triggered_is_told():
    found = timing("out=ac-load&coupler=triac-random&if=1mA")
    assert found.lit.value is None
    assert found.max_rate.low is None
    assert "never" in found.limited_by


def test_a_smoothed_led_and_a_triac_add_up():
    query = "out=ac-triac&coupler=triac-random&if=25mA"
    alone, both = timing(query), timing(f"in=ac&{query}&r1w=100W&cs=100u")
    assert both.dark.value > alone.dark.value + 20e-3
    assert both.lit.value > alone.lit.value + 5e-3
    assert timing(f"in=ac&{query}&r1w=100W") is None


@pytest.mark.parametrize("query", ["", "out=relay", "in=ac&out=relay", "in=ac&out=gate&coupler=push-pull"])
def test_where_no_line_sets_the_pace_there_is_none(query):
    assert timing(query) is None
