"""Means and deviations of samples against integrals and closed forms, and against samples solved elsewhere."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from engine import Plan, scenario_from_query, spread_of
from engine.coupler import calibrated
from tests.equations import Stage, Values

STILL = "vstol=0%25&vcctol=0%25&iin=0A"
PLAN = Plan(20_000, 11)
SURE = 4.0  # standard errors


def closed(query, symbol, plan=PLAN):
    return spread_of(scenario_from_query(query), plan).states["closed"]["quantities"][symbol]


def agrees(found, mean, sd, count=PLAN.samples):
    """Hold mean and deviation against what is expected, within errors of the estimate."""
    assert found.mean == pytest.approx(mean, abs=SURE * sd / math.sqrt(count))
    assert found.sd == pytest.approx(sd, abs=SURE * sd / math.sqrt(count))


def shifts(points):
    """Return shifts of the forward voltage and their weights: two halves of a normal one that join without a step."""
    card, led = calibrated("general").card, calibrated("general").led
    typical = float(led.VF(card.VF_IF, 298.15))
    places, weights = np.polynomial.legendre.leggauss(points)
    found, shares = [], []
    for end in (card.VF_min - typical, card.VF_max - typical):
        x = 1.5 * (places + 1.0)
        found += list(x / 3.0 * end)
        shares += list(abs(end) * weights * stats.norm.pdf(x))
    return np.array(found), np.array(shares)


def moments(values, weights):
    mean = np.sum(values * weights) / weights.sum()
    return mean, math.sqrt(np.sum((values - mean) ** 2 * weights) / weights.sum())


def test_mean_of_a_current_through_an_even_resistor_is_that_of_its_reciprocal():
    """At 1 kV the forward voltage, about 1.1 V, is as good as fixed."""
    query = f"vs=1kV&r1=200k&r1w=50W&tol=20%25&{STILL}"
    low, high = 160e3, 240e3
    VF = 1000.0 - 200e3 * closed(query, "IF").value
    mean = (1000.0 - VF) * math.log(high / low) / (high - low)
    square = (1000.0 - VF) ** 2 / (low * high)
    agrees(closed(query, "IF"), mean, math.sqrt(square - mean**2))


def test_moments_of_even_tolerances():
    low, high = 24.0 * 0.9, 24.0 * 1.1
    found = spread_of(scenario_from_query("vs=24V&vstol=10%25"), PLAN).states["closed"]["nodes"]["VS"]
    agrees(found, 24.0, (high - low) / math.sqrt(12))
    assert found.median == pytest.approx(24.0, abs=SURE * (high - low) / 2 / math.sqrt(PLAN.samples))
    assert found.p1 == pytest.approx(low + 0.01 * (high - low), abs=SURE * 0.1 * (high - low) / math.sqrt(PLAN.samples))


def test_deviation_of_normal_tolerances_is_a_third_of_them():
    found = spread_of(scenario_from_query("vs=24V&vstol=10%25"), Plan(20_000, 2, "normal")).states["closed"]["nodes"][
        "VS"
    ]
    agrees(found, 24.0, 0.8 * stats.truncnorm(-3, 3).std())


@pytest.mark.parametrize("dist", ["uniform", "normal"])
def test_LED_current_has_the_moments_of_its_integral(dist):
    query = f"vs=5V&r1=1k&r1w=1W&tol=20%25&{STILL}"
    scenario = scenario_from_query(query)
    places, weights = np.polynomial.legendre.leggauss(24)
    R = 1e3 + 200.0 * places
    if dist == "normal":
        weights = weights * stats.norm.pdf(3.0 * places)
    shift, shares = shifts(12)
    nominal = Values.nominal(scenario)
    IF = [Stage(scenario, replace(nominal, R1=r, shift=s), True).led_current() for r in R for s in shift]
    mean, sd = moments(np.array(IF), np.outer(weights, shares).ravel())
    agrees(closed(query, "IF", Plan(20_000, 11, dist)), mean, sd)


@pytest.mark.parametrize("query", ["rl=10k", "rl=1k&ctrmin=20%25&ctrmax=300%25", "out=pull-down&rl=680R"])
def test_output_voltage_has_the_moments_of_samples_drawn_and_solved_elsewhere(query):
    query, count = f"vs=24V&r1=10k&{query}&tol=10%25&{STILL}", 800
    scenario, rng = scenario_from_query(query), np.random.default_rng(77)
    low, high = scenario.coupling.bin()
    card, nominal = scenario.coupling.data, Values.nominal(scenario)
    shift, shares = shifts(12)
    VOUT = []
    below, above = math.log(low / card.CTR_typ), math.log(high / card.CTR_typ)
    for z in stats.truncnorm.rvs(0, 3, size=count, random_state=rng) / 3.0:
        end = below if rng.random() < below / (below - above) else above
        drawn = {
            "R1": 10e3 * rng.uniform(0.9, 1.1),
            "RL": nominal.RL * rng.uniform(0.9, 1.1),
            "CTR": card.CTR_typ * math.exp(z * end),
            "shift": float(rng.choice(shift, p=shares / shares.sum())),
            "ICEO": card.ICEO * (card.ICEO_max / card.ICEO) ** rng.random(),
        }
        VOUT.append(Stage(scenario, replace(nominal, **drawn), True).by_root()["VOUT"])
    found, VOUT = closed(query, "VOUT"), np.array(VOUT)
    both = math.sqrt(1 / count + 1 / PLAN.samples)
    fourth = math.sqrt(stats.kurtosis(VOUT, fisher=False) - 1.0) / 2.0
    assert found.mean == pytest.approx(VOUT.mean(), abs=SURE * VOUT.std() * both)
    assert found.sd == pytest.approx(VOUT.std(), abs=SURE * VOUT.std() * fourth * both)
