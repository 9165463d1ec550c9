"""What a class is asked about a stage: every kind of side has questions, answers agree with the solve, none is told."""

import re
from functools import cache

import pytest

from engine import (
    INPUTS,
    OUTPUTS,
    UNITS,
    operating_point,
    over_cycle,
    questions_of,
    reading,
    scenario_from_query,
)
from tests.each import of_each

STAGES = (
    *(f"in={kind}" for kind in INPUTS),
    *(f"out={kind}" for kind in OUTPUTS),
    "r1=4k7&vs=24V&rl=auto",
    "in=ac&dropper=capacitor&cs=10u&out=controller",
    "in=ac&form=diode&out=indicator",
    "in=logic&if=9mA",
    "in=contact-high&rb=2k&nd=2&vz=5V1&lamp=red&r1=1k",
    "vs=0&r1=1k",
    "ctr=1%&r1=100k&tamin=-20&tamax=85&years=10",
)


@cache
def point_of(query):
    return operating_point(scenario_from_query(query))


@cache
def asked(query):
    return {question.code: question for question in questions_of(point_of(query))}


def blank(query, code, name):
    return next(one for one in asked(query)[code].blanks if one.name == name)


@of_each(STAGES)
def test_every_stage_is_asked_for_drive_level_worst_corner_and_dark_state(query):
    assert asked(query).keys() >= {"drive", "level", "worst", "dark"}


@of_each(STAGES)
def test_what_is_to_be_found_is_a_figure_within_its_window_or_one_of_the_words(query):
    for question in asked(query).values():
        assert question.asks.endswith((".", "?"))
        assert question.blanks
        for one in question.blanks:
            if one.unit:
                assert one.low <= one.value <= one.high, (question.code, one)
                assert not one.words
            else:
                assert one.word in one.words


@of_each(STAGES)
def test_no_question_tells_a_figure_that_is_to_be_found(query):
    texts = " ".join(question.asks for question in asked(query).values())
    for question in asked(query).values():
        for one in question.blanks:
            if one.unit and one.value:
                told = " ".join(reading(one.value, UNITS[one.unit])).strip()
                assert not re.search(rf"(?<![\d.]){re.escape(told)}(?!\w)", texts), (question.code, told)


def test_figures_are_those_of_the_solve():
    point = point_of("r1=4k7&vs=24V")
    lit, dark = point.states["closed"].quantities, point.states["open"].quantities
    query = "r1=4k7&vs=24V"
    for code, name, found in (
        ("forward-voltage", "VF", lit["VF"]),
        ("drive", "IF", lit["IF"]),
        ("load-current", "IC needed", lit["IC_needed"]),
        ("needed-ratio", "CTR needed", lit["CTR_needed"]),
        ("kept-voltage", "VCE", lit["VCE"]),
        ("level", "VOUT", lit["VOUT"]),
        ("dark", "VOUT", dark["VOUT"]),
    ):
        one = blank(query, code, name)
        assert (one.value, one.low, one.high) == (found.value, found.low, found.high)
    assert blank(query, "level", "read").word == "low"
    assert blank(query, "dark", "read").word == "high"


def test_what_the_card_tells_is_not_asked_for():
    assert "forward-voltage" not in asked("in=logic&if=9mA")
    assert "forward-voltage" in asked("in=logic&if=2mA")


def test_by_hand_is_close_to_the_solve_where_it_should_be():
    lit = [question for code, question in asked("r1=4k7&vs=24V").items() if code != "dark"]
    steps = {step.symbol: step for question in lit for step in question.steps}
    assert steps["IF"].by_hand == pytest.approx((24.0 - 1.18) / 4700.0)
    assert steps["IC needed"].by_hand == pytest.approx(3.3 / 4700.0)
    assert steps["CTR needed"].by_hand == pytest.approx((3.3 / 4700.0) / ((24.0 - 1.18) / 4700.0))
    for symbol in ("IF", "IC needed", "CTR needed"):
        assert steps[symbol].by_hand == pytest.approx(steps[symbol].solved, rel=0.05)


def test_the_exact_resistor_gives_the_current_that_is_asked_for():
    question = asked("r1=4k7&vs=24V")["other-r1"]
    wanted = float(re.search(r"IF = ([\d.]+) mA", question.asks)[1]) * 1e-3
    exact = question.blanks[0].value
    assert wanted != pytest.approx(blank("r1=4k7&vs=24V", "drive", "IF").value, rel=0.2)
    fitted = operating_point(scenario_from_query(f"vs=24V&r1={exact!r}"))
    assert fitted.states["closed"].quantities["IF"].value == pytest.approx(wanted, rel=1e-3)


def test_a_resistor_that_is_sized_is_asked_for_and_one_that_is_fitted_is_not():
    assert "size-r1" in asked("in=contact-low")
    assert "other-r1" not in asked("in=contact-low")
    assert "size-r1" not in asked("r1=4k7&vs=24V&rl=auto")
    assert blank("r1=4k7&vs=24V&rl=auto", "size-rl", "RL, of E24").value == 4700.0


def test_a_lost_half_of_the_light_halves_what_the_coupler_can_give():
    before = blank("in=contact-low", "saturated", "IC available / IC needed").value
    assert blank("in=contact-low", "what-if", "times over").value == pytest.approx(before / 2.0, rel=1e-6)


def test_a_lower_supply_leaves_the_parts_that_were_fitted():
    query = "out=ac-triac&if=15mA"
    lowered = operating_point(scenario_from_query(f"{query}&vs=38.4V&r1=3k"))
    times = lowered.states["closed"].quantities["overdrive"].value
    assert blank(query, "what-if", "times over").value == pytest.approx(times)


def test_a_weak_coupler_is_not_saturated_and_its_level_not_sure():
    query = "ctr=1%&r1=100k&tamin=-20&tamax=85&years=10"
    assert blank(query, "saturated", "saturated").word == "no"
    assert blank(query, "saturated", "at worst too").word == "no"
    assert blank(query, "worst", "sure").word == "no"
    assert asked(query)["worst"].told.startswith("What fails first: ")


def test_on_a_line_the_gap_is_asked_for_and_by_capacitor_its_size():
    assert blank("in=ac", "gap", "gap").value == over_cycle(scenario_from_query("in=ac")).figures["unlit"].value > 0.0
    query = "in=ac&dropper=capacitor&cs=10u&out=controller"
    sized = point_of(query).sized["CD"]
    assert [one.value for one in asked(query)["size-cd"].blanks] == [sized.exact, sized.chosen]
    assert "size-r1" not in asked(query)
