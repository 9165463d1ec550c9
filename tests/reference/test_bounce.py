"""Bounce and its filter against formulas of a resistor and a capacitor."""

import math

import numpy as np
import pytest

from engine import scenario_from_query
from engine.bounce import _left, _Patterns, bounce_times, filter_for
from engine.circuit import Capacitor, NetlistBuilder
from engine.circuit.segments import Switched


@pytest.mark.from_memory
def test_a_debouncing_capacitor_takes_the_textbooks_time():
    """t = -R C ln(1 - Vth/V): 10 kohm, 1 uF, a threshold of 2 V on 5 V are 5.108 ms."""
    R, C, V, threshold = 10e3, 1e-6, 5.0, 2.0
    net = NetlistBuilder(2)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", np.array([V, 0.0]))
    net.resistor("R", "VS", "A", R)
    net.store(Capacitor("C", "A", "return", np.full(2, C)))
    pair = Switched(net.build(), 1e-6, {"VS": np.array([V, 0.0]), "A": np.array([V, 0.0])})
    one = np.array([True])
    trail = pair.follow({"VS": np.zeros(1), "A": np.zeros(1)}, ~one, [(one, np.array([20e-3]))])
    found = np.interp(threshold, trail.voltages["A"][:, 0], trail.t[:, 0])
    assert found == pytest.approx(5.108e-3, abs=2e-6)
    assert found == pytest.approx(-R * C * math.log(1.0 - threshold / V), rel=2e-4)


@pytest.mark.no_source("closed form: until its threshold an LED takes nothing, so R1 charges the filter alone")
@pytest.mark.parametrize("query", ["in=contact-high", "in=contact-high&vs=12V&r1=3k3", "in=contact-low&rl=22k"])
def test_the_led_is_dark_until_the_filter_has_reached_its_voltage(query):
    """The output leaves its level once the filter stands at the LED's voltage of that current."""
    scenario, C = scenario_from_query(query), 22e-6
    patterns = _Patterns(scenario, [(C, "closing", np.zeros(0))], [0])
    (when,) = _left(patterns, 0)
    t = patterns.trail.t[:, 0]
    IF = float(np.interp(when, t, patterns.train.LED_current(patterns.trail.voltages)[:, 0]))
    led, side = scenario.coupling.model.led, scenario.input
    VF = float(led.VF(IF, 298.15)) - led.RS * IF
    R = float(patterns.train.R1[0]) + side.R_contact
    assert IF < 0.5e-3
    assert when == pytest.approx(-R * C * math.log(1.0 - VF / side.VS), rel=0.02)


@pytest.mark.no_source("closed form: an LED alone empties a capacitor so that 1/IF rises by t/(nVT C)")
def test_light_ebbs_away_as_a_hyperbola():
    scenario = scenario_from_query("in=contact-high&ires=0A")
    patterns = _Patterns(scenario, [(47e-6, "opening", np.zeros(0))], [0])
    led = scenario.coupling.model.led
    nVT = led.n * 1.380649e-23 * 298.15 / 1.602176634e-19
    t = patterns.trail.t[:, 0]
    IF = patterns.train.LED_current(patterns.trail.voltages)[:, 0]
    late = np.array([10e-3, 20e-3, 40e-3])
    slope = np.diff(1.0 / np.interp(late, t, IF)) / np.diff(late)
    assert slope == pytest.approx(1.0 / (nVT * 47e-6), rel=0.03)


@pytest.mark.no_source("common practice: a contact bounces for milliseconds, each bounce shorter than the last")
def test_the_proposal_bears_every_pattern_of_the_same_length():
    """Bounces that shrink at other ratios, and other numbers of them, make one edge as well."""
    scenario = scenario_from_query("rl=10k")
    C = filter_for(scenario).C
    others = [bounce_times(5e-3, count, ratio) for count in (1, 3, 8) for ratio in (0.3, 0.6, 1.0)]
    found = _Patterns(scenario, [(C, "closing", times) for times in others])
    assert all(found.bounced(k).clean for k in range(len(others)))
