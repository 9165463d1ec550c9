"""Declarations of parameters, and what every shipped declaration must keep."""

from dataclasses import FrozenInstanceError, dataclass

import pytest

from engine import INPUTS, OUTPUTS, Conditions, Coupling, declared
from engine.parameter import choice, number
from engine.quantity import OHM, RATIO, UNITS

KINDS = (*INPUTS.values(), Coupling, *OUTPUTS.values(), Conditions)


@dataclass(frozen=True)
class Sample:
    R: float | str = number("r", "R", OHM, 470.0, (1.0, 1e6), ["auto"])
    share: float = number("s", "share", RATIO, 0.5, (0.0, 1.0))
    colour: str = choice("c", "colour", "red", {"red": 1, "blue": 2})
    undeclared: int = 3


def test_a_declaration_keeps_what_it_was_given():
    R = declared(Sample)["R"]
    assert (R.key, R.symbol, R.unit, R.low, R.high, R.words) == ("r", "R", OHM, 1.0, 1e6, ("auto",))


def test_declarations_come_in_order_and_leave_other_fields_aside():
    assert list(declared(Sample)) == ["R", "share", "colour"]
    assert declared(Sample(R=1.0)) == declared(Sample)


def test_defaults_are_those_declared():
    assert (Sample().R, Sample().share, Sample().colour) == (470.0, 0.5, "red")


def test_what_is_accepted_reads_as_a_phrase():
    accepted = {name: parameter.accepted for name, parameter in declared(Sample).items()}
    assert accepted == {"R": "1 Ω to 1 MΩ, or auto", "share": "0 % to 100 %", "colour": "one of red, blue"}


def test_a_declaration_cannot_be_changed():
    with pytest.raises(FrozenInstanceError):
        declared(Sample)["R"].low = 0.0


@pytest.mark.parametrize("kind", KINDS)
def test_every_default_is_accepted(kind):
    usual = kind()
    for name, parameter in declared(kind).items():
        value = getattr(usual, name)
        if parameter.longest:
            assert len(value) <= parameter.longest
        elif isinstance(value, str):
            assert value in parameter.words
        else:
            assert parameter.low <= value <= parameter.high


@pytest.mark.parametrize("kind", KINDS)
def test_every_declaration_is_whole(kind):
    for parameter in declared(kind).values():
        assert parameter.symbol
        assert parameter.key.isascii()
        assert parameter.key == parameter.key.lower()
        if parameter.longest:
            assert parameter.accepted == f"text of at most {parameter.longest} characters"
            assert (parameter.unit, parameter.words) == (None, ())
        elif parameter.unit is None:
            assert len(parameter.words) >= 2
        else:
            assert parameter.unit in UNITS.values()
            assert parameter.low < parameter.high


@pytest.mark.parametrize("inside", INPUTS.values())
@pytest.mark.parametrize("outside", OUTPUTS.values())
def test_no_two_parameters_of_a_scenario_share_a_key(inside, outside):
    keys = [p.key for kind in (inside, Coupling, outside, Conditions) for p in declared(kind).values()]
    assert len(keys) == len(set(keys))
    assert not {"in", "out"} & set(keys)
