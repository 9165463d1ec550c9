"""Load lines, characteristics and sweeps against published designs."""

from dataclasses import replace

import numpy as np
import pytest

from engine import (
    Coupling,
    Scenario,
    characteristics_of,
    load_card,
    pack_card,
    room_over,
    scenario_from_query,
    sweep_of,
)

VAN02 = "Vishay, Optocouplers and Solid-State Relays, Application Note 02, doc. 83741 rev. 1.4, 2011, "
TOSHIBA = "Toshiba e-learning, How to use a photocoupler, chap. 5-13 and 5-15: "
EXACT = "&tol=0%25&vcctol=0%25&vstol=0%25"


def with_card(scenario: Scenario, **lines) -> Scenario:
    """Return a stage whose coupler is the general one with some lines of its own."""
    own = pack_card(replace(load_card("general"), **lines))
    return replace(scenario, coupling=Coupling(card="own", own=own))


def at(x, y, wanted):
    """Return where a falling or rising curve passes a value."""
    rising = np.argsort(y)
    return float(np.interp(wanted, np.asarray(y)[rising], np.asarray(x)[rising]))


# ---------------------------------------------------------------- load lines


@pytest.mark.source(
    VAN02 + "Ex. 2: (VCC - VIL)/(IC - IIL), 5 V, 0.8 V, 8 mA, 1.6 mA: RL 656 ohm; 0.5 V, 4 mA: 1875 ohm"
)
@pytest.mark.parametrize(("VCE", "milliamperes", "RL"), [(0.8, 8.0, 656.0), (0.5, 4.0, 1875.0)])
def test_a_load_line_with_the_current_of_a_receiver(VCE, milliamperes, RL):
    found = characteristics_of(scenario_from_query(f"vcc=5V&logic=ttl&rl={RL:g}R{EXACT}"))
    assert np.interp(VCE, found.V, found.line_high) == pytest.approx(milliamperes * 1e-3, rel=1e-3)


@pytest.mark.source(VAN02 + "Ex. 1: RL 390 ohm to common, VIH 2.4 V, 5 V: IC above 6.15 mA")
def test_a_load_line_of_an_emitter_resistor():
    found = characteristics_of(scenario_from_query(f"out=pull-down&vcc=5V&iin=0A&logic=hct&rl=390R{EXACT}"))
    assert np.interp(5.0 - 2.4, found.V, found.line) == pytest.approx(6.15e-3, abs=0.005e-3)


@pytest.mark.no_source("common practice: a load line goes from VCC to VCC over RL")
@pytest.mark.parametrize(("VCC", "RL"), [(5.0, 1e3), (12.0, 4.7e3), (24.0, 10e3)])
def test_ends_of_a_load_line(VCC, RL):
    found = characteristics_of(scenario_from_query(f"vcc={VCC}V&rl={RL}&iin=0A&logic=cmos4000&vil=1V&vih=2V{EXACT}"))
    assert (found.V_open, found.I_short) == pytest.approx((VCC, VCC / RL), rel=1e-6)
    middle = np.interp(VCC / 2, found.V, found.line)
    assert middle == pytest.approx(VCC / 2 / RL, rel=1e-6)


# ---------------------------------------------------------------- characteristics


@pytest.mark.source(TOSHIBA + "CTR 200 %: IC 10 mA at IF 5 mA, 20 mA at IF 10 mA (VCE 5 V, 25 degC)")
def test_characteristics_of_a_sample_with_a_ratio_of_200_percent():
    flat = tuple((IF, 1.0) for IF, _ in load_card("general").CTR_shape)
    query = f"in=contact-high&vs=10V&if=5mA&series=E192&vcc=10V&logic=cmos4000&rl=270R&rlw=1W{EXACT}"
    stage = with_card(scenario_from_query(query), CTR_typ=2.0, CTR_max=3.0, CTR_shape=flat)
    found = characteristics_of(stage)
    lit = found.meetings[0].IF
    assert lit == pytest.approx(5e-3, rel=0.01)
    for share, IC in ((1.0, 10e-3), (2.0, 20e-3)):
        curve = next(curve for IF, curve in found.family if IF == pytest.approx(share * lit))
        assert np.interp(5.0, found.V, curve) * 5e-3 / lit == pytest.approx(IC, abs=0.5e-3)


