"""What may stand around the LED of a direct-current drive, and the drives beside contacts and sensors, by hand."""

import math
from urllib.parse import quote

import pytest

from engine import ScenarioError, operating_point, scenario_from_query
from engine.constants import thermal_voltage
from engine.coupler import calibrated
from engine.diodes import COLOURS, SILICON, zener_drop
from tests.stages import DRIVES, has_switch, with_option

ROOM = 298.15


def both(query):
    states = operating_point(scenario_from_query(query)).states
    return states["closed"], states["open"]


def amperes(state, part):
    return state.currents[part].value


def volts(state, part):
    return state.drops[part].value


def problem_of(query):
    """Return the one problem of a query string."""
    with pytest.raises(ScenarioError) as caught:
        scenario_from_query(query)
    (problem,) = caught.value.problems
    return problem


def VF(current):
    """Return the forward voltage of the general coupler's LED at 25 degC."""
    return float(calibrated("general").led.VF(current, ROOM))


# ---------------------------------------------------------------- bypass


@pytest.mark.parametrize("drive", DRIVES.values())
def test_a_bypass_of_the_led_takes_its_voltage_over_its_resistance(drive):
    closed, _ = both(with_option(drive, "rb=1k&r1=4k7"))
    assert volts(closed, "RB") == pytest.approx(volts(closed, "LED"), rel=1e-9)
    assert amperes(closed, "RB") == pytest.approx(volts(closed, "LED") / 1e3, rel=1e-9)
    assert amperes(closed, "R1") == pytest.approx(amperes(closed, "LED") + amperes(closed, "RB"), rel=1e-6)


@pytest.mark.parametrize("drive", DRIVES.values())
def test_a_bypass_of_the_input_leaves_the_led_its_current_and_loads_the_switch(drive):
    closed, _ = both(with_option(drive, "rb=10k&rbat=input&r1=4k7"))
    assert volts(closed, "RB") == pytest.approx(volts(closed, "R1") + volts(closed, "LED"), rel=1e-9)
    assert amperes(closed, "R1") == pytest.approx(amperes(closed, "LED"), rel=1e-6)
    part = scenario_from_query(drive).input.switch_part
    if "qat=across" not in drive:
        through = amperes(closed, part)
        assert through == pytest.approx(amperes(closed, "R1") + amperes(closed, "RB"), rel=1e-6)


@pytest.mark.parametrize("drive", [drive for drive in DRIVES.values() if has_switch(drive) and "across" not in drive])
def test_a_bypass_of_the_switch_feeds_the_led_while_it_is_open(drive):
    _, plain = both(drive)
    closed, opened = both(with_option(drive, "rb=100k&rbat=switch&r1=4k7"))
    part = scenario_from_query(drive).input.switch_part
    assert volts(closed, "RB") == pytest.approx(volts(closed, part), rel=1e-9)
    assert volts(opened, "RB") == pytest.approx(volts(opened, part), rel=1e-9)
    if part != "P1":  # a port pulls the LED's node to the other rail itself
        through = amperes(opened, "RB") + amperes(opened, part)
        assert through == pytest.approx(amperes(opened, "LED"), rel=1e-6)
        assert amperes(opened, "LED") > amperes(plain, "LED") + 20e-6


def test_a_bypass_of_the_switch_by_hand():
    _, opened = both("r1=15k&rb=100k&rbat=switch")
    assert amperes(opened, "LED") == pytest.approx((48.0 - volts(opened, "LED")) / 115e3, rel=1e-9)


def test_a_bypass_takes_what_a_weak_leak_gives_before_the_led_conducts():
    """50 uA through 1 kohm are 50 mV: the LED carries next to nothing of them."""
    _, bare = both("in=sinking&ioff=50uA")
    _, bypassed = both("in=sinking&ioff=50uA&rb=1k")
    assert amperes(bare, "LED") == pytest.approx(50e-6, rel=1e-6)
    assert volts(bypassed, "LED") == pytest.approx(50e-3, rel=1e-6)
    assert amperes(bypassed, "LED") < 1e-12


@pytest.mark.parametrize("where", ["led", "input"])
def test_the_tolerance_of_a_bypass_widens_the_ranges(where):
    query = f"r1=15k&rb=470R&rbat={where}&rbw=10W&vstol=0%25"
    narrow, wide = (both(f"{query}&tol={share}%25")[0].currents["RB"] for share in (0, 20))
    assert narrow.high / narrow.low < wide.high / wide.low
    assert wide.high == pytest.approx(narrow.high / 0.8, rel=0.02)


