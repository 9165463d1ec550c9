"""Output sides with a life of their own: options of receivers, controller inputs, relays, gates, dc and ac loads."""

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from engine import OUTPUTS, ScenarioError, findings_of, load_card, operating_point, scenario_from_query
from engine.build import build
from engine.circuit import solve
from engine.coupler import CARD_FAMILIES, card_names
from engine.devices import LimitedInputParams, limited_input, voltage_at
from engine.outputs.controller import TYPES
from engine.outputs.half_cycle import HalfCycle, snubber_current
from engine.outputs.relay import Decay, winding
from engine.pairing import ACCEPTED, WHY, cards_for, output_for
from tests.property.test_solver import imbalance, left_over
from tests.stages import DRIVES

ENOUGH = {"gate": "10mA", "dc-load": "10mA", "ac-load": "20mA", "ac-triac": "20mA"}
PAIRS = [(kind, card) for kind in OUTPUTS for card in cards_for(kind)]
DRIVEN = ("contact-low", "sourcing", "port low", "npn across")


def states(query):
    found = operating_point(scenario_from_query(query)).states
    return found["closed"], found["open"]


def refusal(query):
    with pytest.raises(ScenarioError) as caught:
        scenario_from_query(query)
    (problem,) = caught.value.problems
    return problem


# ---------------------------------------------------------------- all of them


@pytest.mark.parametrize("drive", DRIVEN)
@pytest.mark.parametrize(("kind", "card"), PAIRS)
def test_the_laws_hold_for_every_coupler_on_every_output_side_that_takes_it(drive, kind, card):
    query = f"{DRIVES[drive]}&out={kind}&coupler={card}&if={ENOUGH.get(kind, '3mA')}"
    netlist = build(scenario_from_query(query)).netlist
    solution = solve(netlist)
    assert left_over(solution) < 1
    assert imbalance(netlist, solution) < 1


@pytest.mark.parametrize(("kind", "card"), PAIRS)
def test_a_driven_coupler_switches_its_output_side(kind, card):
    drive = "10mA" if load_card(card).family != "opto-triac" else "20mA"
    supply = "&vcc=5V&rl=3k3" if card == "fast-gate" else ""
    lit, dark = states(f"out={kind}&coupler={card}&if={drive}{supply}")
    load = OUTPUTS[kind]()
    assert (lit.verdict.level, dark.verdict.level) == (load.level_when_lit, load.level_when_dark)


@pytest.mark.parametrize("kind", ["controller", "relay"])
def test_transistor_stages_as_they_are_offered_hold_at_every_corner(kind):
    findings = findings_of(operating_point(scenario_from_query(f"out={kind}")))
    assert [finding.code for finding in findings if finding.severity != "pass"] == []


# ---------------------------------------------------------------- pairing


def test_every_pair_is_taken_or_told_why_not():
    pairs = {(kind, family) for kind in OUTPUTS for family in CARD_FAMILIES}
    taken = {(kind, family) for kind, families in ACCEPTED.items() for family in families}
    assert taken | WHY.keys() == pairs
    assert not taken & WHY.keys()


@pytest.mark.parametrize(("kind", "family"), WHY)
def test_a_pair_that_does_not_go_together_is_refused_at_the_coupler(kind, family):
    card = next(name for name in card_names() if load_card(name).family == family)
    problem = refusal(f"out={kind}&coupler={card}&rl=1k")
    assert (problem.field, problem.reason) == ("coupler", WHY[kind, family])
    assert problem.accepted == f"one of {', '.join(cards_for(kind))}"


@pytest.mark.parametrize("kind", OUTPUTS)
def test_the_usual_coupler_goes_without_saying(kind):
    scenario = scenario_from_query(f"out={kind}&rl=1k")
    assert scenario.coupling.card == OUTPUTS[kind].usual_coupler
    assert scenario.coupling.data.family in ACCEPTED[kind]


@pytest.mark.parametrize("family", CARD_FAMILIES)
def test_every_family_has_an_output_side(family):
    assert family in ACCEPTED[output_for(family).kind]


# ---------------------------------------------------------------- receivers


def test_a_receivers_own_resistance_divides_the_dark_output():
    _, dark = states("rin=10k&iin=0A&ta=0C")
    assert dark.quantities["VOUT"].value == pytest.approx(3.3 * 10e3 / 14.7e3, rel=1e-3)


def test_a_ports_pull_up_is_a_range_that_adds_to_what_the_detector_sinks():
    lit, _ = states("rpumin=20k&rpumax=60k&tol=0%25&vcctol=0%25")
    V = lit.quantities["VCE"]
    assert lit.currents["RPU"].low == pytest.approx((3.3 - V.high) / 60e3, rel=0.01)
    assert lit.currents["RPU"].high == pytest.approx((3.3 - V.low) / 20e3, rel=0.01)
    assert lit.quantities["IC"].value == pytest.approx(lit.currents["RL"].value + lit.currents["RPU"].value, rel=1e-6)


