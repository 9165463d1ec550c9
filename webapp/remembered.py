"""Answers that many ask for at the same time: worked out once, and remembered for a while.

Only for answers that follow from the request's address alone. Bounded by their bytes; whatever was not asked for
longest is forgotten first.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass

from starlette.responses import Response

MOST_BYTES = 16_000_000
"""Bytes of all answers that are remembered."""


_BESIDES = 1000  # bytes of an answer's headers and of its place


@dataclass(frozen=True, slots=True)
class _Answer:
    """An answer as it was sent, and about how many bytes it takes with what was asked."""

    body: bytes
    headers: tuple
    size: int

    def again(self) -> Response:
        """Return the answer once more."""
        answer = Response(self.body)
        answer.raw_headers = list(self.headers)
        return answer


class Remembered:
    """Answers by what was asked.

    Parameters
    ----------
    most : int
        Bytes of all answers together.
    """

    def __init__(self, most: int = MOST_BYTES) -> None:
        self._most, self._size = most, 0
        self._answers: OrderedDict[Hashable, _Answer] = OrderedDict()
        self._lock = threading.Lock()
        self._making = tuple(threading.Lock() for _ in range(16))

    def answer(self, asked: Hashable, make: Callable[[], Response]) -> Response:
        """Return the answer to what was asked; of those that ask for the same at once, one works it out.

        What is no plain success is not remembered.
        """
        if known := self._known(asked):
            return known.again()
        with self._making[hash(asked) % len(self._making)]:
            if known := self._known(asked):
                return known.again()
            answer = make()
            if answer.status_code == 200:
                size = len(answer.body) + len(str(asked)) + _BESIDES
                self._keep(asked, _Answer(bytes(answer.body), tuple(answer.raw_headers), size))
            return answer

    def _known(self, asked):
        """Return an answer that is remembered."""
        with self._lock:
            known = self._answers.get(asked)
            if known:
                self._answers.move_to_end(asked)
            return known

    def _keep(self, asked, answer):
        """Remember an answer, and forget what does not fit any more."""
        with self._lock:
            self._answers[asked] = answer
            self._size += answer.size
            while self._size > self._most:
                _, gone = self._answers.popitem(last=False)
                self._size -= gone.size