@pytest.mark.source(TOSHIBA + "rank GR, 100 to 300 %: IC 10 to 30 mA at IF 10 mA")
def test_what_the_ends_of_a_rank_could_give():
    flat = tuple((IF, 1.0) for IF, _ in load_card("general").CTR_shape)
    query = f"in=contact-high&vs=10V&if=10mA&series=E192&vcc=10V&logic=cmos4000&rl=10k{EXACT}"
    stage = with_card(scenario_from_query(query), CTR_min=1.0, CTR_typ=2.0, CTR_max=3.0, CTR_shape=flat)
    (low, high), specimen = room_over(stage, points=3).bin, room_over(stage, points=3).specimen
    assert (low, specimen, high) == (1.0, 2.0, 3.0)
    sweep = sweep_of(stage, "ctr", low, high, 3)
    IF, IC = (sweep.series("closed", name).value for name in ("IF", "IC_available"))
    for k, wanted in ((0, 10e-3), (2, 30e-3)):
        assert IC[k] * 10e-3 / IF[k] == pytest.approx(wanted, rel=0.01)


# ---------------------------------------------------------------- sweeps


@pytest.mark.source(VAN02 + "Ex. 2: 5 V, ICEO 0.2 uA, IIH 40 uA: RL below 74.6 kohm for 2 V, below 64.7 kohm for 2.4 V")
@pytest.mark.parametrize(("VIH", "kilohms"), [(2.0, 74.6), (2.4, 64.7)])
def test_largest_load_resistor_by_a_sweep(VIH, kilohms):
    scenario = with_card(scenario_from_query(f"vcc=5V&logic=ttl{EXACT}"), ICEO_max=200e-9, ICEO_VCE=VIH)
    sweep = sweep_of(scenario, "rl", 50e3, 90e3, 41)
    assert at(sweep.x, sweep.series("open", "VOUT").low, VIH) == pytest.approx(kilohms * 1e3, abs=50.0)


@pytest.mark.source(
    "Fairchild 6N137 data sheet, rev. 1.0.8, recommended operating conditions: threshold 5.0 mA, 20 % of loss, 6.3 mA"
)
def test_least_drive_by_a_sweep():
    # 5 mA over 0.8 is 6.25 mA, which the sheet prints as 6.3 mA.
    scenario = scenario_from_query(f"coupler=fast-gate&in=contact-high&vs=5V&r1=560R&vcc=5V&logic=hct&years=10{EXACT}")
    assert scenario.coupling.data.IF_on == 5e-3
    sweep = sweep_of(scenario, "r1", 400.0, 700.0, 41)
    times, IF = (sweep.series("closed", name).low for name in ("overdrive", "IF"))
    assert float(np.interp(1.0, times[::-1], IF[::-1])) == pytest.approx(6.3e-3, abs=0.05e-3)


SHAPE = {0.1e-3: 1.05, 0.2e-3: 2.0, 0.5e-3: 3.7, 1e-3: 5.45, 2.4e-3: 6.8, 5e-3: 4.4, 10e-3: 2.9}
"""Transfer ratio over LED current of a typical sample: read off Sharp's Fig. 6."""


@pytest.mark.source(
    "Sharp PC817X Series data sheet, D2-A03101EN, Fig. 6 (graph, +/-8 %): CTR over IF, VCE 5 V, 25 degC"
)
@pytest.mark.parametrize("withheld", [0.2e-3, 1e-3])
def test_transfer_ratio_over_drive_by_a_sweep(withheld):
    """A card that lacks one of the published points foretells it."""
    shape = tuple((IF, ratio / SHAPE[5e-3]) for IF, ratio in SHAPE.items() if IF != withheld)
    query = f"in=contact-high&vs=48V&vcc=10V&logic=cmos4000&rl=270R&rlw=1W&series=E192{EXACT}"
    stage = with_card(scenario_from_query(query), CTR_typ=4.4, CTR_max=8.0, CTR_shape=shape)
    sweep = sweep_of(stage, "if", 0.1e-3, 10e-3, 61, "log")
    IF, ratio = (np.array(sweep.series("closed", name).value) for name in ("IF", "CTR_available"))
    for current, published in SHAPE.items():
        if IF[0] <= current <= IF[-1]:
            assert np.interp(current, IF, ratio) == pytest.approx(published, rel=0.08 if current == withheld else 0.02)
    assert 1.5e-3 < IF[ratio.argmax()] < 3.5e-3
