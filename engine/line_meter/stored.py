"""Capacitors in the loop of a line: circuits followed from instant to instant until they repeat.

The loop of `engine.cycle` is solved as a whole and knows sound parts only; here any circuit is led through the line's
cycles, which takes longer.
"""

from dataclasses import replace

import numpy as np

from engine.circuit import Storage, solve
from engine.cycle import BRIDGE

STEPS = 36
"""Steps of a cycle."""

_ROUNDS = 2  # in each of them a few cycles, then a leap to where they lead
_CYCLES = 3
_LAST = 1  # cycles after the last leap
_WORTH = 1e-3  # [V], least move of a capacitor in a cycle that is worth a leap
_FARTHEST = 60.0  # [-], cycles that a leap goes at the most
_AT_REST = 1e-12  # [F], what is left of an open capacitor


def with_capacities(netlist, capacities, volts):
    """Return circuits whose capacitors carry their capacitance.

    Parameters
    ----------
    netlist : Netlist
        Circuits at one instant.
    capacities : dict of str to ndarray, shape (batch,)
        Part to its capacitance [F].
    volts : dict of str to ndarray, shape (batch,)
        Part to the voltage that it begins with, where the line rises through zero [V].

    Returns
    -------
    Netlist
        Circuits whose `Storage` has its capacitance in place of a conductance.
    """
    none = np.zeros(netlist.batch)
    devices = (
        Storage(d.part, d.a, d.b, volts[d.part].copy(), none, capacities[d.part].copy())
        if isinstance(d, Storage)
        else d
        for d in netlist.devices
    )
    return replace(netlist, devices=tuple(devices))


def followed(scenario, netlist):
    """Return the potentials of circuits over one cycle of the line that repeats.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    netlist : Netlist
        Circuits of the input side, as `with_capacities` gives them, the source of the line at its crest.

    Returns
    -------
    dict of str to ndarray, shape (STEPS, batch)
        Node to its potential, references included [V].

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Backward differences of second order, of first order in the first step of all and after each leap. Three cycles
    show how fast each capacitor nears its rest; a geometric series leads there, within the crest of the line. Whatever
    takes more than some hundred cycles to settle may not have settled.

    References
    ----------
    C. W. Gear, Numerical Initial Value Problems in Ordinary Differential Equations, 1971 (the formula; from memory);
    A. C. Aitken's extrapolation of a geometric series, from memory.
    """
    run = _Run(netlist, 1.0 / (scenario.input.f * STEPS))
    crest = netlist.sources["VS"][1]
    for _ in range(_ROUNDS):
        ends = []
        for _ in range(_CYCLES):
            run.cycle()
            ends.append(dict(run.now))
        run.leap({part: _ahead(*(end[part] for end in ends), crest, scenario.input) for part in run.now})
    for _ in range(_LAST):
        found = run.cycle()
    return found


def _ahead(first, second, third, crest, side):
    """Return where three voltages at the ends of cycles lead, within the crest of the line."""
    before, last = second - first, third - second
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(np.abs(before) > _WORTH, last / before, 0.0)
        far = np.where((share > 0.0) & (share < 1.0), share / (1.0 - share), 0.0)
    lowest = 0.0 if side.form == BRIDGE and side.CS != "none" and not side.capacitive else -crest
    return np.clip(third + np.minimum(far, _FARTHEST) * last, lowest, crest)


class _Run:
    """Circuits on their way through the cycles."""

    def __init__(self, netlist, h):
        self.netlist, self.h = netlist, h
        self.capacitors = [d for d in netlist.devices if isinstance(d, Storage)]
        self.now = {d.part: d.volts for d in self.capacitors}
        self.before = self.last = None

    def leap(self, volts):
        """Put every capacitor at a voltage."""
        self.now, self.before = volts, None

    def cycle(self):
        """Go through one cycle of the line; return potentials, shape (STEPS, batch) each."""
        node, crest = self.netlist.sources["VS"]
        found = {}
        for k in range(STEPS):
            v = crest * np.sin(2.0 * np.pi * (k + 1) / STEPS)
            voltages = self.last = solve(self._at(node, v), self.last).voltages
            for name, volts in voltages.items():
                found.setdefault(name, np.empty((STEPS, self.netlist.batch)))[k] = volts
            self.before, self.now = (
                self.now,
                {d.part: voltages[d.a] - voltages[d.b] for d in self.capacitors},
            )
        return found

    def _at(self, node, v):
        """Return the circuits of the next instant: each capacitor a voltage behind a conductance."""
        devices = []
        for device in self.netlist.devices:
            if isinstance(device, Storage):
                C, now = np.maximum(device.G, _AT_REST), self.now[device.part]
                if self.before is None:
                    volts, G = now, C / self.h
                else:
                    volts, G = (4.0 * now - self.before[device.part]) / 3.0, 1.5 * C / self.h
                device = replace(device, volts=volts, current=np.zeros_like(volts), G=G)
            devices.append(device)
        return replace(self.netlist, sources=self.netlist.sources | {"VS": (node, v)}, devices=tuple(devices))
