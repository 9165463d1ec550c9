"""A stage over one of its parameters."""

from dataclasses import replace

import pytest

from engine import (
    INPUTS,
    OUTPUTS,
    Coupling,
    ScenarioError,
    as_built,
    declared,
    findings_of,
    operating_point,
    present_value,
    results_of,
    scenario_from_query,
    span_asked,
    sweep_asked,
    sweep_of,
    swept_parameters,
)

STAGES = (
    ("", "rl", 1e3, 1e5, "log"),
    ("", "vs", 10.0, 60.0, "linear"),
    ("in=logic", "vs", 2.0, 5.0, "linear"),
    ("in=logic&voh=2V", "vs", 2.5, 5.0, "linear"),
    ("in=ac", "vac", 100.0, 250.0, "linear"),
    ("out=pull-down&rl=10k", "rin", 1e4, 1e6, "log"),
    ("out=indicator", "il", 5e-4, 5e-3, "log"),
    ("out=relay", "khmin", 20.0, 400.0, "log"),
    ("out=gate", "vcc", 10.0, 20.0, "linear"),
    ("tamin=-20C&tamax=70C&years=10", "years", 0.0, 20.0, "linear"),
    ("", "ctr", 0.5, 3.0, "linear"),
    ("", "ta", -40.0, 85.0, "linear"),
)


def with_value(scenario, key, value):
    for place, name in enumerate(("input", "coupling", "output", "conditions")):
        part = scenario.parts()[place]
        for field, parameter in swept_fields(part):
            if parameter.key == key:
                return replace(scenario, **{name: replace(part, **{field: value})})
    raise AssertionError(key)


def swept_fields(part):
    return [(f.name, f.metadata["parameter"]) for f in part.__dataclass_fields__.values() if "parameter" in f.metadata]


@pytest.mark.parametrize(("query", "key", "low", "high", "scale"), STAGES)
def test_every_point_is_the_stage_solved_alone(query, key, low, high, scale):
    scenario = scenario_from_query(query)
    sweep = sweep_of(scenario, key, low, high, 7, scale)
    assert (sweep.x[0], sweep.x[-1], len(sweep.x)) == (low, high, 7)
    for k in (0, 3, 6):
        alone = operating_point(with_value(scenario, key, sweep.x[k]))
        for state in ("closed", "open"):
            found = sweep.states[state]
            wanted = results_of(alone.states[state])
            assert wanted.keys() <= found.keys()
            for name, (unit, value, least, most) in wanted.items():
                one = found[name]
                assert one.unit == unit
                assert (one.value[k], one.low[k], one.high[k]) == pytest.approx(
                    (value, least, most), rel=1e-6, abs=1e-9
                )
        margins = sweep.margins()
        for finding in findings_of(alone, remedies=False):
            assert margins[finding.code][k] == pytest.approx(finding.margin, rel=1e-6, abs=1e-6)
            assert sweep.margin(finding.code)[k] == pytest.approx(finding.margin, rel=1e-6, abs=1e-6)


def test_a_larger_load_resistor_lowers_the_lit_output_and_raises_overdrive():
    sweep = sweep_of(scenario_from_query(""), "rl", 1e3, 1e5, 25, "log")
    VOUT, times = sweep.series("closed", "VOUT").value, sweep.series("closed", "overdrive").value
    assert list(VOUT) == sorted(VOUT, reverse=True)
    assert list(times) == sorted(times)


def test_corners_hold_the_nominal_value_between_them():
    for series in sweep_of(scenario_from_query(""), "if", 1e-3, 1e-2, 9).states["closed"].values():
        assert all(low <= value <= high for low, value, high in zip(series.low, series.value, series.high, strict=True))


def test_what_makes_no_stage_is_a_gap_with_its_reason():
    sweep = sweep_of(scenario_from_query(""), "vs", 0.0, 10.0, 11)
    assert sweep.points[0] is None
    assert sweep.points[-1] is not None
    assert "no resistor gives" in sweep.reasons[0]
    assert sweep.reasons[-1] == ""
    assert sweep.series("closed", "VOUT").value[0] is None
    assert sweep.margin("level-lit")[0] is None
    assert sweep.verdicts("closed")[0] is None
    beyond = sweep_of(scenario_from_query(""), "ta", 100.0, 200.0, 5)
    assert ["out of range" in reason for reason in beyond.reasons] == [False, False, False, True, True]
    parts = sweep_of(scenario_from_query(""), "nd", 0.0, 2.0, 5)
    assert ["there are no parts of diodes" in reason for reason in parts.reasons] == [False, True, False, True, False]


def test_a_result_that_only_some_stages_have():
    # Without a supply the LED is not driven, and no ratio says anything.
    sweep = sweep_of(scenario_from_query("r1=6k8"), "vs", 0.0, 60.0, 9)
    times = sweep.series("closed", "overdrive").value
    assert times[0] is None
    alone = operating_point(with_value(scenario_from_query("r1=6k8"), "vs", 60.0)).states["closed"].quantities
    assert times[-1] == pytest.approx(alone["overdrive"].value)
    assert sweep.series("closed", "no such thing").value == (None,) * 9


