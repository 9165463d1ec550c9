"""What may be wrong with a stage, and the circuits that have it."""

import numpy as np
import pytest

from engine import OUTPUTS, STATES, scenario_from_query
from engine.build import build_all
from engine.circuit import solve
from engine.faults import GOOD, WEIGHTS, faults_of, prior_of
from engine.faulty import faulty
from engine.meter import METERS
from engine.probing import probes_of, read
from engine.sampling import Samples
from tests.stages import DRIVES, OPTIONS, TOGETHER, has_switch, with_option

DIGITAL = METERS["digital"]
COUPLERS = {"pull-up": ("general", "two-way", "with-base&rbe=470k", "fast-gate"), "gate": ("push-pull",)}
LOADS = [
    f"out={kind}&coupler={coupler}"
    for kind, side in OUTPUTS.items()
    if not side.on_line
    for coupler in COUPLERS.get(kind, (side.usual_coupler,))
] + [
    "out=relay&kq=mosfet&clamp=zener", "out=relay&clamp=diode", "out=relay&clamp=resistor", "vcc=5V&logic=ttl",
    "out=controller&flow=sourcing&coupler=cascade", "out=gate&vee=-5V&coupler=push-pull", "rpumin=20k&rpumax=50k",
    "rin=100k", "swap=yes",
]  # fmt: skip


def stage_of(query, samples=0):
    scenario = scenario_from_query(query)
    return scenario, build_all((scenario,), draw=Samples(scenario, 5).take(samples))


def shown(query, fault_id):
    """Return what a digital meter shows at every point of the nominal stage with one fault: (point, state) to volts."""
    scenario, stage = stage_of(query)
    (fault,) = [fault for fault in (GOOD, *faults_of(scenario)) if fault.id == fault_id]
    (batch,) = faulty(stage, [fault])
    probes = probes_of(scenario)
    volts = read(batch.netlist, [(probe.red, probe.black) for probe in probes], DIGITAL)
    return {(p.id, state): volts[k, n] for k, p in enumerate(probes) for n, state in enumerate(STATES)}


# ---------------------------------------------------------------- the list


@pytest.mark.parametrize("query", [*DRIVES.values(), *LOADS])
def test_every_fault_has_a_name_of_its_own_a_weight_and_a_sentence(query):
    faults = faults_of(scenario_from_query(query))
    assert len({fault.id for fault in faults}) == len(faults)
    assert {fault.kind for fault in faults} <= set(WEIGHTS)
    assert all(fault.text[0].isupper() or not fault.text[0].isalpha() for fault in faults)
    assert all(fault.text.endswith(".") and not fault.text.endswith("..") for fault in faults)


def test_every_part_of_a_full_stage_may_be_open_or_shorted():
    faults = faults_of(scenario_from_query(f"in=transistor&out=relay&clamp=diode&{TOGETHER['everything']}"))
    kinds = {}
    for fault in faults:
        kinds.setdefault(fault.part, set()).add(fault.kind)
    parts = {"R1", "RB", "RH", "RI", "R2", "RL", "R3", "LED", "U1", "D2", "Z1", "H1", "D3", "Q1", "Q2", "K1", "D6"}
    assert {part for part, own in kinds.items() if {"open", "short"} <= own} >= parts
    assert {part for part, own in kinds.items() if "missing" in own} == {"VS", "VCC"}


def test_nothing_wrong_has_its_share_of_the_prior():
    faults = (GOOD, *faults_of(scenario_from_query("")))
    prior = prior_of(faults)
    assert sum(prior) == pytest.approx(1.0)
    assert prior[0] == max(prior)
    assert min(prior) > 0.0


@pytest.mark.parametrize("query", ["in=ac&dropper=capacitor&cs=10uF", "out=ac-triac&coupler=triac-random&csn=10nF"])
def test_a_line_has_no_polarity_and_a_load_on_it_is_not_shorted(query):
    ids = {fault.id for fault in faults_of(scenario_from_query(query))}
    line = "vs" if "in=ac" in query else "vcc"
    assert {f"{line}-missing", f"{line}-sagging"} <= ids
    assert not ids & {f"{line}-polarity", "rload-short"}
    more = {"cd-faded", "cs-faded", "cd-open", "d4-open", "rbd-open"} if line == "vs" else {"q3-open", "csn-short"}
    assert more <= ids


# ---------------------------------------------------------------- every circuit


def solves_with_every_fault(query):
    scenario, stage = stage_of(query, 1)
    faults = (GOOD, *faults_of(scenario))
    found = []
    for batch in faulty(stage, faults):
        solution = solve(batch.netlist)
        assert all(np.isfinite(volts).all() for volts in solution.voltages.values())
        found += batch.faults
    assert sorted(fault.id for fault in found) == sorted(fault.id for fault in faults)


@pytest.mark.parametrize("drive", DRIVES.values(), ids=DRIVES)
def test_every_drive_solves_with_options_and_every_fault(drive):
    """Every second option with a drive, the others with the next; several together with each."""
    begin = list(DRIVES.values()).index(drive) % 2
    for option in ("rb=none", *list(OPTIONS.values())[begin::2], *TOGETHER.values()):
        if has_switch(drive) or "rbat=switch" not in option:
            solves_with_every_fault(with_option(drive, option))


@pytest.mark.parametrize("load", LOADS)
def test_every_load_solves_with_every_fault(load):
    for drive in ("in=contact-low", "in=contact-high&leak=100k", "in=transistor&qat=across", "in=measured"):
        solves_with_every_fault(f"{drive}&{load}")


# ---------------------------------------------------------------- by hand


