"""Logic families and the verdict on a value and its corners."""

import numpy as np
import pytest

from engine.logic import FAMILIES, judge

DIM = ("dark", "dim", "lit")


def verdict(values, low=0.8, high=2.0, **words):
    values = np.array(values)
    limits = (np.broadcast_to(np.asarray(limit, dtype=float), values.shape) for limit in (low, high))
    return judge(values, *limits, **words)


@pytest.mark.parametrize(
    ("values", "level", "sure"),
    [
        ([0.1, 0.0, 0.79], "low", True),
        ([0.1, 0.0, 0.81], "low", False),
        ([0.1, 0.0, 3.3], "low", False),
        ([0.8, 0.8, 0.8], "low", True),
        ([3.3, 2.0, 2.1], "high", True),
        ([3.3, 1.99, 2.1], "high", False),
        ([3.3, 0.1, 2.1], "high", False),
        ([1.4, 1.4, 1.4], "undefined", False),
        ([1.4, 0.1, 3.3], "undefined", False),
        ([-0.1], "low", True),
    ],
)
def test_the_level_is_the_nominal_one_and_sure_if_every_corner_agrees(values, level, sure):
    found = verdict(values)
    assert (found.level, found.sure) == (level, sure)


def test_each_corner_is_held_against_its_own_limits():
    assert verdict([0.9, 0.7, 1.1], low=[1.0, 0.8, 1.2]).sure
    assert not verdict([0.9, 0.9, 0.9], low=[1.0, 0.8, 1.2]).sure
    assert verdict([2.5, 2.1, 2.9], high=[2.2, 2.0, 2.8]).sure


def test_the_limits_told_are_those_of_the_nominal_stage():
    found = verdict([0.9, 0.7], low=[1.0, 0.8], high=[2.2, 2.0])
    assert (found.low_limit, found.high_limit) == (1.0, 2.2)


def test_an_indicator_has_words_of_its_own():
    assert [verdict([x], words=DIM).level for x in (0.5, 1.5, 2.5)] == ["dark", "dim", "lit"]


@pytest.mark.parametrize("family", FAMILIES.values())
def test_the_limits_of_a_family_leave_a_gap_within_its_supply(family):
    for VCC in family.supply:
        VIL, VIH = family.limits(VCC)
        assert 0 < VIL < VIH < VCC
    assert family.sinks > 0
    assert family.sources > 0
    assert family.supply[0] < family.supply[1]


@pytest.mark.parametrize(
    ("name", "VCC", "limits"),
    [
        ("lvcmos33", 3.3, (0.8, 2.0)),
        ("lvcmos33", 2.7, (0.8, 2.0)),
        ("lvcmos25", 2.5, (0.7, 1.7)),
        ("lvcmos18", 1.8, (0.63, 1.17)),
        ("cmos", 5.0, (1.5, 3.5)),
        ("cmos", 10.0, (3.0, 7.0)),
        ("ttl", 5.0, (0.8, 2.0)),
    ],
)
def test_limits_of_the_families(name, VCC, limits):
    assert FAMILIES[name].limits(VCC) == pytest.approx(limits)


def test_limits_go_with_every_supply_of_a_batch():
    VIL, VIH = FAMILIES["cmos"].limits(np.array([5.0, 10.0]))
    assert VIL == pytest.approx([1.5, 3.0])
    assert VIH == pytest.approx([3.5, 7.0])
