"""How fast a stage answers where the line sets the pace, against published figures."""

import numpy as np
import pytest

from engine import line_timing_of, scenario_from_query
from engine.cycle import AcLoop, Diode
from engine.cycling.switched import first_of
from engine.cycling.switching import Lamp, course_of
from engine.devices import JunctionParams

RELAY = "Omron, G3MB solid-state relays, data sheet, characteristics"
SENSE = "electronics.stackexchange.com/questions/33042, sizing of an opto input on 230 V less 6 %"


def timing(query):
    return line_timing_of(scenario_from_query(query))


@pytest.mark.source(RELAY + ": with zero crossing it operates within half a cycle + 1 ms, and releases so")
@pytest.mark.parametrize("f", [50.0, 60.0])
@pytest.mark.parametrize("output", ["out=ac-load&rl=115", "out=ac-triac&rload=115"])
def test_a_load_switched_at_the_zero_crossing_keeps_to_half_a_cycle_and_a_millisecond(f, output):
    found, half = timing(f"{output}&coupler=triac-zero&if=25mA&fline={f:.0f}"), 0.5 / f
    for span in (found.lit, found.dark):
        assert half <= span.high <= half + 1e-3


@pytest.mark.source(RELAY + ": without zero crossing it operates within 1 ms, and releases within half a cycle + 1 ms")
@pytest.mark.parametrize("output", ["out=ac-load&rl=115", "out=ac-triac&rload=115"])
def test_a_load_switched_at_any_phase_operates_within_a_millisecond(output):
    found = timing(f"{output}&coupler=triac-random&if=25mA")
    assert found.lit.high <= 1e-3
    assert 0.01 <= found.dark.high <= 0.011


@pytest.mark.source(SENSE + ": with 46.1 kohm 1 mA flows for 90 % of each half cycle, from 9 degrees on")
def test_an_input_that_is_lit_for_nine_tenths_waits_a_tenth_of_a_half_cycle():
    """Switched on as the light ends it waits for both 9 degrees; the printed 90 % is the tolerance."""
    one = np.ones(3)
    # So steep that its drop is as good as constant.
    led = Diode(JunctionParams(1e-3 * np.exp(-200.0) * one, 1.65 / 200.0 * one), 0.0 * one)
    loop = AcLoop("pair", 230.0 * 0.94 * one, 50.0 * one, 46.1e3 * one, led, led)
    angles = 2.0 * np.pi * np.arange(128) / 128
    steady = np.maximum(np.abs(loop.crest[:, None] * np.sin(angles)) - 1.65, 0.0) / 46.1e3
    lamp = Lamp({"on": loop}, {"on": steady}, {"on": np.zeros((3, 128, 0))})
    course = course_of(lamp, "on", 1e-3 * one, 1e-3 * one)
    waits = first_of(course.high - 1e-3, course.t).max()
    assert waits == pytest.approx(0.10 * 0.01, abs=0.005 * 0.01)


@pytest.mark.no_source("common practice")
@pytest.mark.parametrize("f", [50, 60])
def test_a_bridge_blinks_at_twice_the_frequency_of_the_line(f):
    """A program that samples an input on the line waits for less than half a cycle, and needs no more than one."""
    found = timing(f"in=ac&f={f}&vac=120")
    assert found.pulses
    assert 0.0 < found.debounce < 0.5 / f
    assert found.lit.high < 0.5 / f