def test_good_stage_is_the_stage_itself():
    scenario, stage = stage_of("vs=24V", 3)
    (batch,) = faulty(stage, [GOOD])
    pairs = [(probe.red, probe.black) for probe in probes_of(scenario)]
    assert read(batch.netlist, pairs, DIGITAL) == pytest.approx(read(stage.netlist, pairs, DIGITAL), abs=1e-3)


def test_open_R1_leaves_the_supply_across_itself_through_the_meter_alone():
    volts = shown("vs=24V", "r1-open")
    # 10 Mohm carry 2.3 uA through the LED, which takes about 0.8 V of the 24 V; nothing else conducts.
    assert 22.9 < volts["r1", "closed"] < 23.5
    assert volts["led", "closed"] == pytest.approx(0.0, abs=1e-3)
    assert volts["out", "closed"] == pytest.approx(3.3, abs=0.01)
    assert volts["vs", "closed"] == pytest.approx(24.0)


def test_shorted_LED_has_no_voltage_and_gives_no_light():
    volts = shown("vs=24V", "led-short")
    assert volts["led", "closed"] == pytest.approx(0.0, abs=1e-3)
    assert volts["r1", "closed"] == pytest.approx(24.0, abs=0.01)
    assert volts["out", "closed"] == pytest.approx(3.3, abs=0.01)


@pytest.mark.parametrize("fault", ["led-open", "led-reversed"])
def test_LED_that_does_not_conduct_has_the_whole_supply(fault):
    volts = shown("vs=24V", fault)
    assert volts["led", "closed"] == pytest.approx(24.0, abs=0.05)
    assert volts["r1", "closed"] == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize(("fault", "share"), [("vcc-missing", 0.0), ("vcc-sagging", 0.6), ("vcc-polarity", -1.0)])
def test_supply_reads_what_is_left_of_it(fault, share):
    assert shown("vs=24V", fault)["vcc", "open"] == pytest.approx(3.3 * share, abs=1e-6)


def test_divider_of_wrong_values_reads_by_its_ratio():
    # Pulled down by 4k7, the receiver's own 47k beside it: dark nothing flows; lit the output is near the supply.
    sound = shown("in=measured&vi=10V 0A, 0V 10mA&r1=1k&rb=1k&rbat=input", "good")["r1", "closed"]
    decade = shown("in=measured&vi=10V 0A, 0V 10mA&r1=1k&rb=1k&rbat=input", "r1-tenfold")["r1", "closed"]
    # The source is 10 V behind 1 kohm, RB of 1 kohm beside R1 and LED: 5 V behind 500 ohm. The LED takes about 1.1 V.
    assert sound == pytest.approx((5.0 - 1.1) * 1000 / 1500, rel=0.03)
    assert decade == pytest.approx((5.0 - 1.05) * 10_000 / 10_500, rel=0.03)


@pytest.mark.parametrize("drive", [query for query in DRIVES.values()])
def test_stuck_switch_reads_the_same_in_both_states(drive):
    switch = scenario_from_query(drive).input.switch_part.lower()
    sound = shown(drive, "good")
    stuck = shown(drive, f"{switch}-stuck-on")
    for point, state in sound:
        assert stuck[point, state] == pytest.approx(sound[point, "closed"], abs=2e-3)


def test_dirty_contact_drops_what_a_kilohm_drops():
    volts = shown("vs=24V&r1=10k", "s1-resistive")
    current = volts["r1", "closed"] / 10e3
    assert volts["s1", "closed"] == pytest.approx(1e3 * current, rel=1e-3)


def test_shorted_output_reads_nothing_and_the_load_all():
    volts = shown("vcc=5V", "u1-short")
    assert volts["out", "open"] == pytest.approx(0.0, abs=1e-3)
    assert volts["rl", "open"] == pytest.approx(5.0, abs=1e-3)


def test_leak_across_the_output_divides_with_the_load():
    volts = shown("vcc=6V&rl=1k&logic=cmos", "u1-leaky")
    assert volts["out", "open"] == pytest.approx(5.0, abs=0.02)  # 5 RL against RL


def test_tired_coupler_has_a_fifth_of_its_light():
    sound, tired = (shown("out=indicator&r1=100k&rl=10R", fault) for fault in ("good", "u1-tired"))
    assert sound["rl", "closed"] / tired["rl", "closed"] == pytest.approx(5.0, rel=0.15)
    assert tired["led", "closed"] == pytest.approx(sound["led", "closed"])


def test_exchanged_collector_and_emitter_is_the_stage_that_is_drawn_so():
    exchanged, drawn = shown("vcc=5V", "u1-exchanged"), shown("vcc=5V&swap=yes", "good")
    assert exchanged["out", "closed"] == pytest.approx(drawn["out", "closed"], abs=1e-3)


def test_bridged_barrier_changes_no_reading():
    assert shown("vs=24V", "barrier-bridged") == shown("vs=24V", "good")


def test_only_a_supply_without_danger_is_connected_the_wrong_way_round():
    low, high = ({fault.id for fault in faults_of(scenario_from_query(query))} for query in ("vs=60V", "vs=400V"))
    assert low - high == {"vs-polarity"}
    assert "vs-polarity" not in {fault.id for fault in faults_of(scenario_from_query("in=measured"))}


def test_a_barrier_that_is_drawn_bridged_is_no_fault():
    with_bridge, without = (
        {fault.kind for fault in faults_of(scenario_from_query(query))} for query in ("bridge=returns", "")
    )
    assert without - with_bridge == {"bridged"}


def test_reversed_antiparallel_diode_takes_the_LEDs_current():
    volts = shown("ap=diode&vs=24V", "d3-reversed")
    assert 0.5 < volts["led", "closed"] < 0.9
    assert volts["out", "closed"] > 3.0