def test_a_driver_without_a_switch_has_none_to_lie_across():
    problem = problem_of("in=measured&rb=1k&rbat=switch")
    assert (problem.field, problem.accepted) == ("rbat", "led, input")


# ---------------------------------------------------------------- in series with the LED


def test_the_led_group_takes_what_r1_leaves():
    closed, _ = both("r1=15k&nd=2&vz=6.2V&lamp=red&ri=220R")
    taken = sum(volts(closed, part) for part in ("R1", "D2", "Z1", "H1", "RI", "LED", "S1"))
    assert taken == pytest.approx(48.0, rel=1e-9)
    for part in ("R1", "D2", "Z1", "H1", "RI", "LED"):
        assert amperes(closed, part) == pytest.approx(amperes(closed, "LED"), rel=1e-9), part
    group = 48.0 - volts(closed, "R1") - volts(closed, "S1")
    assert group == pytest.approx(closed.nodes["X1"].value - closed.nodes["K"].value, rel=1e-9)


@pytest.mark.parametrize("count", [1, 2, 5, 20])
def test_series_diodes_take_so_many_times_the_drop_of_one(count):
    closed, _ = both(f"r1=12k&nd={count}")
    IF = amperes(closed, "LED")
    assert volts(closed, "D2") == pytest.approx(count * float(SILICON.VF(IF, ROOM)), rel=1e-6)
    assert IF == pytest.approx((48.0 - VF(IF) - volts(closed, "D2")) / 12000.1, rel=1e-6)
    assert 0.6 < volts(closed, "D2") / count < 0.7


def test_there_are_no_parts_of_diodes():
    problem = problem_of("nd=1.5")
    assert (problem.field, problem.accepted, problem.reason) == ("nd", "a whole number", "there are no parts of diodes")


def test_a_zener_diode_passes_its_stated_point():
    """It is stated at the drive current, here set to what flows."""
    closed, _ = both("in=contact-high&r1=12k&vz=12V&if=2.906mA")
    assert amperes(closed, "Z1") == pytest.approx(2.906e-3, rel=1e-3)
    assert volts(closed, "Z1") == pytest.approx(12.0, abs=1e-3)


def test_a_zener_diode_raises_the_threshold():
    """Below its voltage and the LED's next to nothing flows."""
    below, above = (both(f"vs={supply}V&r1=1k&vz=10V")[0] for supply in (10.3, 13))
    assert amperes(below, "LED") < 50e-6
    assert amperes(above, "LED") == pytest.approx((13.0 - 10.0 - VF(1.9e-3)) / 1e3, rel=0.02)


def test_the_voltage_of_a_zener_diode_moves_little_with_the_current():
    drops = [volts(both(f"r1={ohms}&vz=12V")[0], "Z1") for ohms in ("120k", "12k", "1k2")]
    assert drops == sorted(drops)
    assert drops[-1] - drops[0] == pytest.approx(2 * thermal_voltage(ROOM) * math.log(100), rel=0.1)
    assert zener_drop(12.0, 3e-3, 3e-3) == pytest.approx(12.0, rel=1e-12)


@pytest.mark.parametrize("colour", COLOURS)
def test_an_indicator_in_series_takes_the_voltage_of_its_colour(colour):
    closed, _ = both(f"r1=15k&lamp={colour}")
    IF = amperes(closed, "LED")
    assert amperes(closed, "H1") == pytest.approx(IF, rel=1e-9)
    assert volts(closed, "H1") == pytest.approx(float(COLOURS[colour].VF(IF, ROOM)), rel=1e-6)


def test_an_indicator_beside_the_input_leaves_the_led_alone():
    plain, _ = both("in=contact-high&r1=15k&rc=1m")
    closed, opened = both("in=contact-high&r1=15k&rc=1m&lamp=green&lampat=parallel&rh=10k")
    assert amperes(closed, "LED") == pytest.approx(amperes(plain, "LED"), rel=1e-6)
    lamp = amperes(closed, "RH")
    assert lamp == pytest.approx((48.0 - volts(closed, "H1")) / 10e3, rel=1e-6)
    assert volts(closed, "H1") == pytest.approx(float(COLOURS["green"].VF(lamp, ROOM)), rel=1e-6)
    assert abs(amperes(opened, "H1")) < 1e-12


def test_a_resistor_inside_of_the_coupler_is_in_series_with_the_led_and_within_its_bypass():
    closed, _ = both("in=contact-high&r1=12k&ri=390R&rb=2k2")
    IF = amperes(closed, "LED")
    assert volts(closed, "RI") == pytest.approx(390.0 * IF, rel=1e-9)
    assert volts(closed, "RB") == pytest.approx(390.0 * IF + VF(IF), rel=1e-6)
    assert closed.nodes["A"].value - closed.nodes["AI"].value == pytest.approx(390.0 * IF, rel=1e-9)


