"""Device equations against forty-digit arithmetic."""

import mpmath
import numpy as np
import pytest

from engine.devices import DetectorParams, JunctionParams, detector, junction

mpmath.mp.dps = 40
IS, VT, BETA, BETA_R, VA, RC, GAMMA, DARK = 5e-14, 0.0257, 400.0, 8.0, 110.0, 130.0, 1.3e-8, 4e-12
pytestmark = pytest.mark.source("The formulas of the docstrings, evaluated by mpmath with 40 digits")


def one(value):
    return np.array([value])


@pytest.mark.parametrize("v", [-1000.0, -1.0, -1e-3, -1e-9, 0.0, 1e-9, 1e-3, 0.3, 0.9, 1.2])
def test_junction(v):
    current, slope = junction(one(v), JunctionParams(one(3e-16), one(0.0377)))
    assert current[0] == pytest.approx(float(mpmath.mpf(3e-16) * mpmath.expm1(mpmath.mpf(v) / 0.0377)), rel=1e-12)
    assert slope[0] == pytest.approx(float(mpmath.mpf(3e-16) / 0.0377 * mpmath.exp(mpmath.mpf(v) / 0.0377)), rel=1e-12)


def e(v):
    return mpmath.exp(mpmath.mpf(v) / VT)


def flooding(v):
    K = mpmath.sqrt(1 + mpmath.mpf(GAMMA) * e(v))
    return VT * (K - mpmath.log(1 + K))


@pytest.mark.parametrize(
    ("be", "bi", "bc"),
    [(0.62, 0.5, 0.45), (0.62, -4.0, -5.0), (0.6, 0.59, 0.58), (0.1, -900.0, -1000.0), (-5.0, 0.6, 0.61)],
)
def test_detector(be, bi, bc):
    params = DetectorParams(*map(one, (IS, VT, BETA, BETA_R, VA, RC, GAMMA, DARK)))
    currents, _ = detector(one(be), one(bi), one(bc), params)
    expected = (
        IS * (e(be) - e(bi)) * (1 - mpmath.mpf(bi) / VA),
        IS / BETA * (e(be) - 1),
        IS / BETA_R * (e(bi) - 1) + DARK * mpmath.tanh(mpmath.mpf(bi) / (2 * VT)),
        (flooding(bi) - flooding(bc) + mpmath.mpf(bi) - mpmath.mpf(bc)) / RC,
    )
    # Differences of voltages near 1 kV keep 1e-13 V in double precision, which the absolute part allows for.
    assert currents[0].tolist() == pytest.approx([float(value) for value in expected], rel=1e-11, abs=1e-15)
