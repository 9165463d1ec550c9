"""The alternating-current loop of an LED: line voltage, dropper, rectifying form, smoothing; solved over a period.

The voltage rectified in one of four ways: two LEDs back to back (`pair`), a bridge of silicon diodes before the LED
(`bridge`), a silicon diode antiparallel to the LED (`diode`), the LED by itself (`bare`), which then meets the other
half cycle backwards. Before it a resistor, with or without a capacitor in
series; behind a bridge a smoothing capacitor may follow. Batched; SI floats only.
"""

from dataclasses import dataclass, replace

import numpy as np

from engine.cycle.branch import Diode, series
from engine.cycle.steady import periodic
from engine.cycle.waveform import average, phases, rms

PAIR, BRIDGE, DIODE, BARE = FORMS = ("pair", "bridge", "diode", "bare")
HALF_WAVE = DIODE, BARE
"""Forms in which the LED has one half cycle only."""

INSTANTS = 256
_SELF_DISCHARGE = 1e4  # [s], time constant of a capacitor left alone; common practice for film capacitors, no source


@dataclass(frozen=True, slots=True)
class AcLoop:
    """A batch of loops of one shape.

    Attributes
    ----------
    form : str
        How the voltage is rectified: "pair", "bridge", "diode" or "bare".
    V : ndarray, shape (batch,)
        Line voltage, rms [V].
    f : ndarray, shape (batch,)
        Line frequency [Hz].
    R1 : ndarray, shape (batch,)
        All resistance in series with the line, above zero [ohm].
    led : Diode
        The LED, or either one of a pair.
    rectifier : Diode
        A diode of the bridge, or the antiparallel one; a pair and a bare LED have none.
    CD : ndarray or None, shape (batch,)
        Capacitor in series with R1; without it the resistor drops the voltage alone [F].
    RB : ndarray or None, shape (batch,)
        Bleeder across CD; None is none [ohm].
    CS : ndarray or None, shape (batch,)
        Smoothing capacitor behind the bridge [F].
    RF : ndarray or None, shape (batch,)
        Resistor between CS and the LED, above zero [ohm].
    """

    form: str
    V: np.ndarray
    f: np.ndarray
    R1: np.ndarray
    led: Diode
    rectifier: Diode
    CD: np.ndarray | None = None
    RB: np.ndarray | None = None
    CS: np.ndarray | None = None
    RF: np.ndarray | None = None

    @property
    def crest(self):
        """Return the largest voltage of the line [V]."""
        return np.sqrt(2.0) * self.V

    @property
    def capacities(self):
        """Return the capacitances that hold its state, CD before CS, shape (batch, states) [F]."""
        found = [C for C in (self.CD, self.CS) if C is not None]
        return np.stack(found, axis=1) if found else np.zeros((len(self.V), 0))

    def line(self, instants=INSTANTS):
        """Return the line voltage over one period.

        Parameters
        ----------
        instants : int
            How many instants [-].

        Returns
        -------
        ndarray, shape (batch, instants)
            Voltage [V].
        """
        return self.crest[:, None] * np.sin(2.0 * np.pi * phases(instants))

    def forward(self):
        """Return what the current passes in the half cycle that lights the LED, up to CS where there is one.

        Returns
        -------
        Branch
            R1, LED and the diodes in its way.
        """
        if self.CS is not None:
            return series(self.R1, self.rectifier.twice())
        return series(self.R1, self.led, self.rectifier.twice()) if self.form == BRIDGE else series(self.R1, self.led)

    def backward(self):
        """Return what the current passes in the other half cycle.

        Returns
        -------
        Branch
            The same, or the antiparallel diode with R1.
        """
        return series(self.R1, self.rectifier) if self.form == DIODE else self.forward()

    def behind(self):
        """Return what CS feeds.

        Returns
        -------
        Branch
            RF and LED.
        """
        return series(self.RF, self.led)

    def taken(self, index):
        """Return some members of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        AcLoop
            The loops of these members.
        """
        values = {name: getattr(self, name) for name in ("V", "f", "R1", "CD", "RB", "CS", "RF")}
        some = {name: value[index] for name, value in values.items() if value is not None}
        return replace(self, led=self.led.taken(index), rectifier=self.rectifier.taken(index), **some)


