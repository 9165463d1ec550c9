"""A fixed piece of work, to tell how fast the machine is at the moment: a shared one changes by half within minutes."""

import time

import numpy as np

_SMALL = np.linspace(0.0, 1.0, 100)


def yardstick():
    """Return how long a thousand operations on small arrays and ten thousand in plain Python take now, in ms."""
    start = time.perf_counter()
    for _ in range(1_000):
        np.exp(_SMALL)
    total = 0
    for number in range(10_000):
        total += number * number
    return (time.perf_counter() - start) * 1e3