# ---------------------------------------------------------------- across the LED


@pytest.mark.parametrize("drive", DRIVES.values())
def test_a_filter_capacitor_carries_no_direct_current(drive):
    plain, filtered = both(drive), both(with_option(drive, "cf=1uF"))
    for without, with_it in zip(plain, filtered, strict=True):
        assert with_it.currents["CF"].low == with_it.currents["CF"].high == 0.0
        assert with_it.drops["CF"].value == pytest.approx(volts(with_it, "LED"), abs=1e-12)
        assert amperes(with_it, "LED") == pytest.approx(amperes(without, "LED"), rel=1e-9, abs=1e-12)


def test_an_antiparallel_diode_leaks_only_while_the_led_is_driven_forwards():
    closed, _ = both("r1=15k&ap=diode")
    assert volts(closed, "D3") == pytest.approx(-volts(closed, "LED"), rel=1e-9)
    assert -20e-9 < amperes(closed, "D3") <= 0.0


# ---------------------------------------------------------------- port with a level of its own


def test_a_high_level_below_the_rail_is_kept_at_the_drive_current():
    """VOH counts at the drive current; the port's resistance comes on top."""
    closed, opened = both("in=logic&vs=5V&voh=4V&rport=10m&if=5mA&series=E192")
    assert volts(closed, "P1") == pytest.approx(1.0, abs=2e-3)
    assert amperes(closed, "LED") == pytest.approx(5e-3, rel=0.01)
    assert abs(amperes(opened, "LED")) < 1e-15


@pytest.mark.parametrize("level", ["5V", "4V", "3V", "2.4V"])
def test_a_lower_high_level_drives_less(level):
    closed, _ = both(f"in=logic&vs=5V&voh={level}&r1=470R&if=3mA")
    lacks = 5.0 - float(level[:-1])
    wanted = (5.0 - lacks - volts(closed, "LED")) / 510.0
    assert amperes(closed, "LED") == pytest.approx(wanted, rel=0.06)


def test_a_high_level_below_the_leds_supply_holds_the_led_lit():
    """The LED lies between 5 V and a port that rests at 3 V: 2 V drive it, less its own voltage."""
    closed, opened = both("in=logic&vs=5V&voh=3V&active=low&r1=470R")
    held = amperes(opened, "LED")
    assert held == pytest.approx((5.0 - 3.0 - VF(held)) / 510.0, rel=1e-6)
    assert held > 1e-3
    assert amperes(closed, "LED") == pytest.approx((5.0 - volts(closed, "LED")) / 510.0, rel=1e-6)


def test_a_string_of_diodes_takes_what_the_port_holds():
    held = [amperes(both(f"in=logic&vs=5V&voh=3V&active=low&r1=470R&nd={count}")[1], "LED") for count in range(4)]
    assert held == sorted(held, reverse=True)
    assert held[0] > 1e-3
    assert held[3] < 10e-6


def test_a_high_level_above_the_supply_is_refused():
    problem = problem_of("in=logic&vs=3.3V&voh=5V")
    assert (problem.field, problem.given) == ("voh", "5V")
    assert problem.accepted == "up to 3.3 V, or rail"


def test_there_are_no_parts_of_pins():
    assert problem_of("in=logic&pins=2.5").field == "pins"


# ---------------------------------------------------------------- two-wire sensor


def test_a_two_wire_sensor_feeds_on_the_led_while_it_is_off():
    closed, opened = both("in=two-wire&rb=none&vs=24V&ioff=1.5mA&von=4V&if=6mA&series=E192")
    assert amperes(opened, "LED") == pytest.approx(1.5e-3, rel=1e-6)
    assert volts(closed, "B1") == pytest.approx(4.0, abs=5e-3)
    assert amperes(closed, "LED") == pytest.approx(6e-3, rel=0.01)


def test_its_residual_current_fades_when_nothing_is_left_for_it_to_live_on():
    """It lives on the voltage that the rest of the loop leaves it, a few times half a volt."""
    residual = [amperes(both(f"in=two-wire&rb=none&r1=1k&vs={supply}V")[1], "LED") for supply in (1.5, 2, 3, 28)]
    assert residual == sorted(residual)
    assert residual[0] < 0.6 * 0.8e-3
    assert residual[-1] == pytest.approx(0.8e-3, rel=1e-6)


