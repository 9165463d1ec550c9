"""What the meter of a hunt shows, and what its readings rule out.

The meter errs by a share of what it may err, drawn for each hunt and pair of points with the hunt's own secret: the
same reading again gives the same figure, and one of both switch states errs the same way. Every figure comes from a
table that holds all faults, so a request does the same work whichever of them is hidden.
"""

import hashlib
import hmac
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine import (
    STATES,
    AllReadings,
    ConvergenceError,
    Problem,
    Scenario,
    ScenarioError,
    all_readings,
    scenario_from_query,
)

_COUNTS = 4000
"""Steps of a range that are told apart on its scale."""


@dataclass(frozen=True, slots=True)
class Place:
    """A reading by where it is taken.

    Attributes
    ----------
    state : str
        State of the switch.
    red : str
        Point that the reading is positive at.
    black : str
        The other point.
    """

    state: str
    red: str
    black: str


class Bench:
    """One stage on the bench, with every fault it may have, and the meter of one hunt.

    Parameters
    ----------
    scenario : Scenario
        The sound stage.
    secret : bytes
        What the meter's errors are drawn with.

    Raises
    ------
    ScenarioError
        If no fault can be hidden in the stage.
    """

    def __init__(self, scenario: Scenario, secret: bytes = b"") -> None:
        self.scenario = scenario
        self.table: AllReadings = _table_of(scenario)
        seen = self.table.visible()
        self.hideable = tuple(fault for fault, shows in zip(self.table.faults, seen, strict=True) if shows)
        if not self.hideable:
            raise _unplayable("no fault changes what the meter shows by more than its error")
        self._secret = secret
        self._row = {fault.id: k for k, fault in enumerate(self.table.faults)}
        self._known: dict[Place, np.ndarray] = {}

    @property
    def points(self) -> frozenset[str]:
        """All points that a lead can be put on."""
        return frozenset(point for points in self.table.leads.values() for point in points)

    def knows(self, place: Place) -> bool:
        """Return whether there is such a reading, be it across the barrier."""
        return place.state in STATES and {place.red, place.black} <= self.points

    def crosses(self, place: Place) -> bool:
        """Return whether the leads are on opposite sides of the barrier."""
        return self.table.of(place.state, place.red, place.black) is None

    def sound(self, place: Place) -> float:
        """Return what the meter would show with nothing wrong, its error left aside [V]."""
        return float(self.table.of(place.state, place.red, place.black)[0])

    def shown(self, fault: str, place: Place) -> float:
        """Return what the meter shows where a fault is hidden [V]."""
        return float(self._all_shown(place)[self._row[fault]])

    def left_by(self, fault: str, places) -> tuple[str, ...]:
        """Return the faults that the readings at some places do not rule out, where one of them is hidden."""
        left = np.ones(len(self.table.faults), dtype=bool)
        for place in places:
            left &= self._explained(fault, place)
        return tuple(f.id for f, stays in zip(self.table.faults, left, strict=True) if stays)

    def alike(self, fault: str) -> tuple[str, ...]:
        """Return the faults that no reading of this hunt tells from one that is hidden, itself among them."""
        every = [Place(state, *pair) for state in STATES for pair in self.table.pairs]
        return self.left_by(fault, every)

    def telling(self, fault: str, places) -> tuple[tuple[Place, int], ...]:
        """Return some places with how many faults a reading there leaves where one is hidden, the fewest first.

        Of those that leave as many, the one that is furthest from what a sound stage reads comes first.
        """
        counted = [(place, int(self._explained(fault, place).sum())) for place in places]
        return tuple(sorted(counted, key=lambda entry: (entry[1], -self._off(fault, entry[0]))))

    def _off(self, fault, place):
        """Return by how many times the meter's error a reading is off from that of a sound stage [-]."""
        sound = self.sound(place)
        return abs(self.shown(fault, place) - sound) / float(self.table.meter.error(sound))

    def _explained(self, fault, place):
        """Return for each fault whether it may be what is shown at a place where one is hidden."""
        values = self.table.of(place.state, place.red, place.black)
        return self.table.explained(self.shown(fault, place), values)

    def _all_shown(self, place):
        """Return what the meter shows at a place with each fault, kept for the next time [V]."""
        if place not in self._known:
            self._known[place] = self._worked_out(place)
        return self._known[place]

    def _worked_out(self, place):
        """Return what the meter shows at a place of this stage with each fault [V]."""
        values = self.table.of(place.state, place.red, place.black)
        meter = self.table.meter
        step = meter.range_of(values) / _COUNTS
        shown = values + self._share(place) * (meter.error(values) - 0.5 * step)  # with what rounding to steps adds
        return np.round(shown / step) * step

    def _share(self, place):
        """Return the share of what the meter may err that it errs by at a place, from -1 to 1 [-]."""
        ends = sorted((place.red, place.black))
        text = "\0".join(ends).encode()
        drawn = int.from_bytes(hmac.digest(self._secret, text, hashlib.sha256)[:6]) / 2**48
        share = 2.0 * drawn - 1.0
        return share if ends[0] == place.red or self.alternating(place) else -share

    def alternating(self, place: Place) -> bool:
        """Return whether a place is read on an alternating range, which minds no order of the leads."""
        return self.table.coupling(place.red, place.black) == "ac"


def _table_of(scenario):
    """Return all readings of a stage."""
    try:
        return all_readings(scenario)
    except ConvergenceError as error:
        raise _unplayable("what the meter shows with one of its faults cannot be worked out") from error


def _unplayable(reason):
    """Return the error of a stage that as a whole is no good for a hunt."""
    return ScenarioError([Problem("", "", "another stage", reason)])


@lru_cache(maxsize=64)
def bench_of(query: str, secret: bytes) -> Bench:
    """Return the bench of a hunt; raises ScenarioError where its stage cannot be read by this version."""
    return Bench(scenario_from_query(query), secret)
