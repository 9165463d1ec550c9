"""Edges against a general integrator of equations written here, and against a published formula of a rise."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engine import scenario_from_query
from engine.coupler import charges as charged
from engine.edges import edges_of
from engine.sizing import size
from tests.equations import ROOM, VT, Diode

FADING = 0.75, 0.33  # built-in voltage [V] and grading [-] of every junction
BETA_R, DETECTOR_IS = 8.0, 5e-14


def depletion(v, C0):
    """Return the capacitance of a depletion layer, straight beyond half the built-in voltage [F]."""
    V0, m = FADING
    knee = 0.5 * V0
    if v <= knee:
        return C0 * (1.0 - v / V0) ** -m
    at_knee = C0 * 0.5**-m
    return at_knee * (1.0 + m * (v - knee) / (0.5 * V0))


class Stage:
    """A pulled-up stage as four unknowns over time: LED junction, base, inner collector, output."""

    def __init__(self, scenario, lit):
        model, sized = scenario.coupling.model, size(scenario)
        self.card, self.charges, self.lit = model.card, charged.charges_of(model), lit
        self.led = Diode.of(model.led, ROOM)
        self.VS, self.R1 = scenario.input.VS, sized["R1"].chosen
        self.VCC, self.RL, self.CL = scenario.output.VCC, sized["RL"].chosen, scenario.output.C_load
        self.RC, self.gamma, self.VT = model.RC, model.gamma, VT(ROOM)
        self.law = model.transfer(np.array([self.card.CTR_typ]), np.array([ROOM]))
        amplified = 1.0 + self.card.beta * (1.0 + self.card.ICEO_VCE / self.card.VA)
        self.dark = self.card.ICEO / amplified
        self.leads = float(scenario.input.R_contact) if hasattr(scenario.input, "R_contact") else 0.0

    def photocurrent(self, IF):
        if IF <= 1e-18:
            return 0.0
        log_IF = math.log(IF)
        value = float(self.law.shape(np.array([log_IF]))[0][0])
        tilt = float(np.ravel(self.law.tilt)[0]) * (log_IF - self.law.log_reference)
        return float(self.law.ratio[0]) * IF * math.exp(value + tilt)

    def region(self, v):
        """Return the charge term of the collector region [V]."""
        K = math.sqrt(1.0 + self.gamma * math.exp(v / self.VT))
        return self.VT * (K - math.log1p(K))

    def detector(self, v_be, v_bi, v_bc):
        """Return currents inner collector to emitter, base to emitter, base to inner, collector to inner [A]."""
        forward, reverse = (DETECTOR_IS * math.exp(v / self.VT) for v in (v_be, v_bi))
        early = 1.0 - v_bi / self.card.VA
        base_inner = (reverse - DETECTOR_IS) / BETA_R + self.dark * math.tanh(0.5 * v_bi / self.VT)
        through = (self.region(v_bi) - self.region(v_bc) + v_bi - v_bc) / self.RC
        return (forward - reverse) * early, (forward - DETECTOR_IS) / self.card.beta, base_inner, through

    def rates(self, t, y):
        """Return derivatives of LED junction, base, inner collector and output voltages."""
        v_led, v_b, v_i, v_o = y
        q = self.charges
        IF = self.led.IS * math.expm1(v_led / self.led.nVT)
        drive = (self.VS - v_led) / (self.R1 + self.leads + self.led.RS) if self.lit else 0.0
        led = (drive - IF) / depletion(v_led, q.C_led)
        light = self.photocurrent(IF)
        transport, base, inner, through = self.detector(v_b, v_b - v_i, v_b - v_o)
        C_be = depletion(v_b, q.C_be) + q.transit_F * DETECTOR_IS / self.VT * math.exp(v_b / self.VT)
        C_bi = depletion(v_b - v_i, q.C_bc) + q.transit_R * DETECTOR_IS / self.VT * math.exp((v_b - v_i) / self.VT)
        into_inner = through - light - transport + inner  # what charges the inner collector, with C_bi from the base
        into_base = light - base - inner
        # Charge on C_bi belongs to both nodes: [[C_be + C_bi, -C_bi], [-C_bi, C_bi]] d(vb, vi)/dt.
        d_b = (into_base + into_inner) / C_be
        d_i = d_b + into_inner / C_bi
        d_o = ((self.VCC - v_o) / self.RL - through) / self.CL
        return [led, d_b, d_i, d_o]

    def course(self, start, until):
        return solve_ivp(self.rates, (0.0, until), start, method="Radau", rtol=1e-8, atol=1e-12, dense_output=True)


def crossing(times, values, level):
    """Return when values pass a level for the first time, in straight lines."""
    side = np.sign(values - level)
    k = int(np.flatnonzero(side != side[0])[0])
    return times[k - 1] + (level - values[k - 1]) / (values[k] - values[k - 1]) * (times[k] - times[k - 1])


@pytest.mark.no_source("the same physical equations, written anew and integrated by a general method")
@pytest.mark.parametrize("query", ["iin=0A&rc=1mR", "iin=0A&rc=1mR&rl=10k&cl=100p"])
def test_both_edges_agree_with_a_general_integrator(query):
    scenario = scenario_from_query(query)
    (edges,) = edges_of((scenario,))
    lit, dark = Stage(scenario, True), Stage(scenario, False)
    guess = [0.0, 0.3, scenario.output.VCC, scenario.output.VCC]
    at_rest_dark = dark.course(guess, 20.0).y[:, -1]
    at_rest_lit = lit.course(at_rest_dark, 0.05).y[:, -1]
    for stage, begin, end, course in (
        (lit, at_rest_dark, at_rest_lit, edges.on[0]),
        (dark, at_rest_lit, at_rest_dark, edges.off[0]),
    ):
        found = stage.course(begin, 2.0 * course.reached(0.9))
        times = np.linspace(0.0, found.t[-1], 40001)
        output = found.sol(times)[3]
        for share in (0.1, 0.5, 0.9):
            level = begin[3] + share * (end[3] - begin[3])
            assert course.reached(share) == pytest.approx(crossing(times, output, level), rel=0.01)


@pytest.mark.source("Microchip, I2C guide, External Pull-up Resistor Selection: rise from 30 % to 70 % is 0.8473 R C")
def test_a_resistor_alone_charges_the_load_as_published(monkeypatch):
    """Detector and LED store next to nothing, and the light is off at once: what is left is RL and CL."""
    nothing = charged.Charges(1e-15, 1e-17, 1e-17, 1e-15, 1e-15)
    monkeypatch.setattr("engine.edges.charges_of", lambda model: nothing)
    scenario = scenario_from_query("vcc=3.3V&rl=1k77&cl=200p&iin=0A")
    (edges,) = edges_of((scenario,))
    rise = edges.off[0].reached(0.7) - edges.off[0].reached(0.3)
    assert rise == pytest.approx(0.8473 * 1770.0 * 200e-12, rel=0.02)
    assert rise == pytest.approx(300e-9, rel=0.02)
