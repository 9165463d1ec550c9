"""Steps across a barrier: published figures, closed forms, and a general integrator on equations written anew."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engine import common_mode_of, largest_slope, scenario_from_query
from engine.circuit import Capacitor, NetlistBuilder, transient
from engine.circuit.injection import Injection

EXACT = 1e-6


@dataclass(frozen=True, slots=True)
class Gain:
    """A current out of one node in proportion to the voltage of another, for a linear circuit with gain."""

    part: str
    base: str
    out: str
    common: str
    slope: np.ndarray

    turning: ClassVar[tuple] = (False,)
    steep: ClassVar[tuple] = (False,)
    shunts: ClassVar[tuple] = ()

    @property
    def controls(self):
        return ((self.base, self.common),)

    @property
    def branches(self):
        return ((self.out, self.common),)

    def start(self):
        return np.zeros((len(self.slope), 1))

    def evaluate(self, v):
        return self.slope[:, None] * v, self.slope[:, None, None]

    def limits(self):
        return np.full((len(self.slope), 1), 1e9), np.full((len(self.slope), 1), np.inf)


@pytest.mark.source("MOC3052 data sheet, figure 10: dv/dt = 0.63 V/tau, 400 V over tau")
@pytest.mark.parametrize("tau", [1e-6, 0.4e-6])
def test_slope_of_a_charged_capacitor(tau):
    """The sheet's slope is that from the beginning to the time constant; 0.63 has two digits."""
    net = NetlistBuilder(1)
    net.side("output", "common", "V", "T")
    net.source("V", "V", np.array([400.0]))
    net.resistor("R", "V", "T", 1e3)
    net.store(Capacitor("C", "T", "common", np.array([tau / 1e3])))
    found = transient(net.build(), {"T": np.zeros(1)}, np.array([tau]), EXACT)
    slope = found.voltages["T"][-1, 0] / tau
    assert slope * 1e-6 == pytest.approx(252.0 / (tau * 1e6), abs=0.005 * 400.0 / (tau * 1e6))


@pytest.mark.no_source("current of a capacitance, i = C dV/dt")
@pytest.mark.parametrize(
    ("dV", "slope", "current", "lasting", "charge"),
    [(500.0, 1e9, 0.6e-3, 0.5e-6, 300e-12), (1500.0, 15e9, 9e-3, 0.1e-6, 900e-12), (100.0, 1e8, 60e-6, 1e-6, 60e-12)],
)
def test_current_through_a_barrier_of_600_femtofarads(dV, slope, current, lasting, charge):
    found = common_mode_of(scenario_from_query(""), dV, slope)
    assert found.current == pytest.approx(current)
    assert found.lasting == pytest.approx(lasting)
    assert found.charge == pytest.approx(charge)


@pytest.mark.no_source("an RC at a base and a gain of 2 mS, integrated by a general solver")
@pytest.mark.parametrize("slope", [2e8, 1e9, 1e10, -1e9])
def test_a_linear_stage_goes_as_a_general_integrator_has_it(slope):
    """10 kohm and 20 pF at the base, 4.7 kohm and 50 pF at the collector, 1 pF between both, 30 fF from the barrier."""
    R_b, C_b, R_c, C_c, C_bc, gm, C_x, dV = 10e3, 20e-12, 4.7e3, 50e-12, 1e-12, 2e-3, 30e-15, 500.0
    one, ramp, rest = np.ones(1), dV / abs(slope), 3e-6
    i = C_x * slope

    def model(injected):
        net = NetlistBuilder(1)
        net.side("output", "common", "VCC", "OUT", "B")
        net.source("VCC", "VCC", 5.0 * one)
        net.resistor("RL", "VCC", "OUT", R_c)
        net.resistor("RB", "B", "common", R_b)
        net.device(Gain("U1", "B", "OUT", "common", gm * one))
        net.device(Injection("barrier", (("common", "B"),), np.array([[injected]])))
        for part, a, b, C in (("CB", "B", "common", C_b), ("CC", "OUT", "common", C_c), ("CBC", "B", "OUT", C_bc)):
            net.store(Capacitor(part, a, b, C * one))
        return net.build()

    during = transient(model(i), {"B": 0.0 * one, "OUT": 5.0 * one}, np.array([ramp]), EXACT)
    begin = {node: v[-1] for node, v in during.voltages.items()}
    after = transient(model(0.0), begin, np.array([rest]), EXACT)
    t = np.concatenate([during.t, ramp + after.t])[:, 0]
    out = np.concatenate([during.voltages["OUT"], after.voltages["OUT"]])[:, 0]

    C = np.array([[C_b + C_bc, -C_bc], [-C_bc, C_c + C_bc]])

    def moved(injected):
        return lambda _, v: np.linalg.solve(C, [injected - v[0] / R_b, (5.0 - v[1]) / R_c - gm * v[0]])

    exact = {"method": "Radau", "rtol": 1e-9, "atol": 1e-9, "dense_output": True}
    first = solve_ivp(moved(i), (0.0, ramp), [0.0, 5.0], **exact)
    second = solve_ivp(moved(0.0), (0.0, rest), first.y[:, -1], **exact)
    expected = np.where(t <= ramp, first.sol(t)[1], second.sol(np.maximum(t - ramp, 0.0))[1])
    peak = np.abs(expected - 5.0).max()
    assert peak > 0.1
    assert out == pytest.approx(expected, abs=0.01 * peak)


@pytest.mark.no_source("common-mode transient immunity as data sheets define it: the steepest step that is stood")
def test_a_stated_immunity_is_the_steepest_step_that_is_stood():
    gate = scenario_from_query("out=gate")
    assert largest_slope(gate, 1500.0).slope == gate.coupling.data.CMTI
    assert common_mode_of(gate, 1500.0, gate.coupling.data.CMTI).holds
    assert not common_mode_of(gate, 1500.0, 1.001 * gate.coupling.data.CMTI).holds
