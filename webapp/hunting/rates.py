"""How often somebody may ask: allowances that fill up again with time, in memory."""

import threading
import time
from collections import OrderedDict
from dataclasses import dataclass, field

MOST_KEYS = 10_000
"""How many are remembered; whoever has not asked for longest is forgotten, as if never seen."""


class Allowance:
    """So many requests at once, and so many a second afterwards, for each key.

    Parameters
    ----------
    at_once : float
        Requests that may come together.
    per_second : float
        Requests a second that may go on for ever.
    clock : callable
        The time [s].
    """

    def __init__(self, at_once: float, per_second: float, clock=time.monotonic) -> None:
        self._at_once, self._per_second, self._clock = at_once, per_second, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def without(self, key: str) -> float:
        """Return what `wait_for` would, without counting anything."""
        with self._lock:
            now = self._clock()
            left, then = self._left.get(key, (self._at_once, now))
            return max(0.0, 1.0 - min(self._at_once, left + (now - then) * self._per_second)) / self._per_second

    def wait_for(self, key: str) -> float:
        """Return how long `key` has to wait until it may ask again, in seconds; 0 where it may now, which counts."""
        with self._lock:
            now = self._clock()
            left, then = self._left.pop(key, (self._at_once, now))
            left = min(self._at_once, left + (now - then) * self._per_second)
            granted = left >= 1.0
            self._left[key] = (left - granted, now)
            while len(self._left) > MOST_KEYS:
                self._left.popitem(last=False)
            return 0.0 if granted else (1.0 - left) / self._per_second


@dataclass(frozen=True, slots=True)
class Rates:
    """What one running application allows.

    Attributes
    ----------
    making : Allowance
        Hunts, by everybody together.
    joining : Allowance
        Names in one hunt.
    reading : Allowance
        Readings of one name.
    answering : Allowance
        Answers of one name.
    logging : Allowance
        Logbooks begun, by everybody together.
    entering : Allowance
        Entries of one logbook.
    keeping : Allowance
        Scenarios and other documents that are newly kept from one address; a class may share it.
    keeping_all : Allowance
        The same by everybody together.
    saving : Allowance
        Revisions of one document.
    leading : Allowance
        Classes made from one address.
    leading_all : Allowance
        The same by everybody together.
    moving : Allowance
        Scenarios shown to one class.
    guessing : Allowance
        Codes that no class has, tried from one address, which a class may share.
    """

    making: Allowance = field(default_factory=lambda: Allowance(40, 0.5))
    joining: Allowance = field(default_factory=lambda: Allowance(80, 4.0))
    reading: Allowance = field(default_factory=lambda: Allowance(40, 8.0))
    answering: Allowance = field(default_factory=lambda: Allowance(4, 0.2))
    logging: Allowance = field(default_factory=lambda: Allowance(40, 0.5))
    entering: Allowance = field(default_factory=lambda: Allowance(20, 0.5))
    keeping: Allowance = field(default_factory=lambda: Allowance(60, 0.1))
    keeping_all: Allowance = field(default_factory=lambda: Allowance(200, 1.0))
    saving: Allowance = field(default_factory=lambda: Allowance(30, 1.0))
    leading: Allowance = field(default_factory=lambda: Allowance(20, 0.02))
    leading_all: Allowance = field(default_factory=lambda: Allowance(200, 0.5))
    moving: Allowance = field(default_factory=lambda: Allowance(40, 12.0))
    guessing: Allowance = field(default_factory=lambda: Allowance(60, 1.0))