@pytest.mark.parametrize(
    ("query", "field"),
    [("rpumin=20k", "rpumax"), ("rpumax=20k", "rpumin"), ("rpumin=60k&rpumax=20k", "rpumin"),
     ("swap=yes&coupler=photo-relay", "swap"), ("swap=yes&coupler=with-base&rbe=100k", "swap")],
)  # fmt: skip
def test_receivers_that_cannot_be(query, field):
    assert refusal(query).field == field


def test_what_a_stage_delivers_while_dark():
    """To 2.0 V from 3.3 V through 1 k: 1.3 mA; pulled down, 0.8 V across 1 k: 0.8 mA; into 10 k, what is solved."""
    fixed = "rl=1k&tol=0%25&vcctol=0%25&ta=-20C&iin=0A&ineed=1uA"
    for query, expected in (("", 1.3e-3), ("&out=pull-down", 0.8e-3), ("&rin=10k", 3.3 / 11e3)):
        _, dark = states(fixed + query)
        assert dark.quantities["I_delivered"].value == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("kind", ["pull-up", "pull-down"])
def test_a_detector_turned_round_hardly_conducts(kind):
    right, wrong = (states(f"out={kind}&swap={swap}")[0].quantities for swap in ("no", "yes"))
    assert abs(wrong["IC"].value) < 0.2 * right["IC"].value
    assert wrong["IC"].value < 0 < right["IC"].value
    assert wrong["VCE"].value < -1.0


# ---------------------------------------------------------------- controller inputs


@pytest.mark.parametrize("name", TYPES)
@pytest.mark.parametrize("share", [0.8, 1.0, 1.2])
def test_an_input_of_our_own_lies_within_the_regions_of_its_type(name, share):
    limits = TYPES[name]
    params = LimitedInputParams(
        np.full(1, limits.V_knee), np.full(1, limits.R / share), np.full(1, limits.I_limit * share)
    )
    assert limited_input(np.array([limits.V_on]), params)[0] >= limits.I_on
    assert limited_input(np.array([limits.V_most]), params)[0] <= limits.I_most


def test_the_curve_of_an_input_rises_and_is_inverted():
    params = LimitedInputParams(np.full(60, 3.5), np.full(60, 2200.0), np.full(60, 2.7e-3))
    volts = np.linspace(-3.0, 30.0, 60)
    current, slope = limited_input(volts, params)
    assert (slope > 0).all()
    step = 1e-6
    assert (limited_input(volts + step, params)[0] - current) / step == pytest.approx(slope, rel=1e-3, abs=1e-12)
    wanted = np.linspace(1e-5, 2.65e-3, 60)
    assert limited_input(voltage_at(wanted, params), params)[0] == pytest.approx(wanted, rel=1e-3)
    assert np.isinf(voltage_at(2.7e-3, params)).all()


@pytest.mark.parametrize("flow", ["sinking", "sourcing"])
@pytest.mark.parametrize("name", TYPES)
def test_a_lit_stage_by_bracketing(flow, name):
    """What the detector leaves of the supply, through RL and the input, worked out alone."""
    lit, _ = states(f"out=controller&flow={flow}&itype={name}&rl=470R")
    limits = TYPES[name]

    def current(V):
        u = 0.15 * math.log1p(math.exp((V - limits.V_knee) / 0.15)) / limits.R
        return u / (1 + (u / limits.I_limit) ** 4) ** 0.25 + 1e-9 * V

    rest = 24.0 - lit.quantities["VCE"].value
    V = brentq(lambda V: current(V) * 470.0 + V - rest, 0.0, rest)
    assert lit.quantities["VIN"].value == pytest.approx(V, rel=1e-6)
    assert lit.quantities["IIN"].value == pytest.approx(current(V), rel=1e-6)


def test_the_verdict_heeds_voltage_and_current():
    """Type 3: on from 11 V with 2 mA, off up to 5 V or below 1.5 mA; own limits and the drop-out come before."""
    load = scenario_from_query("out=controller").output
    low, high = load.limits(np.array([1.0, 0.8]))
    assert high[0] == 11.0
    assert load.characteristic(low, 1.0)[0] == pytest.approx(1.5e-3, rel=1e-4)
    assert high[1] >= 11.0
    own = scenario_from_query("out=controller&uon=13V&uoff=6V&udrop=4V").output
    assert [float(limit[0]) for limit in own.limits(np.ones(1))] == [4.0, 13.0]


@pytest.mark.parametrize(
    ("query", "field"),
    [("uon=5V", "uon"), ("uoff=12V", "uoff"), ("udrop=11V", "udrop"), ("uoff=9V&uon=8V", "uoff")],
)
def test_an_input_cannot_be_on_and_off_at_once(query, field):
    assert refusal(f"out=controller&{query}").field == field


