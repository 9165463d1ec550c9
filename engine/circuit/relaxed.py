"""The last resort for circuits on which Newton's method runs in circles: every node with a capacitor, let go.

The elements are passive and monotone, so a circuit with a capacitor from every node to its reference comes to rest
where the circuit without them stands. A stiff integrator follows it there; it is slow and does not get lost.
"""

import numpy as np
from scipy.integrate import solve_ivp

_C = 1e-6  # [F], of every node
_REST = 1e6  # [s], after which all has come to rest: more than 100 Mohm times the capacitors
_STEPS, _STRIDE = 60, 0.1  # of Newton's method from where it rests; how far each may go [V]
_CLOSE = 1e-11  # [V], step of Newton's method that is as good as none
_MOST = 1e30  # [A or S], where an exponential is cut off
_MOST_ASKED = 20_000  # times that a circuit is evaluated before it is given up
_AT_REST = 1e-10  # [A], what the current law may leave over


class Alone:
    """One circuit of a batch: what its nodes lose at given voltages, and how that changes with them.

    Parameters
    ----------
    evaluate : callable
        From device list and control voltages, shape (1, controls), to branch currents and slopes.
    system : object
        Linear part, drive and held voltages of the batch, with its topology.
    devices : list
        The devices of this circuit alone.
    k : int
        Which member it is.
    """

    def __init__(self, evaluate, system, devices, k):
        self.evaluate, self.devices, self.shape = evaluate, devices, system.topology
        self.linear, self.drive, self.held = system.linear[k], system.drive[k], system.held[k]
        self.free, self.asked = len(self.shape.free), 0

    def _currents(self, x):
        """Return currents and slopes of all branches; what a step too long makes of an exponential stays a number."""
        self.asked += 1
        if self.asked > _MOST_ASKED:
            raise ValueError("no rest is in sight")
        found = self.evaluate(self.devices, np.concatenate([x, self.held])[None] @ self.shape.controls.T)
        return tuple(np.nan_to_num(np.clip(numbers, -_MOST, _MOST), nan=_MOST) for numbers in found)

    def leaving(self, x):
        """Return what leaves every node.

        Parameters
        ----------
        x : ndarray, shape (free,)
            Voltages of the free nodes [V].

        Returns
        -------
        ndarray, shape (free,)
            Current; nothing where the circuit stands still [A].
        """
        currents, _ = self._currents(x)
        return self.linear @ x - self.drive + (currents @ self.shape.branches[:, : self.free])[0]

    def slopes(self, x):
        """Return how that changes with the voltages.

        Parameters
        ----------
        x : ndarray, shape (free,)
            Voltages of the free nodes [V].

        Returns
        -------
        ndarray, shape (free, free)
            Conductances [S].
        """
        _, slopes = self._currents(x)
        return self.linear + (slopes @ self.shape.slot_into_matrix).reshape(self.free, self.free)

    def at_rest(self, starts):
        """Return the voltages at which the circuit stands still.

        Parameters
        ----------
        starts : list of ndarray, shape (free,)
            Voltages of circuits like this one, to try first [V].

        Returns
        -------
        ndarray, shape (free,)
            Voltages of the free nodes [V].
        """
        for start in starts:
            found = self._polished(start)
            if np.abs(self.leaving(found)).max() <= _AT_REST:
                return found
        try:
            path = solve_ivp(
                lambda _, x: -self.leaving(x) / _C, (0.0, _REST), np.zeros(self.free), method="Radau",
                jac=lambda _, x: -self.slopes(x) / _C, rtol=1e-4, atol=1e-6,
            )  # fmt: skip
            return self._polished(path.y[:, -1])
        except ValueError:  # a device answered with what is no number, or it takes too long
            return np.full(self.free, np.nan)

    def _polished(self, x):
        """Return voltages brought to the solution by short steps of Newton's method, where they lead there."""
        for _ in range(_STEPS):
            try:
                step = np.linalg.solve(self.slopes(x), -self.leaving(x))
            except np.linalg.LinAlgError:
                return x
            x = x + np.clip(step, -_STRIDE, _STRIDE)
            if not np.abs(step).max() > _CLOSE:
                break
        return x
