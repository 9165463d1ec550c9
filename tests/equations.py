"""The stage as a set of equations of its own, for the engine to be compared with.

Written from the published device equations and solved by general root finders. Only parameter numbers come from
the engine: calibrated LED and detector, sized resistors, limits of a receiver.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator
from scipy.optimize import brentq, root
from scipy.special import wrightomega

from engine.diodes import COLOURS, SILICON
from engine.sizing import size

BOLTZMANN = 1.380649e-23  # [J/K]
ELEMENTARY_CHARGE = 1.602176634e-19  # [C]
ROOM = 298.15  # [K]
DETECTOR_IS, DETECTOR_GAP, BETA_R = 5e-14, 1.12, 8.0  # [A, V, -], the detector's numbers that no card carries
LARGEST = 1e-9  # largest relative residual of a solved set of equations


def VT(T):
    """Return the thermal voltage [V]."""
    return BOLTZMANN * T / ELEMENTARY_CHARGE


@dataclass(frozen=True)
class Diode:
    """Shockley's equation with a series resistance."""

    IS: float
    nVT: float
    RS: float

    def volts(self, current):
        """Return the voltage at a current."""
        return self.nVT * math.log1p(current / self.IS) + self.RS * current

    @classmethod
    def of(cls, led, T, shift=0.0):
        """Return a calibrated LED at its temperature, with a forward voltage that is higher by `shift`."""
        gap = led.activation / led.n * (1 / VT(ROOM) - 1 / VT(T))
        IS = led.IS * (T / ROOM) ** (3 / led.n) * math.exp(gap) * math.exp(-shift / (led.n * VT(T)))
        return cls(IS, led.n * VT(T), led.RS)


@dataclass(frozen=True)
class Values:
    """What varies from one corner to the next."""

    VS: float
    R1: float
    CTR: float
    VCC: float
    RL: float
    shift: float = 0.0
    ICEO: float | None = None  # the card's typical one
    down: float = 0.0
    up: float = 0.0
    RB: float | None = None  # where there is none
    limit: float | None = None

    @classmethod
    def nominal(cls, scenario):
        """Return the values of the nominal stage."""
        sized, side = size(scenario), scenario.input
        CTR = scenario.coupling.ratios()[0]
        return cls(
            side.VS, sized["R1"].chosen, CTR, scenario.output.VCC, sized["RL"].chosen,
            RB=None if side.R_bypass == "none" else side.R_bypass, limit=side.IF if side.kind == "limited" else None,
        )  # fmt: skip


KNOWN = {
    "in": ("contact-low", "contact-high", "sinking", "sourcing", "two-wire", "logic", "limited"),
    "out": ("pull-up", "pull-down", "indicator"),
}
"""Kinds of sides that the equations here know: drives with a bypass, diodes, a zener diode, an indicator in series and
a resistor inside; ports at their rail."""


class Loop:
    """The loop of the LED with all that stands around it, solved for the LED current by bracketing."""

    def __init__(self, side, values, closed, led, T):
        self.side, self.values, self.closed, self.led = side, values, closed, led
        self.VT = VT(T)
        self.series = [Diode.of(SILICON, T)] * int(side.diodes)
        if side.lamp != "none" and side.lamp_at == "series":
            self.series.append(Diode.of(COLOURS[side.lamp], T))

    def current(self):
        """Return the LED current."""
        if self.left(0.0) <= 0:
            return 0.0
        highest = self.values.VS / self.values.R1
        return brentq(self.left, 0.0, highest, xtol=1e-22, rtol=1e-14, maxiter=1000)

    def bypass(self, where):
        """Return the conductance of the bypass, if it lies there."""
        return 1.0 / self.values.RB if self.values.RB and self.side.bypass_at == where else 0.0

    def left(self, IF):
        """Return what an LED current leaves of the supply; it falls as the current rises."""
        inside = 0.0 if self.side.R_inside == "none" else self.side.R_inside
        VA = self.led.volts(IF) + inside * IF
        I1 = IF + VA * self.bypass("led")
        across = VA + sum(diode.volts(I1) for diode in self.series) + self.values.R1 * I1
        if self.side.VZ != "none":
            across += self.breakdown(I1)
        return self.values.VS - across - self.switch(I1 + across * self.bypass("input"))

    def breakdown(self, current):
        """Return the voltage of the zener diode: two thermal voltages at 25 degC more with each e-fold."""
        nVT = 2.0 * VT(ROOM)
        return self.side.VZ + nVT * math.log(current / self.side.IF + math.exp(-self.side.VZ / nVT))

    def switch(self, current):
        """Return the voltage of what switches, which may be without bounds."""
        side = self.side
        if side.kind == "logic":
            return current * side.R_port if self.closed else math.inf
        if side.kind in ("sinking", "sourcing", "two-wire"):
            return self.sensor(current)
        volts = _saturating(current, self.values.limit, side.V_dropout / 3.0) if side.kind == "limited" else 0.0
        G = self.bypass("switch") + (0.0 if side.R_leak == "none" else 1.0 / side.R_leak)
        G += 1.0 / side.R_contact if self.closed else 0.0
        if not G:
            return math.inf
        return volts + current * (side.R_line + 1.0 / G)

    def sensor(self, current):
        """Return the voltage of a sensor, on or off; a two-wire one feeds on what it leaks."""
        if self.closed:
            soft = 2 * self.VT
            return soft * math.log1p(current / self.side.IF * math.expm1(self.side.V_on / soft))
        return _saturating(current, self.side.I_off, 0.5 if self.side.kind == "two-wire" else self.VT)