def test_a_bypass_cures_the_residual_light_without_starving_the_led():
    """0.8 mA through 820 ohm are 0.66 V, at which the LED is dark; lit it gives up 1.16 V over 820 ohm to it."""
    closed, opened = both("in=two-wire&rb=820R&tol=0%25")
    assert volts(opened, "LED") == pytest.approx(0.8e-3 * 820.0, rel=1e-4)
    assert amperes(opened, "LED") < 50e-9
    assert amperes(closed, "RB") == pytest.approx(volts(closed, "LED") / 820.0, rel=1e-9)
    assert amperes(closed, "LED") == pytest.approx(6e-3, rel=0.05)  # R1 was sized with it


def test_either_place_of_the_sensor_is_the_same_loop():
    at_supply, at_return = (both(f"in=two-wire&place={place}") for place in ("supply", "return"))
    for one, other in zip(at_supply, at_return, strict=True):
        assert amperes(one, "LED") == pytest.approx(amperes(other, "LED"), rel=1e-6)
        assert one.nodes["Q"].value != pytest.approx(other.nodes["Q"].value, rel=1e-3)


# ---------------------------------------------------------------- transistor


def test_an_npn_transistor_in_series_saturates():
    closed, opened = both("in=transistor&vs=12V&r1=2k")
    assert 0.02 < volts(closed, "Q1") < 0.1
    assert amperes(closed, "LED") == pytest.approx((12.0 - volts(closed, "LED") - volts(closed, "Q1")) / 2e3, rel=1e-6)
    assert amperes(closed, "R2") == pytest.approx((3.3 - closed.nodes["G"].value) / 10e3, rel=1e-9)
    assert 0.6 < closed.nodes["G"].value < 0.75
    assert 0.0 <= amperes(opened, "LED") < 1e-9


def test_an_npn_transistor_with_too_little_base_current_does_not():
    """A gain of 20 makes at most 20 x 0.26 mA of the base current, not the 10 mA that R1 would let flow."""
    closed, _ = both("in=transistor&vs=12V&r1=1k&hfe=20")
    base = amperes(closed, "R2")
    assert amperes(closed, "LED") == pytest.approx(20 * base, rel=0.1)  # the Early effect adds to it
    assert volts(closed, "Q1") > 3.0


@pytest.mark.parametrize("kind", ["npn", "mosfet"])
def test_across_the_led_a_transistor_lights_it_by_blocking(kind):
    closed, opened = both(f"in=transistor&q={kind}&qat=across&vs=12V&r1=2k")
    lit = (12.0 - volts(closed, "LED")) / 2e3
    assert amperes(closed, "LED") == pytest.approx(lit, rel=1e-6)
    assert closed.nodes["VD"].value == 0.0
    assert opened.nodes["VD"].value == pytest.approx(3.3)
    assert amperes(opened, "Q1") == pytest.approx((12.0 - volts(opened, "Q1")) / 2e3, rel=1e-6)
    assert amperes(opened, "Q1") > lit  # more current flows while the LED is dark
    assert volts(opened, "LED") == pytest.approx(volts(opened, "Q1"), rel=1e-9)
    assert volts(opened, "LED") < 0.1
    assert amperes(opened, "LED") < 1e-12


def test_across_the_led_the_words_of_the_states_are_turned():
    series, across = (scenario_from_query(f"in=transistor&qat={where}").input for where in ("series", "across"))
    assert series.states == {"closed": "transistor on", "open": "transistor off"}
    assert across.states == {"closed": "transistor off", "open": "transistor on"}


def test_a_mosfet_conducts_with_its_on_resistance():
    closed, opened = both("in=transistor&q=mosfet&vs=12V&r1=2k&ron=5R")
    assert volts(closed, "Q1") == pytest.approx(5.0 * amperes(closed, "Q1"), rel=0.02)
    assert amperes(closed, "R2") == pytest.approx(0.0, abs=1e-15)
    assert closed.nodes["G"].value == pytest.approx(3.3)
    assert abs(amperes(opened, "LED")) < 1e-12


def test_a_mosfet_whose_threshold_the_logic_does_not_reach_is_refused():
    problem = problem_of("in=transistor&q=mosfet&vd=1.8V&vth=1.8V")
    assert (problem.field, problem.accepted) == ("vth", "a voltage below 1.8 V")
    assert scenario_from_query("in=transistor&vd=1.8V&vth=2V").input.Vth == 2.0  # which an npn has none of


# ---------------------------------------------------------------- current limiter


def test_a_limited_input_draws_the_same_from_20_to_60_volts():
    currents = [amperes(both(f"in=limited&if=3mA&vs={supply}V")[0], "LED") for supply in (20, 30, 40, 50, 60)]
    assert currents == pytest.approx([3e-3] * 5, rel=1e-3)


