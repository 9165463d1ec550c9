"""A coupler on the bench: LED driven by a current, collector held at a voltage."""

import numpy as np

from engine.circuit import Detector, Junction, LightPath, NetlistBuilder, solve
from engine.coupler import calibrated
from engine.devices import detector_guess

AMPLE = 1e6  # [V], behind a resistance so large that the LED's voltage does not matter to its current


def collector_current(name, *, IF, VCE, CTR=None, celsius=25.0):
    """Return the collector current of a card's coupler, scalar or array as `VCE` is [A]."""
    VCE = np.atleast_1d(np.asarray(VCE, dtype=float))
    model = calibrated(name)
    T = np.full(len(VCE), celsius + 273.15)
    led = model.led.junction(T)
    params = model.detector(T, np.full(len(VCE), model.card.ICEO))
    law = model.transfer(np.full(len(VCE), model.card.CTR_typ if CTR is None else CTR), T)
    net = NetlistBuilder(len(VCE))
    net.side("input", "return", "VS", "AJ")
    net.side("output", "E", "C", "CI", "B")
    volts = float(led.at_current(max(IF, 0.0))[0])
    net.source("VS", "VS", volts + AMPLE * (IF > 0))
    net.resistor("R1", "VS", "AJ", AMPLE / IF if IF > 0 else 1e12)
    net.source("VCE", "C", VCE)
    net.conductance("none", "C", "E", 0.0)
    knee = np.full(len(VCE), volts)
    guess = detector_guess(np.full(len(VCE), max(IF, 0.0) * 1e-3), np.full(len(VCE), np.inf), VCE, params)
    net.device(Junction("LED", "AJ", "return", led, knee))
    net.device(LightPath("U1", "AJ", "return", "CI", "B", led, law, knee))
    net.device(Detector("U1", "C", "CI", "B", "E", params, guess))
    found = solve(net.build()).source_currents["VCE"]
    return float(found[0]) if len(found) == 1 else found
