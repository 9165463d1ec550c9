"""Sizing of resistors against worked examples."""

import tomllib

import numpy as np
import pytest

from engine import operating_point, scenario_from_query
from engine.circuit import Junction, NetlistBuilder, solve
from engine.devices import JunctionParams
from engine.preferred import preferred
from engine.sizing import series_resistance
from tests.tree import ROOT

EXAMPLES = tomllib.loads((ROOT / "tests/reference/data/series_resistor.toml").read_text())["example"]
KUPHALDT = "T. R. Kuphaldt, Lessons in Electric Circuits, vol. III Semiconductors, ch. 3, Light-emitting diodes"


def sourced(examples):
    return [pytest.param(e, id=e["source"], marks=pytest.mark.source(e["source"])) for e in examples]


@pytest.mark.source("tests/reference/data/series_resistor.toml, a source beside each example")
@pytest.mark.parametrize("example", sourced(EXAMPLES))
def test_series_resistor(example):
    ohms = series_resistance(example["supply"], example["drops"], example["current"])
    assert ohms == pytest.approx(example["ohms"], abs=example.get("within", 1e-6))


@pytest.mark.source("tests/reference/data/series_resistor.toml, a source beside each example")
@pytest.mark.parametrize("example", sourced(e for e in EXAMPLES if "preferred" in e))
def test_series_resistor_rounded(example):
    exact = series_resistance(example["supply"], example["drops"], example["current"])
    assert preferred(exact, example["series"], example["rounding"]) == example["preferred"]


def constant_drop(supply, R, volts):
    """Solve resistors in series with diodes so steep that their drop is as good as constant at 20 mA."""
    IS = 20e-3 * np.exp(-200.0)
    nVT = volts / 200.0
    net = NetlistBuilder(len(R))
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", supply)
    net.resistor("R1", "VS", "A", np.array(R))
    params = JunctionParams(np.full(len(R), IS), np.full(len(R), nVT))
    net.device(Junction("LED", "A", "return", params, np.full(len(R), volts)))
    return solve(net.build()).source_currents["VS"]


@pytest.mark.source(KUPHALDT)
@pytest.mark.parametrize(("supply", "ohms", "watts"), [(6.0, 220.0, 88e-3), (24.0, 1120.0, 448e-3)])
def test_solved_power_of_the_resistor(supply, ohms, watts):
    current = constant_drop(supply, [ohms], 1.6)[0]
    assert current == pytest.approx(20e-3, rel=1e-4)
    assert current**2 * ohms == pytest.approx(watts, rel=1e-3)


@pytest.mark.source(KUPHALDT + ": 1 kohm instead of 1.12 kohm gives slightly more than 20 mA, 1.5 kohm less")
def test_a_preferred_value_moves_the_current():
    more, less = constant_drop(24.0, [1000.0, 1500.0], 1.6)
    assert 20e-3 < more < 1.15 * 20e-3  # 22.4 mA with a constant drop, derived
    assert less == pytest.approx(14.9e-3, abs=0.06e-3)


@pytest.mark.source(KUPHALDT + ": two LEDs back to back share alternating current, each with half the average")
def test_antiparallel_pair_shares_alternating_current():
    # Over a whole cycle each LED conducts in its own half: of 20 mA in the resistor on average, 10 mA each.
    n = 400
    phase = 2 * np.pi * (np.arange(n) + 0.5) / n
    net = NetlistBuilder(n)
    net.side("input", "return", "VS", "A")
    peak = (20e-3 * 1120 * np.pi / 2) + 1.6
    net.source("VS", "VS", peak * np.sin(phase))
    net.resistor("R1", "VS", "A", 1120.0)
    params = JunctionParams(np.full(n, 1e-30), np.full(n, 1.6 / np.log(20e-3 / 1e-30)))
    for anode, cathode in (("A", "return"), ("return", "A")):
        net.device(Junction("LED", anode, cathode, params, np.full(n, 0.0)))
    solution = solve(net.build())
    forward, backward = (currents[:, 0] for currents in solution.device_currents)
    total = np.abs(solution.source_currents["VS"]).mean()
    assert forward.mean() == pytest.approx(total / 2, rel=1e-9)
    assert backward.mean() == pytest.approx(total / 2, rel=1e-9)
    assert total == pytest.approx(20e-3, rel=0.05)


@pytest.mark.no_source("common practice")
def test_twelve_volts_ten_milliamperes():
    exact = series_resistance(12.0, 1.5, 10e-3)
    assert exact == pytest.approx(1050.0)
    assert preferred(exact, "E12") == 1000.0
    assert preferred(exact, "E24") == 1000.0


@pytest.mark.no_source("common practice: a saturated output is near 0 V")
@pytest.mark.parametrize("query", ["", "in=contact-high", "in=logic", "vcc=5V&rl=10k&logic=cmos"])
def test_a_saturated_output_is_near_zero(query):
    closed = operating_point(scenario_from_query(query)).states["closed"]
    assert closed.quantities["overdrive"].low > 2
    assert 0.0 < closed.quantities["VOUT"].value < 0.2


@pytest.mark.source("Electrical engineering questions and answers, TLP621-4, 5 V to a 3.3 V port (community answer)")
def test_five_volt_switch_into_a_port():
    # 760 ohm give 5 mA; a CTR of 120 % makes 6 mA of it.
    assert series_resistance(5.0, 1.2, 5e-3) == pytest.approx(760.0)
    assert 1.20 * 5e-3 == pytest.approx(6e-3)
    point = operating_point(scenario_from_query("in=contact-high&vs=5V&if=5mA&ctr=120%25&vcc=5V&rl=1&rlw=1W"))
    closed = point.states["closed"].quantities
    # A load of 1 ohm leaves the test voltage across the detector, so the current is CTR x IF.
    assert closed["IC"].value / closed["IF"].value == pytest.approx(1.20, rel=0.005)