# ---------------------------------------------------------------- relays


def test_copper_has_four_tenths_of_a_per_cent_more_with_every_kelvin():
    assert winding(270.0, 20.0) == 270.0
    assert winding(270.0, 70.0) == pytest.approx(270.0 * (1 + 50 * 0.00393))


@pytest.mark.parametrize("transistor", ["npn", "mosfet"])
def test_a_coil_carries_what_its_winding_lets_flow(transistor):
    lit, dark = states(f"out=relay&kq={transistor}&ta=60C")
    rest = 12.0 - lit.nodes["C2"].value
    assert rest > 11.5
    assert lit.quantities["IK"].value == pytest.approx(rest / winding(270.0, 60.0), rel=1e-6)
    assert dark.quantities["IK"].high < 1e-3
    assert (lit.verdict.level, dark.verdict.level) == ("operated", "released")
    assert lit.verdict.high_limit == pytest.approx(9.0 * (1 + 40 * 0.00393))


@pytest.mark.parametrize("clamp", ["diode", "zener", "resistor", "none"])
def test_the_coil_lets_go_as_its_differential_equation_says(clamp):
    L, R, I0, end = 0.4, 250.0, 44e-3, 2.2e-3
    decay = Decay(L, np.array([R]), np.array([I0]))
    V = {"diode": 0.8, "zener": 18.8}.get(clamp)
    if V is not None:
        time = decay.into_voltage(V, np.array([end]))[0]
        rate = lambda t, y: [-(V + R * y[0]) / L]  # noqa: E731
    elif clamp == "resistor":
        time = decay.into_resistance(680.0, np.array([end]))[0]
        rate = lambda t, y: [-(R + 680.0) * y[0] / L]  # noqa: E731
    else:
        times, peak = decay.into_capacitance(200e-12, np.array([end]))
        time = times[0]
        rate = lambda t, y: [-y[1] / L, y[0] / 200e-12]  # noqa: E731
        assert peak[0] == pytest.approx(I0 * math.sqrt(L / 200e-12))
    start = [I0] if clamp != "none" else [I0, 0.0]
    found = solve_ivp(rate, (0.0, time), start, rtol=1e-10, atol=1e-14)
    assert found.y[0, -1] == pytest.approx(end, rel=1e-5)


def test_a_faster_clamp_costs_voltage():
    found = {
        clamp: states(f"out=relay&clamp={clamp}")[1].quantities for clamp in ("none", "diode", "zener", "resistor")
    }
    order = ["diode", "zener", "resistor", "none"]
    assert sorted(order, key=lambda clamp: found[clamp]["V_peak"].value) == order
    assert found["diode"]["t_release"].value > found["resistor"]["t_release"].value > found["none"]["t_release"].value
    assert found["diode"]["V_peak"].value == pytest.approx(12.8, abs=0.2)
    coil = states("out=relay&clamp=resistor")[0].quantities["IK"].value
    assert found["resistor"]["V_peak"].value == pytest.approx(12.0 + 680.0 * coil, rel=1e-6)


def test_the_transistor_amplifies_the_dark_current_where_nothing_leads_it_past():
    loose, tight = (states(f"out=relay&ta=85C&r3={R}")[1] for R in ("10M", "10k"))
    gain = loose.quantities["IK"].high / loose.quantities["IC"].high
    assert gain > 100
    assert tight.quantities["IK"].high < 1e-4


# ---------------------------------------------------------------- gates


def test_a_gate_stands_on_its_rails():
    lit, dark = states("out=gate&if=10mA&vcc=15V&vee=-8V&vcctol=0%25")
    assert lit.quantities["VG"].value == pytest.approx(15.0, abs=0.1)
    assert dark.quantities["VG"].value == pytest.approx(-8.0, abs=0.1)
    assert (lit.verdict.level, dark.verdict.level) == ("on", "off")


def test_the_lockout_sees_both_rails():
    assert states("out=gate&if=10mA&vcc=9V&vgon=8V")[0].verdict.level == "off"
    assert states("out=gate&if=10mA&vcc=9V&vee=-8V&vgon=8V")[0].verdict.level == "on"


def test_what_switching_asks_of_the_driver():
    lit, _ = states("out=gate&if=10mA&vcc=16V&rl=10R&qg=200nC&fsw=50kHz&tol=0%25&vcctol=0%25&dsw=40%25")
    found, card = lit.quantities, load_card("push-pull")
    assert found["I_peak"].value == pytest.approx((16.0 - card.drop_high) / 10.0)
    whole = 200e-9 * 16.0 * 50e3
    up, down = card.drop_high / card.drop_high_IO, card.VOL / card.VOL_IO
    assert found["P_switch"].value == pytest.approx(whole / 2 * (up / (up + 10) + down / (down + 10)))
    assert found["P_bias"].value == pytest.approx(card.ICC[0] * 16.0**2 / card.ICC[2])
    assert found["P_driver"].value == pytest.approx(found["P_bias"].value + found["P_switch"].value)
    assert found["P_LED"].value == pytest.approx(0.4 * found["IF"].value * found["VF"].value)