def test_below_its_dropout_voltage_a_limited_input_gives_less():
    """At the dropout voltage it lets 95 % through; with nothing left, nothing."""
    closed, _ = both("in=limited&if=3mA&vdo=2.5V&r1=1R&rc=1m&vs=3.63V")
    assert volts(closed, "B2") == pytest.approx(2.5, abs=0.01)
    assert amperes(closed, "LED") == pytest.approx(0.95 * 3e-3, rel=2e-3)
    assert amperes(both("in=limited&vs=1V")[0], "LED") < 0.02 * 3e-3


def test_the_tolerance_of_the_set_current_bounds_it():
    IF = both("in=limited&if=3mA&limtol=20%25")[0].currents["LED"]
    assert (IF.low, IF.high) == pytest.approx((2.4e-3, 3.6e-3), rel=1e-3)


def test_the_limiter_takes_the_power_of_what_it_keeps():
    closed, _ = both("in=limited&if=3mA&vs=36V")
    assert closed.powers["B2"].value == pytest.approx(volts(closed, "B2") * 3e-3, rel=1e-3)
    assert closed.powers["B2"].rating == 0.5


# ---------------------------------------------------------------- driver by its table

TABLE = "0V 10mA, 6V 8mA, 12V 5mA, 15V 0mA"


def measured(table, more=""):
    return f"in=measured&vi={quote(table)}{more}"


@pytest.mark.parametrize(("V", "milliamperes"), [(6.0, 8.0), (12.0, 5.0)])
def test_a_driver_passes_through_the_points_of_its_table(V, milliamperes):
    current = milliamperes * 1e-3
    ohms = (V - VF(current)) / current
    closed, opened = both(measured(TABLE, f"&r1={ohms:.6f}"))
    assert closed.nodes["VS"].value == pytest.approx(V, rel=1e-6)
    assert amperes(closed, "VS") == pytest.approx(current, rel=1e-6)
    assert abs(amperes(opened, "LED")) < 1e-15


def test_between_its_points_a_driver_is_straight():
    closed, _ = both(measured(TABLE, "&r1=1k3"))
    V, current = closed.nodes["VS"].value, amperes(closed, "VS")
    assert 6.0 < V < 12.0
    assert current == pytest.approx(8e-3 - 3e-3 * (V - 6.0) / 6.0, rel=1e-9)


def test_the_ends_of_a_table_are_reached():
    shorted, _ = both(measured(TABLE, "&r1=1R"))
    assert amperes(shorted, "VS") == pytest.approx(10e-3 - 2e-3 * shorted.nodes["VS"].value / 6.0, rel=1e-9)
    idle, _ = both(measured(TABLE, "&r1=100M"))
    assert idle.nodes["VS"].value == pytest.approx(15.0, abs=1e-3)


def test_the_tolerance_of_a_driver_stretches_its_voltages():
    VS = both(measured(TABLE, "&r1=10M&vstol=20%25"))[0].nodes["VS"]
    assert (VS.low, VS.high) == pytest.approx((12.0, 18.0), rel=1e-3)


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        ("", "there are 1 pairs"),
        ("24V 0A", "there are 1 pairs"),
        ("24V 0A, 20V", "'20V' is not a voltage and a current"),
        ("24V 0A, 0V much", "'much' is not a number"),
        ("24V 0A, 0A 10mA", "'A' is not a unit"),
        ("24V 0A, 5V 10mA", "the current into a short, at 0 V, is missing"),
        ("24V 1mA, 0V 10mA", "the voltage without load, at 0 A, is missing"),
        ("24V 0A, 12V 12mA, 0V 10mA", "the current does not fall as the voltage rises"),
        ("24V 0A, 12V 1mA, 12V 2mA, 0V 10mA", "the current does not fall as the voltage rises"),
        ("2000V 0A, 0V 10mA", "a voltage is not within 0 to 1 kV"),
        ("24V 0A, 0V 20A", "a current not within 0 to 10 A"),
        (", ".join(f"{k}V 0A" for k in range(1, 30)), "there are 29 pairs"),
    ],
)
def test_a_table_that_cannot_be_is_refused_at_its_field(table, reason):
    problem = problem_of(measured(table))
    assert problem.field == "vi"
    assert reason in problem.reason
    assert problem.accepted


@pytest.mark.parametrize("table", ["x" * 400, "\0" * 50, "1e999V 0A, 0V 1A", "nanV 0A, 0V nanA", "0V 0A, 0V 0A"])
def test_a_hostile_table_is_refused_at_its_field(table):
    assert problem_of(measured(table)).field == "vi"
    assert len(problem_of(measured(table)).given) <= 60