def _saturating(current, most, scale):
    """Return the voltage at which a current that is bounded flows."""
    return -scale * math.log1p(-current / most) if most and current < most else math.inf


class Stage:
    """One stage in one switch state: loop of the LED, light path, detector and load.

    Unknowns are the junction voltages in units of nVT and the voltage across the collector region in units of VT.
    """

    def __init__(self, scenario, values, closed):
        card, model = scenario.coupling.model.card, scenario.coupling.model
        self.scenario, self.values, self.closed = scenario, values, closed
        self.T = T = scenario.conditions.TA + 273.15
        self.VT = VT(T)
        self.led = Diode.of(model.led, T, values.shift)
        self.law = _light(model, values.CTR, T)
        self.IS = DETECTOR_IS * (T / ROOM) ** 3 * math.exp(DETECTOR_GAP * (1 / VT(ROOM) - 1 / VT(T)))
        self.beta, self.VA, self.RC = card.beta, card.VA, model.RC
        self.gamma = model.gamma * self.IS / DETECTOR_IS
        ICEO = card.ICEO if values.ICEO is None else values.ICEO
        amplified = 1 + card.beta * (1 + card.ICEO_VCE / card.VA)
        self.dark = ICEO / amplified * 2 ** ((T - ROOM) / card.ICEO_doubling)
        self.around = _around(scenario.input)
        self.given = Loop(scenario.input, values, closed, self.led, T).current() if self.around else None
        self.sensor = scenario.input if scenario.input.kind in ("sinking", "sourcing") and not self.around else None
        self.V_loop, self.R_loop = (0.0, math.inf)
        if not self.around:
            self.V_loop, self.R_loop = (values.VS, values.R1) if self.sensor else _loop(scenario.input, values, closed)
        self.kind = scenario.output.kind
        self.leak_down, self.leak_up = getattr(scenario.output, "leakage", (0.0, 0.0))
        self.lamp = Diode.of(COLOURS[scenario.output.colour], T) if self.kind == "indicator" else None

    # ------------------------------------------------------------ laws

    def IF(self, y):
        """Return the LED current at a junction voltage of y nVT."""
        return self.led.IS * math.expm1(y)

    def base_currents(self, be, bi):
        """Return the base's currents into emitter and inner collector."""
        return self.IS / self.beta * math.expm1(be), self.IS / BETA_R * math.expm1(bi) + self.dark * math.tanh(bi / 2)

    def transport(self, be, bi):
        """Return the transport current from inner collector to emitter, with Early's factor."""
        return self.IS * (math.exp(be) - math.exp(bi)) * (1 - bi * self.VT / self.VA)

    def region(self, bi, w):
        """Return the current of the collector region with w VT across it."""
        return self.VT * (_charge(self.gamma, bi) - _charge(self.gamma, bi - w) + w) / self.RC

    def load(self, VCE):
        """Return the current that the load gives to the detector at a collector-emitter voltage."""
        VCC, RL = self.values.VCC, self.values.RL
        if self.kind == "indicator":
            return series_current(VCC - VCE, RL + self.lamp.RS, self.lamp)
        below_supply = VCE if self.kind == "pull-up" else VCC - VCE
        to_common = -self.leak_down * self.values.down * math.expm1(-max(below_supply / self.VT, -600.0))
        from_supply = -self.leak_up * self.values.up * math.expm1(min((below_supply - VCC) / self.VT, 600.0))
        if self.kind == "pull-up":
            return (VCC - VCE) / RL - to_common + from_supply
        return below_supply / RL + to_common - from_supply

    # ------------------------------------------------------------ solving

    @property
    def lit(self):
        """Whether anything drives the LED."""
        if self.sensor and not self.closed and not self.sensor.I_off:
            return False
        return self.V_loop > 0 and not math.isinf(self.R_loop)

    def sensor_drop(self, IF):
        """Return what a sensor that is on takes: two thermal voltages more with each e-fold of the current."""
        soft = 2 * self.VT
        return soft * math.log1p(IF / self.sensor.IF * math.expm1(self.sensor.V_on / soft))

    def sensor_leak(self, IF):
        """Return what a sensor that is off lets through, with what the rest of the loop leaves it."""
        across = self.V_loop - IF * (self.R_loop + self.led.RS) - math.log1p(IF / self.led.IS) * self.led.nVT
        return -self.sensor.I_off * math.expm1(max(-across / self.VT, -600.0) if across > -1 else 40.0)

    def led_current(self):
        """Return the LED current, in closed form where there is one."""
        if self.around:
            return self.given
        if self.sensor and self.lit:
            return self._sensor_current()
        return series_current(self.V_loop, self.R_loop + self.led.RS, self.led) if self.lit else 0.0

    def _sensor_current(self):
        """Return the LED current through a sensor, by bracketing."""

        def left(IF):
            if not self.closed:
                return self.sensor_leak(IF) - IF
            VF = math.log1p(IF / self.led.IS) * self.led.nVT + IF * self.led.RS
            return self.V_loop - VF - IF * self.R_loop - self.sensor_drop(IF)

        highest = self.V_loop / self.R_loop if self.closed else self.sensor.I_off
        return brentq(left, 0.0, highest, xtol=1e-22, rtol=1e-14, maxiter=500)

    def by_root(self):
        """Return what scipy's general root finder makes of all equations together, LED's loop included."""
        left = math.inf
        for start in self._starts():
            found = root(self._residual, start, args=(self._flow(start),), method="hybr", options={"xtol": 1e-14})
            left = max(abs(part) for part in self._residual(found.x, self._flow(found.x)))
            if left <= LARGEST:
                return self._record(found.x)
        raise ArithmeticError(f"no root: {left} is left")

    def by_bracketing(self):
        """Return the stage solved by nested bracketing searches, which need no starting value."""
        IF = self.led_current()
        light = self.law(IF)
        supply = light + self.IS / self.beta + self.IS / BETA_R

        def emitter_junction(bi):
            left = supply - self.IS / BETA_R * math.exp(bi) - self.dark * math.tanh(bi / 2)
            return math.log(left / self.IS * self.beta) if left > 0 else -math.inf

        def state(bi):
            be = emitter_junction(bi)
            IC = self.transport(be, bi) + light - self.base_currents(be, bi)[1]
            w = self._drop(bi, IC)
            return IC, be, w

        def excess(bi):
            IC, be, w = state(bi)
            return IC - self.load((be - bi + w) * self.VT)

        top = _highest(lambda bi: self.IS / BETA_R * math.exp(bi) + self.dark * math.tanh(bi / 2), supply)
        lowest = emitter_junction(-1e6) - (self.values.VCC + 1.0) / self.VT
        while excess(lowest) < 0:
            lowest *= 2
        bi = brentq(excess, lowest, top, xtol=1e-13, rtol=1e-15, maxiter=500)
        IC, be, w = state(bi)
        return self._answer(IF, IC, (be - bi + w) * self.VT)

    def _drop(self, bi, IC):
        """Return the voltage across the collector region in VT that carries a current."""
        ohmic = IC * self.RC / self.VT

        def excess(w):
            return (self.region(bi, w) - IC) * self.RC / self.VT

        low, high = (0.0, max(ohmic, 1e-30)) if IC >= 0 else (ohmic, 0.0)
        while excess(low) > 0:
            low = 2 * low - 1.0
        while excess(high) < 0:
            high = 2 * high + 1.0
        return brentq(excess, low, high, xtol=1e-16, rtol=1e-15, maxiter=500) if low < high else 0.0

    def _flow(self, z):
        """Return the current that the collector's and the load's residuals are relative to."""
        return self.IS * (math.exp(min(z[-3], 200.0)) + math.exp(min(z[-2], 200.0))) + self.dark

    def _residual(self, z, flow):
        """Return what the equations leave over, relative to what flows."""
        be, bi, w = min(float(z[-3]), 200.0), min(float(z[-2]), 200.0), float(z[-1])
        light = self.law(self.IF(min(float(z[0]), 600.0))) if self.lit else self.law(self.given or 0.0)
        into_base = light + self.dark + self.IS / self.beta + self.IS / BETA_R
        leaking = self.dark * (1 + math.tanh(bi / 2))
        out_of_base = self.IS / self.beta * math.exp(be) + self.IS / BETA_R * math.exp(bi) + leaking
        IC = self.region(bi, w)
        gathered = self.transport(be, bi) + light - self.base_currents(be, bi)[1]
        left = [
            math.log(out_of_base / into_base),
            (IC - gathered) / flow,
            (IC - self.load((be - bi + w) * self.VT)) / flow,
        ]
        if self.lit and self.sensor:
            IF = max(self.IF(min(float(z[0]), 600.0)), 1e-300)
            R = self.R_loop + self.led.RS
            if self.closed:
                rest = self.V_loop - z[0] * self.led.nVT - self.sensor_drop(IF)
                left.insert(0, z[0] - (math.log(rest / R / self.led.IS + 1) if rest > 0 else -50.0))
            else:
                through = self.sensor_leak(IF)
                left.insert(0, math.log(IF) - (math.log(through) if through > 0 else -80.0))
        elif self.lit:
            R = self.R_loop + self.led.RS
            wanted = (self.V_loop - z[0] * self.led.nVT) / R + self.led.IS
            left.insert(0, z[0] + math.log(self.led.IS) - (math.log(wanted) if wanted > 0 else -50.0))
        return left

    def _starts(self):
        """Yield what is put down at first on paper: detector saturated, detector active, something in between."""
        y = [math.log1p(self.led_current() / self.led.IS)] if self.lit and self.sensor else []
        if self.lit and not self.sensor:
            R = self.R_loop + self.led.RS
            y = [math.log1p(max(self.V_loop - 1.0, self.V_loop * 1e-3) / R / self.led.IS)]
            for _ in range(3):
                y = [math.log1p(max(self.V_loop - y[0] * self.led.nVT, self.V_loop * 1e-6) / R / self.led.IS)]
        base = (self.law(self.IF(y[0])) if self.lit else self.law(self.given or 0.0)) + self.dark
        most = max(self.load(0.1), 0.0)
        reverse = max(base - most / self.beta, 1e-3 * base) / (1 / self.beta + 1 / BETA_R)
        be, bi = math.log1p((reverse + most) / self.IS), math.log1p(reverse / self.IS)
        K = math.sqrt(1 + self.gamma * math.exp(bi))
        saturated = [*y, be, bi, most * self.RC / self.VT / (1 + 0.5 * (K - 1))]
        IC, be = self.beta * base, math.log1p(self.beta * base / self.IS)
        w = IC * self.RC / self.VT
        active = [*y, be, be - self._rest(IC) / self.VT + w, w]
        yield from (saturated, active) if most < IC else (active, saturated)
        yield [(a + b) / 2 for a, b in zip(saturated, active, strict=True)]

    def _rest(self, IC):
        """Return the collector-emitter voltage that an active detector leaves the load."""
        low, high = -1.0, self.values.VCC + 1.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self.load(middle) > IC else (low, middle)
        return max(middle, 0.05)

    def _record(self, z):
        IF = self.IF(z[0]) if self.lit else self.given or 0.0
        return self._answer(IF, self.region(z[-2], z[-1]), (z[-3] - z[-2] + z[-1]) * self.VT)

    def _answer(self, IF, IC, VCE):
        """Return the quantities by their symbols."""
        y = math.log1p(IF / self.led.IS)
        found = {"IF": IF, "VF": y * self.led.nVT + IF * self.led.RS, "IC": IC, "VCE": VCE}
        if self.kind == "indicator":
            return found | {"IL": self.load(VCE)}
        VOUT = VCE if self.kind == "pull-up" else self.values.VCC - VCE
        IL = (self.values.VCC - VOUT) / self.values.RL if self.kind == "pull-up" else VOUT / self.values.RL
        return found | {"IL": IL, "VOUT": VOUT}


