"""A step between the grounds: what comes through the barrier, what is read meanwhile, how steep it may be."""

import math
from dataclasses import dataclass
from urllib.parse import urlencode

from engine import (
    SLOPE,
    UNITS,
    CommonMode,
    ConvergenceError,
    Disturbance,
    Scenario,
    Steadying,
    as_typed,
    common_mode_of,
    query_from,
    reading,
    steadied,
)
from webapp.present.figures import plain
from webapp.present.panels.drawn import Typed, told
from webapp.present.panels.step_plot import step_plot
from webapp.present.panels.timing_plot import EdgePlot
from webapp.present.panels.window import UNSOLVED

USUAL = {"dv": "500 V", "slope": "1 kV/us"}
"""What is asked where nothing is typed."""

STEPS, SLOPES = (1.0, 20e3), (1e3, 1e12)
"""What a step and its slope may be [V, V/s]."""

_NEVER = "not again"
_GLOW = 1e-6  # [A], LED current from which an LED that is meant to be dark counts as lit for a moment
_DIGITS = 2  # of a slope that is told


@dataclass(frozen=True, slots=True)
class StateRow:
    """What a step does in one state by one way of the grounds."""

    name: str
    ground: str
    holds: bool
    peak: str
    peak_worst: str
    unsure: str
    unsure_worst: str
    IF: str
    VR: str


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One change: the steepest slope that is stood with it, which state is lost beyond, a link to the stage with it."""

    name: str
    slope: str
    times: str
    lost: str
    query: str


@dataclass(frozen=True, slots=True)
class StepPanel:
    """The panel.

    Attributes
    ----------
    dv, slope : str
        Step and slope, as typed.
    error : str
        What is wrong with them.
    reason : str
        Why the output is not followed; empty where it is.
    verdict : str
        Whether the levels stand it, in a sentence; empty where nothing tells.
    holds : bool
        Whether they do, at worst.
    current, lasting, charge : str
        What flows through the barrier, for how long, how much in all.
    steepest : str
        The steepest slope that is stood at worst; empty where nothing tells.
    barrier : str
        What couples, in a sentence.
    LED : str
        What the LED makes of it, in a sentence; empty where that is nothing.
    plots : tuple of EdgePlot
        Both states, each by the worse way, the most harmful first.
    rows : tuple of StateRow
        Both states, both ways.
    changes : tuple of ChangeRow
        What helps.
    """

    dv: str
    slope: str
    error: str
    reason: str
    verdict: str
    holds: bool
    current: str
    lasting: str
    charge: str
    steepest: str
    barrier: str
    LED: str
    plots: tuple[EdgePlot, ...] = ()
    rows: tuple[StateRow, ...] = ()
    changes: tuple[ChangeRow, ...] = ()


def asked(typed: Typed) -> tuple[float, float]:
    """Return the step and its slope; what is wrong with them is left with `typed`."""
    return typed.quantity("dv", "V", 500.0, STEPS), typed.quantity("slope", "V/s", 1e9, SLOPES)


def step_panel(scenario: Scenario, values: dict[str, str]) -> StepPanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    texts = {key: values.get(key, "").strip() or usual for key, usual in USUAL.items()}
    typed = Typed(texts)
    dV, slope = asked(typed)
    try:
        found, helps = common_mode_of(scenario, dV, slope), steadied(scenario, dV)
        reason = found.reason
    except ConvergenceError:
        found, helps, reason = None, (), UNSOLVED
    shown = {"dv": texts["dv"], "slope": texts["slope"], "error": told(typed.problems)}
    if found is None:
        return StepPanel(**shown, reason=reason, **dict.fromkeys(_TOLD, ""), holds=False)
    load = scenario.output
    return StepPanel(
        **shown,
        reason=reason,
        verdict=_verdict(found),
        holds=bool(found.holds),
        current=plain(found.current, "A"),
        lasting=plain(found.lasting, "s"),
        charge=plain(found.charge, "C"),
        steepest=_steepest(found, helps),
        barrier=_barrier(found),
        LED=_led(found),
        plots=tuple(step_plot(found, one, load) for one in _drawn(found)),
        rows=tuple(_row(one, "A" if load.observed == "IL" else "V") for one in found.disturbances),
        changes=tuple(_change(one, helps[0], _own(texts)) for one in helps),
    )


_TOLD = ("verdict", "current", "lasting", "charge", "steepest", "barrier", "LED")


def _drawn(found: CommonMode):
    """Return the worse way of each state, the more harmful state first."""
    worse: dict[bool, Disturbance] = {}
    for one in found.disturbances:
        worse.setdefault(one.lit, one)
    return tuple(worse.values())


# ---------------------------------------------------------------- in sentences


def _asked_for(found: CommonMode) -> str:
    """Return step and slope in words."""
    return f"a step of {as_typed(found.dV, UNITS['V'])} at {as_typed(found.slope, SLOPE)}"


def _verdict(found: CommonMode) -> str:
    """Return whether the levels stand the step."""
    step = _asked_for(found)
    if not found.disturbances:
        if found.CMTI is None:
            return ""
        stands = "stands" if found.holds else "need not stand"
        return f"The card states {as_typed(found.CMTI, SLOPE)} at the least, so the coupler {stands} {step}."
    if found.holds:
        return f"Both levels stay surely read through {step}, at worst too."
    at_rest = [one for one in found.disturbances if one.room.low + one.peak.high < 0.0 or one.unsure.high is None]
    if at_rest:
        state = "lit" if at_rest[0].lit else "dark"
        return f"With the LED {state} the level is not surely read at worst even before the step; look at the findings."
    first = found.disturbances[0]
    state, way = ("lit" if first.lit else "dark"), ("rises" if first.rising else "falls")
    what = f"with the LED {state}, while the input's ground {way}"
    for_long = f"not surely {first.level} for {plain(first.unsure.high, 's')}"
    read = "; the other level is even read meanwhile" if first.wrong.high else ""
    if not first.unsure.value:
        return f"The nominal stage stands {step}, but at worst the output is {for_long}, {what}{read}."
    return f"The output does not stand {step}: at worst it is {for_long}, {what}{read}."


def _steepest(found: CommonMode, helps) -> str:
    """Return the steepest slope that is stood."""
    if helps:
        return slope_told(helps[0].steepest.slope)
    return "" if found.CMTI is None else as_typed(found.CMTI, SLOPE)


def slope_told(slope: float) -> str:
    """Return a slope that is stood, rounded down."""
    if not slope:
        return "none"
    if math.isinf(slope):
        return "any"
    step = 10.0 ** (math.floor(math.log10(slope)) - _DIGITS + 1)
    return " ".join(reading(math.floor(slope / step + 1e-9) * step, SLOPE, _DIGITS))


def _barrier(found: CommonMode) -> str:
    """Return what couples."""
    barrier, stated = found.barrier, found.scenario.coupling.data.C_io is not None
    C = f"{plain(barrier.C, 'F')} from input to output ({'the card' if stated else 'usual of the class'})"
    if not found.disturbances:
        return f"Reckoned with {C}; cards here are those of generic classes."
    return f"Reckoned with {C}; {as_typed(barrier.base, UNITS['1'])} of its current lands in the base, as is assumed."


def _led(found: CommonMode) -> str:
    """Return what the LED makes of the current that leaves its leads."""
    dark = [one for one in found.disturbances if not one.lit]
    if not dark:
        return ""
    glow, back = max(dark, key=lambda one: one.IF_most.high), max(found.disturbances, key=lambda one: one.VR_most.high)
    said = []
    if glow.IF_most.high > _GLOW:
        way = "rises" if glow.rising else "falls"
        said.append(f"While the input's ground {way}, up to {plain(glow.IF_most.high, 'A')} flow through the dark LED.")
    limit = found.scenario.coupling.data.VR_max
    if back.VR_most.high > limit:
        said.append(f"It would be drawn to {plain(back.VR_most.high, 'V')} backwards, beyond its {plain(limit, 'V')}.")
    if said:
        said.append("A diode or a resistor across the LED takes that current past it.")
    return " ".join(said)


# ---------------------------------------------------------------- rows


def _row(one: Disturbance, unit: str) -> StateRow:
    """Return one row of the table of states."""
    return StateRow(
        "lit" if one.lit else "dark",
        "rising" if one.rising else "falling",
        one.room.low >= 0.0,
        plain(one.peak.value, unit),
        plain(one.peak.high, unit),
        _time(one.unsure.value),
        _time(one.unsure.high),
        _between(plain(one.IF_least.value, "A"), plain(one.IF_most.value, "A")),
        plain(one.VR_most.value, "V"),
    )


def _between(low: str, high: str) -> str:
    """Return a range as text."""
    return low if low == high else f"{low} – {high}"


def _time(value: float | None) -> str:
    """Return a time as text."""
    return _NEVER if value is None else plain(value, "s") if value else "0"


def _own(texts: dict[str, str]) -> str:
    """Return this panel and its own values as the end of an address."""
    typed = {f"p.{key}": text for key, text in texts.items() if text != USUAL[key]}
    return urlencode({"panel": "step"} | typed)


def _change(one: Steadying, as_it_is: Steadying, own: str) -> ChangeRow:
    """Return one row of what helps."""
    before, after = as_it_is.steepest.slope, one.steepest.slope
    times = ""
    if one is not as_it_is and before and not math.isinf(before) and not math.isinf(after):
        times = f"× {float(f'{after / before:.2g}'):g}"
    lost = {True: "lit", False: "dark", None: ""}[one.steepest.lit]
    query = f"{query_from(one.scenario)}&{own}" if one.change in ("RL", "CL", "RBE", "IF") else ""
    return ChangeRow(_NAMES[one.change].format(value=_value(one)), slope_told(after), times, lost, query)


def _value(one: Steadying) -> str:
    """Return what a part is changed to."""
    unit = {"RL": "ohm", "RBE": "ohm", "CL": "F"}.get(one.change)
    return as_typed(one.value, UNITS[unit]) if unit else ""


_NAMES = {
    "": "as it is",
    "screen": "a screen over the detector, a tenth of the share",
    "RL": "half of RL, {value}",
    "IF": "twice the LED current",
    "CL": "CL of {value} at the output",
    "RBE": "{value} from base to emitter",
}
"""What is changed to words."""