@dataclass(frozen=True, slots=True)
class Cycle:
    """Waveforms of one period, and the power of each part averaged over it.

    Attributes
    ----------
    v : ndarray, shape (batch, time)
        Line voltage [V].
    i : ndarray, shape (batch, time)
        Current of R1 [A].
    IF : ndarray, shape (batch, time)
        Current through an LED that gives light, of a pair either one's; never negative [A].
    VF : ndarray, shape (batch, time)
        Voltage of the LED that gives light [V].
    v_CD : ndarray or None, shape (batch, time)
        Voltage of the series capacitor [V].
    v_CS : ndarray or None, shape (batch, time)
        Voltage of the smoothing capacitor [V].
    powers : dict of str to ndarray, shape (batch,)
        Average power of "R1", "LED" (both of a pair), "diodes", "RB", "RF" and "capacitors" (their own leakage), as
        far as there are such parts [W].
    delivered : ndarray, shape (batch,)
        Average power that the line delivers [W].
    iterations : int
        Newton iterations; 0 where there is no capacitor [-].
    """

    v: np.ndarray
    i: np.ndarray
    IF: np.ndarray
    VF: np.ndarray
    v_CD: np.ndarray | None
    v_CS: np.ndarray | None
    powers: dict
    delivered: np.ndarray
    iterations: int


def over_the_cycle(loop, instants=INSTANTS):
    """Return the steady state of a loop over one period of the line.

    Parameters
    ----------
    loop : AcLoop
        The loops.
    instants : int
        Instants per period, a multiple of four [-].

    Returns
    -------
    Cycle
        Waveforms and average powers.

    Raises
    ------
    ConvergenceError
        If no steady state was found, which would be a defect.

    Notes
    -----
    Without capacitors every instant stands alone and is a closed form. With them the voltages of the capacitors over
    the whole period are the unknowns; everything else follows from them in closed form at every instant. A blocked
    LED, and a blocked diode before an LED, carry nothing.

    References
    ----------
    Derived here, on the device equations of `engine.devices`.
    """
    v = loop.line(instants)
    if loop.CD is None and loop.CS is None:
        return _described(loop, v, None, None, 0)
    x, iterations = periodic(rates_in(loop, v), loop.capacities, _start(loop, v), 1.0 / (loop.f * instants))
    v_CD = x[:, :, 0] if loop.CD is not None else None
    v_CS = x[:, :, -1] if loop.CS is not None else None
    return _described(loop, v, v_CD, v_CS, iterations)


def rates_in(loop, v):
    """Return what flows into the capacitors at given instants, as a function of their voltages.

    Parameters
    ----------
    loop : AcLoop
        The loops.
    v : ndarray, shape (batch, time)
        Line voltage at the instants [V].

    Returns
    -------
    callable
        From voltages of shape (batch, time, states) and the members they belong to, currents and slopes, as
        `steady.periodic` takes it.
    """

    def rates(x, members):
        fewer = len(members) < len(v)
        return _rates(loop.taken(members) if fewer else loop, v[members], x)

    return rates


def light(loop, v, x):
    """Return the current of the LED that gives light, at given instants.

    Parameters
    ----------
    loop : AcLoop
        The loops.
    v : ndarray, shape (batch, time)
        Line voltage [V].
    x : ndarray, shape (batch, time, states)
        Voltages of the capacitors, as far as there are any [V].

    Returns
    -------
    ndarray, shape (batch, time)
        Current, never negative [A].
    """
    if loop.CS is not None:
        return np.maximum(loop.behind().current(x[:, :, -1])[0], 0.0)
    e = v - x[:, :, 0] if loop.CD is not None else v
    return _passed(loop, e, _one_way(loop, e)[0])


def _passed(loop, e, i):
    """Return what passes an LED that lies in the way of the current of R1."""
    if loop.form == DIODE:
        return _lit(loop, e, i)
    return np.maximum(i, 0.0) if loop.form == BARE else np.abs(i)


def _one_way(loop, e):
    """Return the current of R1 and its slope, where the LED is in its way: from the voltage across all of it."""
    ahead, back = loop.forward(), loop.backward()
    if loop.form == BARE:
        return ahead.current(e)
    if loop.form != DIODE:
        current, slope = ahead.current(np.abs(e))
        return np.sign(e) * current, slope
    backward, g_backward = back.current(-e)
    leak, g_leak = _leak(e, backward, g_backward)
    forward, g_forward = ahead.current(np.maximum(e, 0.0) - loop.R1[:, None] * leak)
    slope = np.where(e > 0.0, g_forward * (1.0 - loop.R1[:, None] * g_leak) + g_leak, g_backward)
    return np.where(e > 0.0, np.maximum(forward, 0.0), 0.0) - backward, slope