def _charge(gamma, b):
    """Return K - ln(1 + K), the charge term of the collector region after Kull."""
    K = math.sqrt(1 + gamma * math.exp(min(b, 300.0)))
    return K - math.log1p(K)


def _highest(current, limit):
    """Return the largest argument at which a rising current is within a limit."""
    low, high = -100.0, 100.0
    while high - low > 1e-14 * abs(high):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if current(middle) < limit else (low, middle)
    return low


def series_current(volts, R, diode):
    """Return the current of a diode and a resistance in series.

    T. C. Banwell and A. Jayakumar, Electronics Letters 36(4), 2000, DOI 10.1049/el:20000301; W(exp(x)) is taken as
    Wright's omega of x, which does not overflow.
    """
    scale = diode.nVT / R
    return scale * float(wrightomega(math.log(diode.IS / scale) + (volts + diode.IS * R) / diode.nVT)) - diode.IS


def _around(side):
    """Return whether anything stands around the LED, or a drive that has no closed form here."""
    options = (side.R_bypass, side.VZ, side.lamp, side.R_inside) != ("none",) * 4 or side.diodes
    return bool(options) or side.kind in ("two-wire", "limited")


def _loop(side, values, closed):
    """Return the open-circuit voltage and the resistance that the LED's loop has."""
    if side.kind == "logic":
        return (values.VS, values.R1 + side.R_port) if closed else (0.0, math.inf)
    leak = math.inf if side.R_leak == "none" else side.R_leak
    contact = 1 / (1 / side.R_contact + 1 / leak) if closed else leak
    return values.VS, values.R1 + side.R_line + contact


