"""Errors carry their data, say their sentence and survive a pickle."""

import copy
import pickle

import pytest

from engine import CardError, ConvergenceError, EngineError, Problem, QuantityError, ScenarioError, scenario_from_query

PROBLEMS = (
    Problem("vs", "2000", "0 V to 1 kV", "'2000' is out of range for VS"),
    Problem("r1", "fast", "1 Ω to 100 MΩ, or auto", "'fast' is not a number"),
)
ERRORS = [
    (QuantityError("5 A", "'A' is not a unit of this field", "write 48 V"), ValueError,
     "'A' is not a unit of this field; write 48 V"),
    (ScenarioError(PROBLEMS), ValueError,
     "vs: '2000' is out of range for VS; 0 V to 1 kV; r1: 'fast' is not a number; 1 Ω to 100 MΩ, or auto"),
    (CardError("general", "CTR.min", "the line is missing"), ValueError,
     "card general, CTR.min: the line is missing"),
    (ConvergenceError(600, 1.25e-6, "OUT", "vs=24V"), ArithmeticError,
     "no operating point after 600 iterations for vs=24V: 1.25e-06 A left at OUT"),
    (ConvergenceError(600, 1.25e-6, "OUT"), ArithmeticError,
     "no operating point after 600 iterations: 1.25e-06 A left at OUT"),
]  # fmt: skip


@pytest.mark.parametrize(("error", "builtin", "sentence"), ERRORS)
def test_an_error_says_its_sentence_and_is_the_builtin_it_refines(error, builtin, sentence):
    assert str(error) == sentence
    assert isinstance(error, EngineError)
    assert isinstance(error, builtin)


@pytest.mark.parametrize("error", [error for error, *_ in ERRORS])
@pytest.mark.parametrize("travel", [lambda error: pickle.loads(pickle.dumps(error)), copy.copy, copy.deepcopy])
def test_an_error_survives_a_journey_with_its_data(error, travel):
    arrived = travel(error)
    assert type(arrived) is type(error)
    assert str(arrived) == str(error)
    assert vars(arrived) == vars(error)


def test_problems_are_kept_even_of_a_generator():
    error = ScenarioError(problem for problem in PROBLEMS)
    assert error.problems == PROBLEMS
    assert "vs" in str(error)


def test_a_problem_reads_as_field_reason_and_remedy():
    assert str(PROBLEMS[0]) == "vs: '2000' is out of range for VS; 0 V to 1 kV"


def test_an_error_that_was_really_raised_travels():
    with pytest.raises(ScenarioError) as caught:
        scenario_from_query("vs=2kV&r1=fast&zz=1")
    assert pickle.loads(pickle.dumps(caught.value)).problems == caught.value.problems
    assert len(caught.value.problems) == 3
