"""Answers that are worked out once, however many ask at the same time."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from engine import diagnose, scenario_from_query
from engine.hypotheses import _hypotheses
from engine.once import once


def in_threads(work, arguments):
    """Return what a function gives for some arguments, all asked for at the same moment."""
    ready = threading.Barrier(len(arguments))

    def asked(argument):
        ready.wait()
        return work(argument)

    with ThreadPoolExecutor(len(arguments)) as pool:
        return list(pool.map(asked, arguments))


def test_threads_that_ask_at_once_get_one_answer():
    worked = []

    @once(4)
    def slow(key):
        worked.append(key)
        time.sleep(0.05)
        return [key]

    found = in_threads(slow, ["a"] * 6)
    assert worked == ["a"]
    assert all(one is found[0] for one in found)
    assert slow.cache_info().misses == 1


def test_other_arguments_do_not_wait():
    both = threading.Barrier(2)

    @once(4)
    def meeting(key):
        both.wait(timeout=10.0)  # breaks unless both are being worked out at the same time
        return key

    assert in_threads(meeting, ["a", "b"]) == ["a", "b"]


def test_a_failure_is_not_kept():
    tries = []

    @once(4)
    def poor(key):
        tries.append(key)
        if len(tries) == 1:
            raise ValueError(key)
        return key

    with pytest.raises(ValueError, match="a"):
        poor("a")
    assert [poor("a"), poor("a")] == ["a", "a"]
    assert tries == ["a", "a"]


def test_only_the_last_answers_are_kept():
    worked = []
    keeping = once(2)(lambda key: worked.append(key) or key)
    for key in "abca":
        keeping(key)
    assert worked == ["a", "b", "c", "a"]


def test_a_stage_that_many_ask_for_at_once_is_solved_once():
    scenario, before = scenario_from_query("vs=31V&r1=4k7"), _hypotheses.cache_info().misses
    found = in_threads(lambda s: diagnose(s, [("vs", "closed", 0.0)]), [scenario] * 4)
    assert _hypotheses.cache_info().misses == before + 1
    assert {one.ranking[0].fault.id for one in found} == {"vs-missing"}
