"""From scenario to batch: which factor goes where."""

from itertools import product

import numpy as np
import pytest

from engine import INPUTS, OUTPUTS, Conditions, Coupling, Scenario, ScenarioError, load_card
from engine.build import FACTORS, build
from engine.circuit import Detector
from engine.inputs import ContactHigh, ContactLow, LogicOutput
from engine.outputs import Indicator, PullDown, PullUp

STAGE = Scenario(
    input=ContactLow(VS=24.0, VS_tolerance=0.1, R1=2200.0),
    output=PullUp(VCC=5.0, VCC_tolerance=0.04, RL=1000.0),
    conditions=Conditions(tolerance=0.05),
)
CORNERS = 1 + 2**4 + 2 * 2**4 - 4  # four of the input side's are among the output side's
FIRST, SECOND = slice(0, CORNERS), slice(CORNERS, None)


def batch_of(**parts):
    return build(Scenario(**parts))


def values_of(array):
    """Return the distinct values of an array, to nine digits."""
    return sorted({float(f"{value:.9g}") for value in array})


def conductances(netlist, part):
    return [r for r in netlist.resistors if r.part == part]


def test_a_state_has_the_nominal_stage_and_the_corners_of_either_side():
    assert len(FACTORS) == 7
    stage = build(STAGE)
    assert stage.count == CORNERS
    assert stage.netlist.batch == 2 * CORNERS
    assert len(stage.VCC) == len(stage.RL) == len(stage.CTR) == CORNERS


def test_the_nominal_stage_comes_first_and_has_no_deviation():
    stage = build(STAGE)
    assert (stage.VCC[0], stage.RL[0], stage.CTR[0]) == (5.0, 1000.0, 1.1)
    for k in (0, CORNERS):
        assert stage.netlist.sources["VS"][1][k] == 24.0
        assert stage.netlist.sources["VCC"][1][k] == 5.0
        (R1,), (RL,) = conductances(stage.netlist, "R1"), conductances(stage.netlist, "RL")
        assert (1 / R1.G[k], 1 / RL.G[k]) == pytest.approx((2200.0, 1000.0))


def test_every_combination_of_the_factors_of_a_side_is_among_the_corners():
    stage = build(STAGE)
    VS, VCC = (stage.netlist.sources[part][1][FIRST] for part in ("VS", "VCC"))
    R1, RL = (1 / conductances(stage.netlist, part)[0].G[FIRST] for part in ("R1", "RL"))

    def rows(*columns):
        return {tuple(float(f"{x:.6g}") for x in row) for row in zip(*columns, strict=True)}

    ends = {"VS": (21.6, 26.4), "R1": (2090.0, 2310.0), "CTR": (0.8, 1.6), "VCC": (4.8, 5.2), "RL": (950.0, 1050.0)}
    of_input = product(ends["VS"], ends["R1"], ends["CTR"])
    assert rows(VS, R1, stage.CTR) == {(24.0, 2200.0, 1.1), *of_input}
    for strongest in (True, False):
        drive = (VS == VS.max()) & (R1 == R1.min()) if strongest else (VS == VS.min()) & (R1 == R1.max())
        of_output = product(ends["CTR"], ends["VCC"], ends["RL"])
        assert rows(stage.CTR[drive], VCC[drive], RL[drive]) == set(of_output)


def test_a_tolerance_moves_its_own_factor_alone():
    rigid = {"conditions": Conditions(tolerance=0.0)}
    supply = batch_of(input=ContactLow(VS_tolerance=0.2, R1=1e3), output=PullUp(VCC_tolerance=0.0), **rigid)
    assert values_of(supply.netlist.sources["VS"][1]) == pytest.approx([38.4, 48.0, 57.6])
    assert values_of(supply.netlist.sources["VCC"][1]) == [3.3]
    assert values_of(1 / conductances(supply.netlist, "R1")[0].G) == [1000.0]
    assert values_of(supply.RL) == [4700.0]
    resistors = batch_of(
        input=ContactLow(VS_tolerance=0.0, R1=1e3),
        output=PullUp(VCC_tolerance=0.0),
        conditions=Conditions(tolerance=0.1),
    )
    assert values_of(resistors.netlist.sources["VS"][1]) == [48.0]
    assert values_of(1 / conductances(resistors.netlist, "R1")[0].G) == pytest.approx([900.0, 1000.0, 1100.0])
    assert values_of(resistors.RL) == pytest.approx([4230.0, 4700.0, 5170.0])


def test_the_transfer_ratio_has_the_ends_of_its_bin():
    assert values_of(batch_of(coupling=Coupling()).CTR) == [0.8, 1.1, 1.6]
    assert values_of(batch_of(coupling=Coupling(CTR=0.9, CTR_min=0.5, CTR_max=2.0)).CTR) == [0.5, 0.9, 2.0]
    assert values_of(batch_of(coupling=Coupling(CTR=3.0)).CTR) == [0.8, 3.0]


def test_the_dark_current_goes_with_the_transfer_ratio():
    stage = build(STAGE)
    detector = next(d for d in stage.netlist.devices if isinstance(d, Detector))
    dark = detector.params.I_dark[FIRST]
    card = load_card("general")
    most = stage.CTR == 1.6
    assert values_of(dark[most] / dark[0]) == pytest.approx([card.ICEO_max / card.ICEO])
    assert values_of(dark[~most] / dark[0]) == [1.0]
    assert (detector.params.I_dark[SECOND] == dark).all()


def test_states_share_everything_but_the_switch():
    stage = build(STAGE)
    netlist = stage.netlist
    for part in ("VS", "VCC"):
        volts = netlist.sources[part][1]
        assert (volts[FIRST] == volts[SECOND]).all()
    for resistor in netlist.resistors:
        same = (resistor.G[FIRST] == resistor.G[SECOND]).all()
        assert same == (resistor.part != "S1")
    (switch,) = conductances(netlist, "S1")
    assert switch.G[FIRST] == pytest.approx(np.full(CORNERS, 10.0))
    assert (switch.G[SECOND] == 0).all()


@pytest.mark.parametrize("kind", INPUTS.values())
@pytest.mark.parametrize("output", OUTPUTS.values())
def test_every_pair_of_sides_is_built_on_two_separate_sides(kind, output):
    netlist = batch_of(input=kind(), coupling=Coupling(card=output.usual_coupler), output=output()).netlist
    assert set(netlist.references) == {"input", "output"}
    assert set(netlist.nodes.values()) == {"input", "output"}
    for resistor in netlist.resistors:
        sides = {netlist.nodes.get(node, node) for node in (resistor.a, resistor.b)}
        assert len(sides & {"input", "return"}) == 0 or len(sides & {"output", "common"}) == 0


def test_the_parts_of_a_stage():
    lit = batch_of(input=ContactHigh(R_line=10.0), output=Indicator()).netlist
    assert {r.part for r in lit.resistors} == {"S1", "RW", "R1", "RL", "D1", "LED"}
    assert {d.part for d in lit.devices} == {"D1", "LED", "U1"}
    driven = batch_of(input=LogicOutput(), output=PullDown()).netlist
    assert {r.part for r in driven.resistors} == {"P1", "R1", "RL", "LED"}
    assert {d.part for d in driven.devices} == {"RX", "LED", "U1"}


def test_what_cannot_be_sized_is_refused():
    with pytest.raises(ScenarioError):
        batch_of(input=ContactLow(VS=1.0))