def _light(model, CTR, T):
    """Return the photocurrent law of a specimen at its temperature."""
    card = model.card
    curve, warmth = _curves(card.CTR_shape, card.CTR_temperature)
    (I_low, _), (I_high, _) = card.CTR_temperature[0], card.CTR_temperature[-1]
    at_low, at_high = (along(T - 273.15) for along in warmth)
    tilt = (at_high - at_low) / math.log(I_high / I_low)
    share_at_test = CTR * math.exp(at_high) / model.gain

    def law(IF):
        if IF <= 1e-18:
            return 0.0
        x = math.log(IF)
        return IF * share_at_test * math.exp(curve(x) + tilt * (x - math.log(card.CTR_IF)))

    return law


@cache
def _curves(shape, temperature):
    """Return the logarithm of the transfer ratio over that of the current, and over temperature at both ends."""
    IF, share = np.array(shape).T
    ends = [points for _, points in (temperature[0], temperature[-1])]
    warmth = [_straight_beyond([t for t, _ in points], [math.log(f) for _, f in points]) for points in ends]
    return _straight_beyond(np.log(IF), np.log(share)), warmth


def _straight_beyond(x, y):
    """Return a shape-preserving curve that has the slope of its outer chords at its ends and goes on straight."""
    chords = np.diff(y) / np.diff(x)
    slopes = PchipInterpolator(x, y).derivative()(x)
    slopes[0], slopes[-1] = first, last = chords[0], chords[-1]
    pieces = CubicHermiteSpline(x, y, slopes).c.T.tolist()
    x, y = [float(at) for at in x], [float(at) for at in y]

    def curve(at):
        if at < x[0]:
            return y[0] + first * (at - x[0])
        if at >= x[-1]:
            return y[-1] + last * (at - x[-1])
        piece = bisect_right(x, at) - 1
        a, b, c, d = pieces[piece]
        along = at - x[piece]
        return ((a * along + b) * along + c) * along + d

    return curve