# ---------------------------------------------------------------- dc and ac loads


def test_a_dc_load_gets_what_the_relays_resistance_leaves():
    lit, dark = states("out=dc-load&if=10mA&rl=300R&tol=0%25&vcctol=0%25")
    card = load_card("photo-relay")
    assert lit.quantities["IC"].value == pytest.approx(24.0 / (300.0 + card.R_on), rel=1e-4)
    assert lit.powers["U1"].value == pytest.approx(lit.quantities["IC"].value ** 2 * card.R_on, rel=1e-4)
    assert dark.quantities["VOUT"].high == pytest.approx(24.0 / card.leakage_VL * card.leakage_max * 300.0, rel=1e-3)


@pytest.mark.parametrize(("V_on", "V_start"), [(0.0, 0.0), (1.5, 20.0), (1.5, 300.0), (2.0, 400.0)])
def test_half_cycles_against_their_integrals(V_on, V_start):
    peak = 325.27
    half = HalfCycle(np.array([peak]), np.array([V_on]), np.array([V_start]))
    a = math.asin(min(max(V_start, V_on) / peak, 1.0))
    b = math.pi - math.asin(V_on / peak)
    lit = V_start < peak
    square = quad(lambda x: (peak * math.sin(x) - V_on) ** 2, a, b)[0] / math.pi if lit else 0.0
    mean = quad(lambda x: peak * math.sin(x) - V_on, a, b)[0] / math.pi if lit else 0.0
    assert half.V_rms[0] == pytest.approx(math.sqrt(square), rel=1e-6)
    assert half.V_average[0] == pytest.approx(mean, rel=1e-6)
    end = a if lit else math.pi
    magnitude, squared = half.waiting
    assert magnitude[0] == pytest.approx(quad(lambda x: peak * math.sin(x), 0, end)[0] / math.pi, rel=1e-6, abs=1e-12)
    whole = quad(lambda x: (peak * math.sin(x)) ** 2, 0, end)[0] / math.pi
    assert squared[0] == pytest.approx(whole, rel=1e-6, abs=1e-9)


def test_a_small_snubber_leaks_as_its_reactance_lets():
    assert snubber_current(230.0, 50.0, 10e-9, 39.0) == pytest.approx(2 * math.pi * 50 * 10e-9 * 230.0, rel=1e-5)
    assert snubber_current(10.0, 60.0, 88.42e-6, 40.0) == pytest.approx(10.0 / 50.0, rel=1e-3)


def test_an_ac_load_gets_nearly_all_of_the_line_or_what_the_snubber_leaks():
    lit, dark = states("out=ac-load&if=20mA&csn=22nF&rl=3k3&tol=0%25")
    assert lit.quantities["VLOAD"].value == pytest.approx(230.0 - 2.0, abs=1.0)
    reactance = 1 / (2 * math.pi * 50 * 22e-9)
    assert dark.quantities["ILOAD"].value == pytest.approx(230.0 / math.hypot(3300 + 39, reactance), rel=1e-3)
    assert lit.powers["RL"].value == pytest.approx(lit.quantities["VLOAD"].value ** 2 / 3300.0)
    assert sum(power.value for power in lit.powers.values() if power is not lit.powers["VS"]) == pytest.approx(
        sum(lit.powers[part].value for part in ("R1", "S1", "LED")), rel=1e-6
    )


def test_a_larger_triac_is_triggered_where_its_gate_has_its_current():
    lit, dark = states("out=ac-triac&if=20mA&rl=360R&rload=100R&igt=25mA&vgt=1.3V&rgk=1k&tol=0%25")
    gate = 25e-3 + 1.3 / 1e3
    assert lit.quantities["V_trigger"].value == pytest.approx(460.0 * gate + 1.3 + 2.5, abs=0.5)
    assert lit.quantities["angle"].value == pytest.approx(
        math.degrees(math.asin(lit.quantities["V_trigger"].value / (230 * math.sqrt(2))))
    )
    assert dark.quantities["VLOAD"].high < 1.0
    assert lit.powers["Q3"].value == pytest.approx(1.4 * 0.9 * lit.quantities["ILOAD"].value, rel=0.02)


def test_a_zero_crossing_coupler_meets_no_crest():
    random, crossing = (
        states(f"out=ac-triac&if=20mA&coupler={card}")[0].quantities["I_surge"].value
        for card in ("triac-random", "triac-zero")
    )
    assert random > 0.5
    assert crossing < 0.1
