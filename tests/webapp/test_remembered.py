"""Answers that many ask for at once: worked out once, the same for all, bounded, and no other one's."""

import threading
import time

import pytest
from starlette.responses import HTMLResponse

from webapp.remembered import Remembered


class Maker:
    """Makes answers, and counts them."""

    def __init__(self, status=200, wait=0.0):
        self.made, self.status, self.wait = 0, status, wait

    def __call__(self):
        self.made += 1
        time.sleep(self.wait)
        return HTMLResponse(f"answer {self.made}", self.status, {"Cache-Control": "no-store"})


def test_of_those_that_ask_at_once_one_works_it_out():
    remembered, make, bodies = Remembered(), Maker(wait=0.05), []
    threads = [threading.Thread(target=lambda: bodies.append(remembered.answer("q", make).body)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (make.made, set(bodies)) == (1, {b"answer 1"})


def test_the_answer_is_the_same_whole_answer_again():
    remembered, make = Remembered(), Maker()
    first, second = (remembered.answer("q", make) for _ in range(2))
    assert (first.body, first.raw_headers, first.status_code) == (second.body, second.raw_headers, second.status_code)
    second.headers["Cache-Control"] = "changed"
    assert remembered.answer("q", make).headers["Cache-Control"] == "no-store"


def test_a_refusal_is_worked_out_every_time():
    remembered, make = Remembered(), Maker(status=422)
    assert [remembered.answer("q", make).body for _ in range(2)] == [b"answer 1", b"answer 2"]


def test_what_was_not_asked_for_longest_is_forgotten():
    remembered, make = Remembered(most=2500), Maker()
    for asked in ("a", "b", "a", "c", "a", "b"):
        remembered.answer(asked, make)
    assert make.made == 4


def test_what_is_asked_at_length_takes_room_too():
    remembered, make = Remembered(most=2500), Maker()
    for asked in ("a", "b" * 2000, "a"):
        remembered.answer(asked, make)
    assert make.made == 3


@pytest.mark.parametrize("path", ["explorer", "bands", "panel", "finding-list"])
def test_a_fragment_is_that_of_its_own_scenario_also_when_asked_again(client, path):
    ways = [f"/stage/{path}?{query}" for query in ("vs=36V", "vs=12V", "vs=36V&panel=off", "vs=36V")]
    first, other, _, again = (client.get(way) for way in ways)
    assert first.status_code == 200
    assert (first.text, dict(first.headers)) == (again.text, dict(again.headers))
    assert first.text != other.text
    assert client.get(f"/stage/{path}?vs=x").status_code == 422
