"""Findings on output sides of their own: what raises each rule, what does not, and whether its remedy holds."""

from functools import cache

import pytest

from engine import SEVERITIES, findings_of, operating_point, query_from, scenario_from_query
from engine.findings import outputs_gate, outputs_line, outputs_receiver, outputs_relay, outputs_switch

HOT = "out=relay&ta=85C"
LINE = "if=20mA&r1w=2W"
DRIVE = "if=10mA&r1w=1W"

# code, a query that raises it, its severity, a query just inside, and whether a remedy is offered
CASES = [
    ("turn-on", "out=dc-load", "caution", f"out=dc-load&{DRIVE}", True),
    ("turn-on", "out=gate&if=1mA", "stop", f"out=gate&{DRIVE}", True),
    ("turn-on", "out=ac-load", "stop", f"out=ac-load&{LINE}", True),
    ("coupler-supply", f"out=gate&vcc=14V&vgon=10V&{DRIVE}", "stop", f"out=gate&{DRIVE}", False),
    ("coupler-supply", f"out=gate&vcc=29V&vee=-2V&{DRIVE}", "stop", f"out=gate&vcc=26V&vee=-2V&{DRIVE}", False),
    (
        "coupler-supply",
        f"coupler=fast-gate&vcc=5.3V&logic=hct&{DRIVE}",
        "caution",
        f"coupler=fast-gate&vcc=5.2V&logic=hct&{DRIVE}",
        False,
    ),
    (
        "output-current",
        f"out=dc-load&vcc=48V&rl=330R&rlw=10W&{DRIVE}",
        "stop",
        f"out=dc-load&vcc=48V&rl=470R&rlw=10W&{DRIVE}",
        True,
    ),
    ("output-current", f"out=ac-load&rl=2k2&rlw=100W&{LINE}", "stop", f"out=ac-load&rl=3k3&rlw=100W&{LINE}", True),
    ("output-current", f"out=ac-load&rl=2k4&rlw=100W&{LINE}", "caution", f"out=ac-load&rl=3k3&rlw=100W&{LINE}", True),
    ("output-voltage", f"out=dc-load&vcc=400V&rl=100k&{DRIVE}", "stop", f"out=dc-load&vcc=300V&rl=100k&{DRIVE}", False),
    (
        "output-voltage",
        f"out=ac-load&vcc=400V&rl=22k&rlw=100W&{LINE}",
        "caution",
        f"out=ac-load&vcc=380V&rl=22k&rlw=100W&{LINE}",
        False,
    ),
    ("off-delivery", "rl=10k&ineed=150uA", "stop", "rl=10k&ineed=90uA", True),
    ("off-delivery", "rl=10k&ineed=120uA", "caution", "rl=10k&ineed=90uA", True),
    ("off-delivery", "out=pull-down&rl=10k&ineed=90uA", "stop", "out=pull-down&rl=10k&ineed=50uA", True),
    ("swapped", "swap=yes", "note", "swap=no", False),
    ("relay-operate", "out=relay&rl=39k", "caution", "out=relay", True),
    ("relay-operate", "out=relay&rl=1M", "stop", "out=relay", True),
    ("relay-operate", "out=relay&vk=24V&rk=1k1", "stop", "out=relay&vk=14V&rk=330R", False),
    ("relay-release", f"{HOT}&r3=1M", "caution", f"{HOT}&r3=10k", True),
    ("flyback-peak", "out=relay&clamp=none", "stop", "out=relay&clamp=diode", True),
    ("flyback-peak", "out=relay&clamp=zener&vclamp=36V", "stop", "out=relay&clamp=zener&vclamp=27V", True),
    ("flyback-peak", "out=relay&clamp=resistor&rclamp=720R", "caution", "out=relay&clamp=resistor&rclamp=560R", True),
    ("gate-peak", f"out=gate&rl=5R1&{DRIVE}", "stop", f"out=gate&rl=10R&{DRIVE}", True),
    ("gate-peak", f"out=gate&rl=7R5&vcctol=10%25&{DRIVE}", "caution", f"out=gate&rl=10R&{DRIVE}", True),
    (
        "gate-power",
        f"out=gate&rl=10R&qg=1uC&fsw=40kHz&{DRIVE}",
        "caution",
        f"out=gate&rl=10R&qg=300nC&fsw=40kHz&{DRIVE}",
        True,
    ),
    (
        "gate-total",
        f"out=gate&rl=10R&qg=1uC&fsw=45kHz&{DRIVE}",
        "caution",
        f"out=gate&rl=10R&qg=300nC&fsw=40kHz&{DRIVE}",
        True,
    ),
    ("surge-current", f"out=ac-triac&rl=180R&{LINE}", "stop", f"out=ac-triac&{LINE}", True),
    ("surge-current", f"out=ac-triac&rl=240R&{LINE}", "caution", f"out=ac-triac&{LINE}", True),
    ("trigger-point", f"out=ac-triac&rl=3k3&rlw=1W&{LINE}", "caution", f"out=ac-triac&{LINE}", True),
    ("minimum-load", f"out=ac-triac&rload=20k&igt=5mA&{LINE}", "stop", f"out=ac-triac&rload=5k&igt=5mA&{LINE}", False),
    (
        "zero-cross",
        f"out=ac-load&coupler=triac-zero&rl=100k&{LINE}",
        "stop",
        f"out=ac-load&coupler=triac-zero&rl=47k&{LINE}",
        False,
    ),
]


@cache
def found(query):
    """Return the findings on a scenario by code."""
    return {finding.code: finding for finding in findings_of(operating_point(scenario_from_query(query)))}


def graver(query, than):
    """Return the codes of stops and cautions that are graver on one scenario than on another."""
    rank = SEVERITIES.index
    before = {code: rank(finding.severity) for code, finding in found(than).items()}
    return {c for c, f in found(query).items() if rank(f.severity) < min(2, before.get(c, 3))}


def test_every_rule_on_output_sides_has_a_case_here():
    parts = outputs_gate, outputs_line, outputs_receiver, outputs_relay, outputs_switch
    assert {code for code, *_ in CASES} == {code for part in parts for code in part.RULES}


@pytest.mark.parametrize(("code", "query", "severity", "inside", "mended"), CASES)
def test_a_rule_is_raised(code, query, severity, inside, mended):
    finding = found(query)[code]
    assert (finding.severity, finding.margin < 0) == (severity, True)
    assert finding.reason.endswith(".")


@pytest.mark.parametrize(("code", "query", "severity", "inside", "mended"), CASES)
def test_just_inside_it_is_not_raised(code, query, severity, inside, mended):
    finding = found(inside).get(code)
    assert finding is None if severity == "note" else (finding.severity == "pass" and finding.margin >= 0)


@pytest.mark.parametrize(("code", "query", "severity", "inside", "mended"), CASES)
def test_a_remedy_mends_its_rule_and_does_no_other_harm(code, query, severity, inside, mended):
    mend = found(query)[code].mend
    assert (mend is not None) == mended
    if mend:
        after = query_from(mend.scenario)
        assert found(after)[code].severity == "pass"
        assert graver(after, query) == set()


def test_the_release_says_what_the_transistor_amplifies():
    assert "amplifies what leaks through the dark detector" in found(f"{HOT}&r3=1M")["relay-release"].reason


def test_an_exchanged_detector_is_turned_round_again():
    assert found("swap=yes")["level-lit"].mend.text == "exchange collector and emitter"
