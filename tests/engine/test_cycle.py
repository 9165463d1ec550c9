"""Alternating current over the cycle: figures of waveforms, branches, steady states, droppers."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engine.cycle import (
    AcLoop,
    Diode,
    impedance,
    in_series,
    inrush,
    over_the_cycle,
    periodic,
    reactance,
    series,
    value_for_current,
)
from engine.cycle.waveform import (
    Stretch,
    average,
    crossings,
    peak,
    phases,
    ripple,
    rms,
    share_above,
    stretches_below,
)
from engine.devices import JunctionParams

LED_IS, LED_NVT, LED_RS = 2e-16, 0.0377, 0.8
SILICON_IS, SILICON_NVT, SILICON_RS = 2.3e-9, 0.0463, 0.4


def diode(IS, nVT, RS, batch):
    return Diode(JunctionParams(np.full(batch, IS), np.full(batch, nVT)), np.full(batch, RS))


def loop(form, V=230.0, R1=47e3, f=50.0, **parts):
    """Return a batch of loops; every value may be one or many."""
    values = {name: np.atleast_1d(np.asarray(value, dtype=float)) for name, value in parts.items()}
    batch = max(np.size(value) for value in (V, R1, f, *values.values()))
    V, R1, f = (np.broadcast_to(np.asarray(value, dtype=float), batch).copy() for value in (V, R1, f))
    values = {name: np.broadcast_to(value, batch).copy() for name, value in values.items()}
    led, silicon = diode(LED_IS, LED_NVT, LED_RS, batch), diode(SILICON_IS, SILICON_NVT, SILICON_RS, batch)
    return AcLoop(form, V, f, R1, led, silicon, **values)


# ---------------------------------------------------------------- waveforms

SINE = np.sin(2 * np.pi * phases(256))


def test_figures_of_a_sine():
    assert average(np.abs(SINE)) == pytest.approx(2 / np.pi, rel=1e-4)
    assert rms(SINE) == pytest.approx(1 / np.sqrt(2), rel=1e-12)
    assert peak(-SINE) == 1.0
    assert ripple(SINE) == 2.0


@pytest.mark.parametrize("level", [-0.9, -0.5, 0.0, 0.3, 0.99])
def test_share_of_a_sine_above_a_level(level):
    assert share_above(SINE, level) == pytest.approx(0.5 - np.arcsin(level) / np.pi, abs=2e-4)


def test_share_above_beyond_the_peaks():
    assert share_above(SINE, 1.1) == 0.0
    assert share_above(SINE, -1.1) == 1.0


def test_crossings_lie_between_the_instants():
    rising, falling = crossings(SINE, 0.5)
    assert rising == pytest.approx([1 / 12], abs=1e-5)
    assert falling == pytest.approx([5 / 12], abs=1e-5)


def test_stretches_below_a_level():
    first, second = stretches_below(np.abs(SINE), 0.5)
    assert (first.start, second.start) == pytest.approx((5 / 12, 11 / 12), abs=1e-5)
    assert (first.width, second.width) == pytest.approx((1 / 6, 1 / 6), abs=2e-5)
    assert second.middle == pytest.approx(0.0, abs=1e-9)
    assert stretches_below(SINE, -2.0) == ()
    assert stretches_below(SINE, 2.0) == (Stretch(0.0, 1.0),)


# ---------------------------------------------------------------- branches


def branches():
    led, silicon = diode(LED_IS, LED_NVT, LED_RS, 1), diode(SILICON_IS, SILICON_NVT, SILICON_RS, 1)
    R = np.array([1e3])
    return [series(R, led), series(R, silicon), series(R, led, silicon.twice()), series(R * 1e3, silicon, led)]


@pytest.mark.parametrize("branch", branches(), ids=["led", "silicon", "bridge", "large"])
def test_the_current_of_a_branch_takes_the_voltage(branch):
    volts = np.concatenate([np.linspace(0.5, 1500, 400), np.logspace(-3, 0, 100)])[None]
    current, conductance = branch.current(volts)
    assert branch.voltage(current) == pytest.approx(volts, rel=1e-9)
    step = 1e-6
    slope = (branch.current(volts + step)[0] - branch.current(volts - step)[0]) / (2 * step)
    assert conductance == pytest.approx(slope, rel=1e-3, abs=1e-9)


@pytest.mark.parametrize("branch", branches(), ids=["led", "silicon", "bridge", "large"])
def test_a_branch_blocks_backwards(branch):
    current, conductance = branch.current(np.array([[-1500.0, -1.0, 0.0]]))
    assert (np.abs(current) <= SILICON_IS * 1.000001).all()
    assert (conductance >= 0.0).all()
    assert current[0, 2] == pytest.approx(0.0, abs=1e-20)


# ---------------------------------------------------------------- loops without capacitors


@pytest.mark.parametrize("form", ["pair", "bridge", "diode", "bare"])
def test_every_instant_obeys_the_voltage_law(form):
    cycle = over_the_cycle(loop(form, R1=[1.0, 1e3, 47e3]))
    lit = cycle.IF > 0 if form != "diode" else (cycle.v > 0)
    drops = {"pair": 0.0, "diode": 0.0, "bare": 0.0, "bridge": 2 * SILICON_NVT * np.log1p(cycle.IF / SILICON_IS)}[form]
    RD = 2 * SILICON_RS if form == "bridge" else 0.0
    # Half a nanovolt is what rounding leaves where almost nothing flows.
    across = np.array([[1.0], [1e3], [47e3]]) * np.abs(cycle.i) + RD * cycle.IF + cycle.VF + drops
    assert across[lit] == pytest.approx(np.abs(cycle.v)[lit], rel=1e-9, abs=1e-9)


def test_a_pair_is_lit_in_both_half_cycles_and_a_diode_in_one():
    pair, one = over_the_cycle(loop("pair")), over_the_cycle(loop("diode"))
    half = pair.IF.shape[1] // 2
    assert pair.IF[:, :half] == pytest.approx(pair.IF[:, half:], rel=1e-9, abs=1e-15)
    # What leaks backwards through the silicon diode is missing from the LED's current.
    assert one.IF[:, :half] == pytest.approx(pair.IF[:, :half], rel=1e-9, abs=1.01 * SILICON_IS)
    assert one.IF[:, half + 1 :].max() == 0.0
    assert one.i[:, half + 1 :].min() < -6e-3


def test_a_bare_led_has_the_half_cycle_of_a_pair_and_blocks_the_other():
    pair, bare = over_the_cycle(loop("pair")), over_the_cycle(loop("bare"))
    half = pair.IF.shape[1] // 2
    assert bare.IF[:, :half] == pytest.approx(pair.IF[:, :half], rel=1e-9, abs=1e-15)
    assert bare.IF[:, half + 1 :].max() == 0.0
    assert np.abs(bare.i[:, half + 1 :]).max() < 1e-9


def test_the_average_is_below_the_rms_value():
    cycle = over_the_cycle(loop("pair"))
    assert rms(cycle.IF) / average(cycle.IF) == pytest.approx(np.pi / np.sqrt(8), rel=0.01)  # a sine's form factor
    assert share_above(cycle.IF, [1e-3]) * 360 == pytest.approx(
        360 * (1 - 4 * np.arcsin(48.2 / 325.3) / 2 / np.pi), 0.01
    )


PARTS = [
    {},
    {"CD": 220e-9, "R1": 470.0},
    {"CD": 220e-9, "R1": 470.0, "RB": 1e5},
    {"CD": 220e-9, "R1": 1.0},
    {"CS": 10e-6, "RF": 1e3},
    {"CS": 10e-6, "RF": 1.0},
    {"CS": 10e-6, "RF": 1e3, "CD": 220e-9, "R1": 470.0, "RB": 1e6},
]
LOOPS = [
    (form, parts) for form in ("pair", "bridge", "diode") for parts in PARTS if form == "bridge" or "CS" not in parts
]
LOOPS.append(("bare", {}))


@pytest.mark.parametrize(("form", "parts"), LOOPS)
def test_the_line_delivers_what_the_parts_take(form, parts):
    cycle = over_the_cycle(loop(form, V=[24.0, 230.0], **parts), 512)
    assert cycle.delivered == pytest.approx(sum(cycle.powers.values()), rel=1e-3 if cycle.iterations else 1e-12)
    assert all((power >= 0).all() for power in cycle.powers.values())


# ---------------------------------------------------------------- steady states


def test_linear_circuit_is_the_phasor_solution():
    # Batch of two: 5 ohm with 100 uF at 60 Hz, and a time constant far above the period.
    R, C, f = np.array([5.0, 1e4]), np.array([100e-6, 100e-6]), 60.0
    instants = 1024
    t = phases(instants) / f
    v = 10 * np.sqrt(2) * np.sin(2 * np.pi * f * t)

    def rates(x, members):
        G = 1 / R[members]
        slopes = np.broadcast_to(-G[:, None, None, None], (*x.shape, 1)).copy()
        return (v[None, :, None] - x) * G[:, None, None], slopes

    x, iterations = periodic(rates, C[:, None], np.zeros((2, instants, 1)), np.full(2, 1 / f / instants))
    transfer = 1 / (1 + 2j * np.pi * f * R * C)
    exact = np.imag(10 * np.sqrt(2) * transfer[:, None] * np.exp(2j * np.pi * f * t))
    assert np.abs(x[:, :, 0] - exact).max() < 1e-4 * np.abs(exact).max()
    assert iterations == 1
    current = (v - x[:, :, 0]) / R[:, None]
    assert rms(current)[0] == pytest.approx(10 / impedance(5.0, 100e-6, 60.0), rel=1e-4)


def integrated(form, cycles, V=230.0, R1=47e3, f=50.0, CD=None, CS=None, RF=None, RB=np.inf):
    """Return t, LED current and line current of the last of many cycles, integrated by scipy.

    Written without any closed form: every junction has a small capacitance, so its voltage is a state of its own.
    """
    small = 2e-11

    def through(v, IS, nVT):
        return IS * np.expm1(np.minimum(v / nVT, 80.0))

    def line(t):
        return V * np.sqrt(2) * np.sin(2 * np.pi * f * t)

    def currents(t, y):
        v_CD, v_CS, led, other = y
        rest = line(t) - (v_CD if CD else 0.0)
        if form == "pair":  # other: unused
            i = (rest - led) / (R1 + LED_RS)
            return i, through(led, LED_IS, LED_NVT) - through(-led, LED_IS, LED_NVT), i, 0.0, 0.0
        if form == "diode":  # both see the voltage of the pair of branches; their resistances are negligible here
            i = (rest - led) / R1
            return i, through(led, LED_IS, LED_NVT) - through(-led, SILICON_IS, SILICON_NVT), i, 0.0, 0.0
        behind = v_CS if CS else led  # other: two diodes in series
        passed = through(other, SILICON_IS, 2 * SILICON_NVT)
        i = (abs(rest) - behind - other) / (R1 + 2 * SILICON_RS + (0 if CS else LED_RS))
        into = (v_CS - led) / (RF + LED_RS) if CS else i
        return np.sign(rest) * i, through(led, LED_IS, LED_NVT), into, i, passed

    def rates(t, y):
        i, led, into, charging, passed = currents(t, y)
        idle = -f * y  # what a form does not use fades away
        dCD = (i - y[0] / RB) / CD if CD else idle[0]
        dCS = (charging - into) / CS if CS else idle[1]
        return [dCD, dCS, (into - led) / small, (charging - passed) / small if form == "bridge" else idle[3]]

    end = cycles / f
    at = end - (1 - phases(512)) / f
    found = solve_ivp(rates, (0, end), np.zeros(4), "Radau", t_eval=at, rtol=1e-6, atol=1e-9, max_step=1 / f / 100)
    assert found.success
    IF, i = [], []
    for t, y in zip(found.t, found.y.T, strict=True):
        total, _, into, _, _ = currents(t, y)
        i.append(total)
        IF.append(abs(into) if form != "diode" else max(into, 0.0))
    return np.array(IF), np.array(i)


@pytest.mark.parametrize(
    ("form", "cycles", "parts"),
    [
        ("pair", 12, {"R1": 470.0, "CD": 220e-9}),
        ("diode", 12, {"R1": 1e3, "CD": 100e-9, "RB": 470e3}),
        ("bridge", 8, {"R1": 47e3, "CS": 2.2e-6, "RF": 1e3}),
        ("bridge", 8, {"R1": 1e3, "CD": 330e-9, "CS": 2.2e-6, "RF": 2e3}),
        ("bridge", 3, {"R1": 10e3, "V": 24.0}),
    ],
)
def test_steady_state_is_where_many_cycles_lead(form, cycles, parts):
    IF, i = integrated(form, cycles, **parts)
    cycle = over_the_cycle(loop(form, **parts))
    assert average(cycle.IF)[0] == pytest.approx(average(IF), rel=0.01)
    assert rms(cycle.IF)[0] == pytest.approx(rms(IF), rel=0.01)
    assert rms(cycle.i)[0] == pytest.approx(rms(i), rel=0.01)
    assert peak(cycle.IF)[0] == pytest.approx(peak(IF), rel=0.01)


def test_more_instants_change_little():
    for form, parts in LOOPS:
        coarse, fine = (over_the_cycle(loop(form, **parts), n) for n in (256, 2048))
        assert average(coarse.IF) == pytest.approx(average(fine.IF), rel=1e-3)
        assert rms(coarse.i) == pytest.approx(rms(fine.i), rel=2e-3)


def test_members_of_a_batch_do_not_touch():
    parts = {"CD": [1e-9, 220e-9, 10e-6], "R1": [1e5, 470.0, 10.0], "V": [12.0, 230.0, 400.0]}
    together = over_the_cycle(loop("bridge", **parts))
    for k in range(3):
        alone = over_the_cycle(loop("bridge", **{name: values[k] for name, values in parts.items()}))
        assert together.IF[k] == pytest.approx(alone.IF[0], rel=1e-6, abs=1e-9)


def test_wild_loops_settle():
    rng = np.random.default_rng(7)
    for _ in range(60):
        form = rng.choice(["pair", "bridge", "diode"])
        parts = {"V": 10 ** rng.uniform(0, 3, 4), "f": 10 ** rng.uniform(1, 3, 4), "R1": 10 ** rng.uniform(0, 6, 4)}
        parts["CD"] = 10 ** rng.uniform(-11, -4, 4)
        if rng.random() < 0.5:
            parts["RB"] = 10 ** rng.uniform(2, 7, 4)
        if form == "bridge" and rng.random() < 0.6:
            parts |= {"CS": 10 ** rng.uniform(-9, -2, 4), "RF": 10 ** rng.uniform(0, 5, 4)}
        cycle = over_the_cycle(loop(form, **parts))
        assert np.isfinite(cycle.IF).all()
        # No direct current passes a capacitor but what its leakage and its bleeder take.
        leaking = average(cycle.v_CD) * (parts["CD"] / 1e4 + 1 / np.broadcast_to(parts.get("RB", np.inf), 4))
        assert average(cycle.i) == pytest.approx(leaking, abs=1e-6 * peak(cycle.i).max())


def test_without_enough_voltage_nothing_flows():
    for form, parts in LOOPS:
        assert peak(over_the_cycle(loop(form, **(parts | {"V": 0.3}))).IF) < 2e-6


def test_smoothing_takes_the_ripple_away():
    small, large = (over_the_cycle(loop("bridge", CS=C, RF=1e3)) for C in (1e-6, 100e-6))
    assert ripple(large.IF) < 0.03 * average(large.IF) < ripple(small.IF)
    assert average(large.IF) == pytest.approx(average(small.IF), rel=0.03)


# ---------------------------------------------------------------- droppers


def test_capacitor_dropper_passes_what_its_swing_carries():
    # Each half cycle moves the capacitor from one crest to the other, short of the LED's voltage: I = 4 f C (V - VL).
    cycle = over_the_cycle(loop("pair", R1=10.0, CD=220e-9))
    assert average(cycle.IF)[0] == pytest.approx(4 * 50 * 220e-9 * (230 * np.sqrt(2) - 1.2), rel=0.01)


def test_inrush_is_what_an_integration_from_the_crest_finds():
    R, C, V = 470.0, 220e-9, 230.0
    one = loop("pair", V=V, R1=R, CD=C)
    found = inrush(one)
    assert found.current == pytest.approx((V * np.sqrt(2) - 1.8) / R, rel=0.005)
    assert (found.IF == found.current).all()
    assert found.duration == pytest.approx(R * C)
    line = lambda t: V * np.sqrt(2) * np.cos(2 * np.pi * 50 * t)  # noqa: E731
    drop = LED_NVT * np.log(0.2 / LED_IS)
    run = solve_ivp(lambda t, v: (line(t) - v - drop) / (R * C), (0, 1e-3), [0.0], "Radau", rtol=1e-9, max_step=1e-6)
    i = (line(run.t) - run.y[0] - drop) / R
    assert found.current[0] == pytest.approx(i.max(), rel=0.005)
    assert found.energy[0] == pytest.approx(np.trapezoid(i**2 * R, run.t), rel=0.05)


def test_a_capacitor_left_charged_doubles_the_inrush():
    one = loop("pair", R1=470.0, CD=220e-9)
    left = peak(over_the_cycle(one).v_CD)
    assert inrush(one, left).current == pytest.approx(2 * inrush(one).current, rel=0.02)


def test_smoothing_takes_the_inrush_from_the_led():
    parts = {"R1": 470.0, "CD": 220e-9}
    bare, smoothed = inrush(loop("bridge", **parts)), inrush(loop("bridge", CS=47e-6, RF=100.0, **parts))
    assert smoothed.current == pytest.approx(bare.current, rel=0.01)
    assert (smoothed.IF < 0.02 * bare.IF).all()


def test_resistors_in_series_share_voltage_and_power():
    assert in_series(325.0, 350.0, 0.2, 0.25) == 1
    assert in_series(373.0, 350.0, 0.2, 0.25) == 2
    assert in_series(325.0, 350.0, 1.1, 0.25) == 5
    assert in_series(0.0, 350.0, 0.0, 0.25) == 1


def test_reactance_and_impedance():
    assert reactance(1e-6, 50.0) == pytest.approx(3183.0989)
    assert impedance(3.0, 1 / (2 * np.pi * 50 * 4.0), 50.0) == pytest.approx(5.0)


@pytest.mark.parametrize("form", ["pair", "bridge", "diode"])
def test_resistance_for_a_wanted_average(form):
    R1 = value_for_current(lambda R: average(over_the_cycle(loop(form, R1=R)).IF)[0], 2e-3, 50e3, (1.0, 1e9))
    assert average(over_the_cycle(loop(form, R1=R1)).IF)[0] == pytest.approx(2e-3, rel=1e-6)


def test_capacitance_for_a_wanted_average():
    def current(C):
        return average(over_the_cycle(loop("bridge", R1=470.0, CD=C)).IF)[0]

    C = value_for_current(current, 10e-3, 1e-9, (1e-12, 1e-3))
    assert current(C) == pytest.approx(10e-3, rel=1e-6)
    # Where no capacitor is large enough, the largest is the answer.
    assert value_for_current(current, 5.0, 1e-7, (1e-12, 1e-6)) == pytest.approx(1e-6)
