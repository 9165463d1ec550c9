"""Answers that take long, kept, and worked out once however many ask for the same one at the same time."""

import threading
from contextlib import contextmanager
from functools import lru_cache, wraps


def once(most):
    """Return a decorator that keeps the last answers of a function of one hashable argument.

    Whoever asks for what another thread is working out waits for it; other arguments do not wait. A failure is not
    kept: the next one that waits tries again.

    Parameters
    ----------
    most : int
        How many answers are kept [-].

    Returns
    -------
    callable
        The decorator; what it returns has the `cache_info` of `functools.lru_cache`.

    Examples
    --------
    >>> once(4)(len)("abc")
    3
    """

    def kept_once(work):
        kept, turns = lru_cache(maxsize=most)(work), _Turns()

        @wraps(work)
        def asked(key):
            with turns.of(key):
                return kept(key)

        asked.cache_info = kept.cache_info
        return asked

    return kept_once


class _Turns:
    """A lock for every argument that is asked for at present, so no more of them than threads that ask."""

    def __init__(self):
        self._guard, self._locks, self._asking = threading.Lock(), {}, {}

    @contextmanager
    def of(self, key):
        """Let one thread after the other through for an argument."""
        with self._guard:
            lock = self._locks.setdefault(key, threading.Lock())
            self._asking[key] = self._asking.get(key, 0) + 1
        try:
            with lock:
                yield
        finally:
            with self._guard:
                self._asking[key] -= 1
                if not self._asking[key]:
                    del self._asking[key], self._locks[key]