def test_what_is_auto_is_sized_anew_unless_it_is_held():
    scenario = scenario_from_query("")
    anew = sweep_of(scenario, "vs", 24.0, 48.0, 3).series("closed", "IF").value
    assert anew[0] == pytest.approx(anew[-1], rel=0.05)
    held = sweep_of(as_built(scenario), "vs", 24.0, 48.0, 3).series("closed", "IF").value
    assert held[-1] > 1.9 * held[0]


@pytest.mark.parametrize("query", ["", "in=ac", "in=ac&dropper=capacitor", "out=indicator", "out=gate", "out=ac-load"])
def test_as_built_is_the_same_stage(query):
    scenario = scenario_from_query(query)
    built = as_built(scenario)
    assert "auto" not in [getattr(p, f) for p in (built.input, built.output) for f in ("R1", "RL") if hasattr(p, f)]
    there, here = operating_point(built).states["closed"], operating_point(scenario).states["closed"]
    assert there.quantities["IF"].value == pytest.approx(here.quantities["IF"].value, rel=1e-9)


def test_every_number_of_every_kind_can_be_swept():
    seen = set()
    for query in (*(f"in={kind}" for kind in INPUTS), *(f"out={kind}" for kind in OUTPUTS)):
        scenario = scenario_from_query(query)
        kinds = {p.key: type(part) for part in scenario.parts() for p in declared(part).values()}
        for key, parameter in swept_parameters(scenario).items():
            # Of the usual sides, of the conditions and of each family of couplers: once.
            asked = kinds[key], key, scenario.coupling.data.family if kinds[key] is Coupling else ""
            if asked in seen:
                continue
            seen.add(asked)
            value = present_value(scenario, key)
            assert value is None or parameter.low <= value <= parameter.high
            sweep = sweep_of(scenario, key, parameter.low, parameter.high, 2)
            assert len(sweep.points) == 2


def test_present_values_of_words():
    scenario = scenario_from_query("tamax=70C")
    R1 = operating_point(scenario).sized["R1"].chosen
    assert present_value(scenario, "r1") == R1
    assert present_value(scenario, "vsmax") == pytest.approx(48.0 * 1.1)
    assert (present_value(scenario, "tamin"), present_value(scenario, "tamax")) == (25.0, 70.0)
    assert present_value(scenario, "ctr") == scenario.coupling.ratios()[0]
    assert present_value(scenario, "rb") is None


@pytest.mark.parametrize(
    ("given", "fields"),
    [
        ({}, ["over"]),
        ({"over": "sw", "from": "1", "to": "2"}, ["over"]),
        ({"over": "lon"}, ["over"]),  # of another kind of side
        ({"over": "rl"}, ["from", "to"]),
        ({"over": "rl", "from": "1 V", "to": "nan"}, ["from", "to"]),
        ({"over": "rl", "from": "10k", "to": "1k"}, ["to"]),
        ({"over": "rl", "from": "1k", "to": "1k"}, ["to"]),
        ({"over": "rl", "from": "1k", "to": "10k", "points": "1"}, ["points"]),
        ({"over": "rl", "from": "1k", "to": "10k", "points": "401"}, ["points"]),
        ({"over": "rl", "from": "1k", "to": "10k", "points": "1e2"}, ["points"]),
        ({"over": "rl", "from": "1k", "to": "10k", "points": "-5", "scale": "cubic"}, ["points", "scale"]),
        ({"over": "vs", "from": "0", "to": "10", "scale": "log"}, ["from"]),
        ({"over": "ta", "from": "200", "to": "300"}, ["to"]),
    ],
)
def test_what_cannot_be_swept_is_told_field_by_field(given, fields):
    with pytest.raises(ScenarioError) as refused:
        sweep_asked(scenario_from_query(""), given)
    assert [problem.field for problem in refused.value.problems] == fields


def test_what_is_asked_for_is_read_with_its_units():
    wanted = sweep_asked(scenario_from_query(""), {"over": "rl", "from": "1k", "to": "0.1 Mohm", "points": "50"})
    assert (wanted.key, wanted.low, wanted.high, wanted.points, wanted.scale) == ("rl", 1e3, 1e5, 50, "linear")
    parameter = swept_parameters(scenario_from_query(""))["ctr"]
    assert span_asked(parameter, {"from": "50 %", "to": "300%", "scale": "log"}).high == 3.0


def test_a_sweep_refuses_what_texts_would_be_refused_for():
    for key, low, high, points, scale in (
        ("sw", 1, 2, 5, "linear"),
        ("rl", 5.0, 1.0, 5, "linear"),
        ("rl", 1.0, 5.0, 1, "log"),
    ):
        with pytest.raises(ScenarioError):
            sweep_of(scenario_from_query(""), key, low, high, points, scale)
