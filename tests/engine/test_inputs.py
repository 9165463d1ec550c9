"""Input sides alone: what drives the LED in either state, by hand."""

import pytest

from engine import INPUTS, operating_point, scenario_from_query
from engine.coupler import calibrated
from tests.stages import kinds

PLAIN = [kind for kind in kinds() if kind not in ("limited", "measured")]
"""Drives that are a supply and a resistor, as good as."""


def both(query):
    states = operating_point(scenario_from_query(query)).states
    return states["closed"], states["open"]


def nominal(state, symbol):
    return state.quantities[symbol].value


def test_the_default_comes_first():
    assert next(iter(INPUTS)) == "contact-low"


@pytest.mark.parametrize("kind", INPUTS)
def test_a_kind_carries_its_own_name_and_words(kind):
    side = INPUTS[kind]
    assert side.kind == kind
    assert side().states.keys() == {"closed", "open"}
    assert side.title
    assert {"R1", "LED"} <= set(side().loop)
    assert side.switch_part in operating_point(scenario_from_query(f"in={kind}")).states["closed"].currents


@pytest.mark.parametrize("kind", ["contact-low", "contact-high"])
def test_a_contact_that_is_open_lets_nothing_flow(kind):
    closed, open_ = both(f"in={kind}&r1=10k")
    assert nominal(closed, "IF") == pytest.approx((48 - nominal(closed, "VF")) / 10000.1, rel=1e-9)
    assert abs(nominal(open_, "IF")) < 1e-15
    assert open_.drops["S1"].value == pytest.approx(48.0, abs=1e-6)
    assert open_.drops["R1"].value == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("kind", ["contact-low", "contact-high"])
def test_contact_and_line_count_in_the_loop(kind):
    closed, _ = both(f"in={kind}&r1=1k&rc=50R&line=200R&vs=12V")
    IF, VF = nominal(closed, "IF"), nominal(closed, "VF")
    assert IF == pytest.approx((12 - VF) / 1250, rel=1e-9)
    assert closed.drops["S1"].value == pytest.approx(50 * IF, rel=1e-9)
    assert closed.drops["RW"].value == pytest.approx(200 * IF, rel=1e-9)


@pytest.mark.parametrize("kind", ["contact-low", "contact-high"])
def test_leakage_of_an_open_contact_flows_through_the_led(kind):
    _, open_ = both(f"in={kind}&r1=10k&leak=100k")
    IF, VF = nominal(open_, "IF"), nominal(open_, "VF")
    assert IF == pytest.approx((48 - VF) / 110e3, rel=1e-9)
    assert 0.9 < VF < 1.1


@pytest.mark.parametrize("kind", ["contact-low", "contact-high"])
def test_leakage_lies_across_the_contact_when_it_is_closed_too(kind):
    closed, _ = both(f"in={kind}&r1=100R&rc=10k&leak=10k&vs=24V")
    assert nominal(closed, "IF") == pytest.approx((24 - nominal(closed, "VF")) / 5100, rel=1e-9)


@pytest.mark.parametrize("kind", ["contact-low", "contact-high"])
def test_an_automatic_resistor_heeds_the_leakage_across_the_contact(kind):
    point = operating_point(scenario_from_query(f"in={kind}&rc=10k&leak=10k&if=2mA&series=E192"))
    assert point.sized["R1"].exact == pytest.approx(
        (48 - float(calibrated("general").led.VF(2e-3, 298.15))) / 2e-3 - 5000, rel=1e-9
    )


def test_both_positions_of_the_contact_drive_alike():
    low, high = (both(f"in={kind}&r1=4k7&line=10R")[0] for kind in ("contact-low", "contact-high"))
    assert nominal(low, "IF") == pytest.approx(nominal(high, "IF"), rel=1e-12)


def test_the_led_lies_where_the_contact_is_not():
    low, high = both("in=contact-low&r1=10k")[1], both("in=contact-high&r1=10k")[1]
    assert low.nodes["A"].value == pytest.approx(48.0, abs=1e-6)
    assert low.nodes["K"].value == pytest.approx(48.0, abs=1e-6)
    assert high.nodes["A"].value == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("active", ["high", "low"])