def _leak(e, backward, slope):
    """Return what the antiparallel diode lets through backwards while the LED has the voltage, and its slope.

    It is the diode's saturation current, which matters beside a faint LED current when it is hot.
    """
    return np.where(e > 0.0, -backward, 0.0), np.where(e > 0.0, slope, 0.0)


def _rates(loop, v, x):
    """Return the currents into the capacitors and their slopes, at every instant."""
    slopes = np.zeros((*x.shape, x.shape[2]))
    currents = np.empty_like(x)
    e = v - x[:, :, 0] if loop.CD is not None else v
    if loop.CS is None:
        currents[:, :, 0], slope = _one_way(loop, e)
        slopes[:, :, 0, 0] = -slope
    else:
        branch, v_CS = loop.forward(), x[:, :, -1]
        (there, g_there), (back, g_back) = branch.current(e - v_CS), branch.current(-e - v_CS)
        drawn, g_drawn = loop.behind().current(v_CS)
        currents[:, :, 0] = there - back
        slopes[:, :, 0, 0], slopes[:, :, 0, -1] = -(g_there + g_back), g_back - g_there
        slopes[:, :, -1, 0] = g_back - g_there
        currents[:, :, -1] = there + back - drawn
        slopes[:, :, -1, -1] = -(g_there + g_back) - g_drawn
    for k, loss in enumerate(_losses(loop)):
        currents[:, :, k] -= loss[:, None] * x[:, :, k]
        slopes[:, :, k, k] -= loss[:, None]
    return currents, slopes


def _losses(loop):
    """Return the conductance across each capacitor: its own, which keeps its voltage defined, and the bleeder's."""
    for capacitor, across in ((loop.CD, loop.RB), (loop.CS, None)):
        if capacitor is not None:
            yield capacitor / _SELF_DISCHARGE + (0.0 if across is None else 1.0 / across)


def _start(loop, v):
    """Return voltages to begin with: those of the linear circuit, and of a smoothing capacitor at its average."""
    starts = []
    drop = v
    if loop.CD is not None:
        admittance = next(_losses(loop)) + 2j * np.pi * loop.f * loop.CD
        share = 1.0 / (1.0 + loop.R1 * admittance)
        angle = 2.0 * np.pi * phases(v.shape[1])
        starts.append(loop.crest[:, None] * np.imag(share[:, None] * np.exp(1j * angle)))
        drop = v - starts[0]
    if loop.CS is not None:
        mean = average(np.abs(drop)) / loop.R1
        starts.append(loop.behind().voltage(mean[:, None]) * np.ones_like(v))
        starts[-1] = np.minimum(starts[-1], loop.crest[:, None])
    return np.stack(starts, axis=2)


def _described(loop, v, v_CD, v_CS, iterations):
    """Return the record for solved capacitor voltages."""
    e = v if v_CD is None else v - v_CD
    if v_CS is None:
        i, _ = _one_way(loop, e)
        IF = _passed(loop, e, i)
        powers = _rectified(loop, i, IF)
    else:
        branch = loop.forward()
        there, back = (branch.current(across - v_CS)[0] for across in (e, -e))
        i = there - back
        IF = np.maximum(loop.behind().current(v_CS)[0], 0.0)
        left = (e - v_CS) * there + (-e - v_CS) * back
        powers = {"diodes": average(left) - loop.R1 * average(i**2), "RF": loop.RF * rms(IF) ** 2}
    VF = loop.led.drop(IF)
    powers |= {"R1": loop.R1 * rms(i) ** 2, "LED": average(VF * IF)}
    if loop.RB is not None:
        powers |= {"RB": rms(v_CD) ** 2 / loop.RB}
    lost = [c / _SELF_DISCHARGE * rms(x) ** 2 for c, x in ((loop.CD, v_CD), (loop.CS, v_CS)) if c is not None]
    powers |= {"capacitors": sum(lost)} if lost else {}
    return Cycle(v, i, IF, VF, v_CD, v_CS, powers, average(v * i), iterations)


def _lit(loop, e, i):
    """Return the current of an LED with an antiparallel diode."""
    leak, _ = _leak(e, *loop.backward().current(-e))
    return np.maximum(np.where(e > 0.0, i - leak, 0.0), 0.0)


def _rectified(loop, i, IF):
    """Return the power of the silicon diodes, where there are any."""
    if loop.form == BRIDGE:
        return {"diodes": average(loop.rectifier.twice().drop(IF) * IF)}
    if loop.form != DIODE:
        return {}
    back = np.maximum(-i, 0.0)
    leaking = np.maximum(i, 0.0) - IF
    return {"diodes": average(loop.rectifier.drop(back) * back + loop.led.drop(IF) * leaking)}