def test_a_port_drives_through_its_resistance(active):
    closed, open_ = both(f"in=logic&vs=5V&r1=470R&rport=60R&active={active}")
    IF, VF = nominal(closed, "IF"), nominal(closed, "VF")
    assert IF == pytest.approx((5 - VF) / 530, rel=1e-9)
    assert closed.drops["P1"].value == pytest.approx(60 * IF, rel=1e-9)
    assert abs(nominal(open_, "IF")) < 1e-15


@pytest.mark.parametrize(("active", "lit", "dark"), [("high", 5.0, 0.0), ("low", 0.0, 5.0)])
def test_a_port_sits_at_one_rail_or_the_other(active, lit, dark):
    closed, open_ = both(f"in=logic&vs=5V&r1=1M&active={active}")
    assert closed.nodes["P"].value == pytest.approx(lit, abs=1e-3)
    assert open_.nodes["P"].value == pytest.approx(dark, abs=1e-9)


@pytest.mark.parametrize("query", ["vs=0V&r1=1k", "in=contact-high&vs=0V&r1=1k", "in=logic&vs=0V&r1=1k"])
def test_no_supply_gives_no_current(query):
    closed, open_ = both(query)
    assert abs(nominal(closed, "IF")) < 1e-15
    assert abs(nominal(open_, "IF")) < 1e-15


@pytest.mark.parametrize("kind", PLAIN)
def test_tolerances_of_supply_and_resistor_bound_the_current(kind):
    found = both(f"in={kind}&vs=100V&vstol=10%25&r1=10k&tol=5%25&rc=1m&rport=10m&von=50m&rb=none&r2=1k")[0].quantities[
        "IF"
    ]
    assert found.low == pytest.approx((90 - 1.3) / 10500, rel=3e-3)
    assert found.high == pytest.approx((110 - 1.1) / 9500, rel=3e-3)


SENSORS = ["sinking", "sourcing"]


@pytest.mark.parametrize("kind", SENSORS)
@pytest.mark.parametrize("celsius", [-40, 25, 100])
def test_a_sensor_keeps_its_drop_at_the_drive_current(kind, celsius):
    closed, _ = both(f"in={kind}&vs=24V&if=3mA&von=2.2V&series=E192&ta={celsius}C")
    assert closed.drops["B1"].value == pytest.approx(2.2, abs=2e-3)
    assert nominal(closed, "IF") == pytest.approx(3e-3, rel=1e-2)
    assert closed.currents["B1"].value == pytest.approx(nominal(closed, "IF"), rel=1e-9)


@pytest.mark.parametrize("kind", SENSORS)
def test_the_drop_of_a_sensor_hardly_goes_with_the_current(kind):
    drops = [both(f"in={kind}&von=1.5V&r1={ohms}")[0].drops["B1"].value for ohms in ("1k2", "12k", "120k")]
    assert drops == sorted(drops, reverse=True)
    assert drops[0] - drops[-1] < 0.3


@pytest.mark.parametrize("kind", SENSORS)
def test_what_a_sensor_leaks_flows_through_the_led(kind):
    _, open_ = both(f"in={kind}&ioff=80uA")
    assert nominal(open_, "IF") == pytest.approx(80e-6, rel=1e-9)
    assert open_.currents["B1"].value == pytest.approx(80e-6, rel=1e-9)
    _, clean = both(f"in={kind}&ioff=0A")
    assert abs(nominal(clean, "IF")) < 1e-13


@pytest.mark.parametrize("kind", SENSORS)
def test_a_sensor_without_enough_supply_gives_little_and_never_drives_backwards(kind):
    closed, open_ = both(f"in={kind}&vs=2V&von=1.5V&r1=1k")
    assert 0.0 <= nominal(closed, "IF") < 20e-6
    assert 0.0 <= nominal(open_, "IF") <= 10.001e-6
