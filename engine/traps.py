"""Mistakes that beginners make, called out where a value looks like one of them, each with the figure that decides.

A trap is sure of itself: it is raised on what was solved, and what it blames on a wrong value is solved again with the
right one. Values that nobody typed, the defaults, are blamed for nothing but a step of rounding.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from engine.errors import ScenarioError
from engine.findings import SEVERITIES, Mend, findings_of
from engine.findings.drive import DARK_VF
from engine.findings.finding import FAILING, printed
from engine.findings.fitting import MARGIN, fitted
from engine.inputs import AcLine, CurrentLimited, MeasuredDriver
from engine.inputs.drive import NONE, Drive
from engine.operating import operating_point
from engine.preferred import preferred
from engine.quantity import AMPERE, OHM, VOLT, WATT, as_typed

# How near a value must be to what a mistake leads to; common practice, no source.
_DROP_NEAR, _DROP_SHARE = 0.05, 0.1  # [-], R1 to VS / IF; the share of VS that the LED's drop then takes
_BLEEDER_NEAR = 0.2  # [-], RB to VS over the leakage
_CTR_NEAR, _DEEP = 0.15, 1.5  # [-], IL to CTR x IF; overdrive from which the load decides what flows
_PEAK_NEAR, _PEAK_SHARES = 0.25, (0.4, 0.6)  # [-], a rating to the peak power; the share of it that heats
_DECADE_NEAR, _DECADES = math.log10(2.2), 3  # [-], distance to a power of ten; decades that a slip makes at the most
_STEEP = 1.5  # [-], power with which available current follows a resistor at the most

_PREFERRED = 1e-9  # [-], relative distance within which a value is a preferred one
_NUDGE = 1e-6  # [-], what leads from a preferred value on to the next one

_RATED = {
    "led-current": "exceeds the LED's rating",
    "port-current": "exceeds the port's rating",
    "package-current": "exceeds the package's rating",
}
_MISSED = {"saturation": "misses saturation", "turn-on": "misses the turn-on"} | _RATED


@dataclass(frozen=True, slots=True)
class Trap:
    """A value that looks like a mistake.

    Attributes
    ----------
    code : str
        Stable name, a key of `TRAPS`.
    field : str
        Key of the value in the query string.
    text : str
        What it looks like and what is so, in at most three sentences.
    decides : tuple of (float, float, str)
        The figure that decides, what it is held against, and the name of the SI unit of both; "1" for ratios.
    mend : Mend or None
        A better value, where there is one to offer.
    """

    code: str
    field: str
    text: str
    decides: tuple
    mend: Mend | None = None


@dataclass(frozen=True, slots=True)
class Lesson:
    """What a trap teaches, and how it is recognised.

    Attributes
    ----------
    title : str
        The lesson in a sentence.
    rule : callable
        From a solved stage and its findings by code to its traps.
    """

    title: str
    rule: Callable


def traps_of(point, findings):
    """Return the values of a solved stage that look like mistakes.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    findings : iterable of Finding
        What was found on it.

    Returns
    -------
    tuple of Trap
        In the order of `TRAPS`, at most one for each value: the first that explains it.
    """
    found, made = {finding.code: finding for finding in findings}, {}
    for lesson in TRAPS.values():
        for trap in lesson.rule(point, found):
            made.setdefault(trap.field, trap)
    return tuple(made.values())


# ---------------------------------------------------------------- what was typed, what another value would do


@lru_cache(maxsize=64)
def _usual(kind):
    """Return a record of a kind with every default."""
    return kind()


def _typed(part, name):
    """Return whether a value is a number that is not the default."""
    value = getattr(part, name)
    return not isinstance(value, str) and value != getattr(_usual(type(part)), name)


def _near(value, other, share):
    """Return whether a value is another one within a share of it."""
    return other > 0.0 and abs(value - other) <= share * other


def _solved(scenario):
    """Return the severity of every finding on another scenario; nothing if it cannot be built."""
    try:
        point = operating_point(scenario)
    except ScenarioError:
        return {}
    return {finding.code: finding.severity for finding in findings_of(point, remedies=False, slow=False)}


def _harmless(after, found):
    """Return whether another scenario can be built, and no rule comes out graver there than it is."""
    rank = SEVERITIES.index
    return bool(after) and not any(
        severity in FAILING and (code not in found or rank(severity) < rank(found[code].severity))
        for code, severity in after.items()
    )


# ---------------------------------------------------------------- traps of one figure


def _led_drop_ignored(point, found):
    """Recognise an R1 that is VS / IF, as if the LED took nothing."""
    side = point.scenario.input
    plain = isinstance(side, Drive) and not isinstance(side, CurrentLimited | MeasuredDriver)
    if not (plain and _typed(side, "R1") and _near(side.R1, side.VS / side.IF, _DROP_NEAR)):
        return
    VF, IF = (point.states["closed"].quantities[name].value for name in ("VF", "IF"))
    exact = point.sized["R1"].exact
    if exact is None or not (VF > _DROP_SHARE * side.VS and IF < (1.0 - _DROP_NEAR) * side.IF):
        return
    text = (
        f"R1 is VS / IF, which leaves out the {printed(VF, VOLT)} across the LED: "
        f"{printed(IF, AMPERE)} flow instead of {as_typed(side.IF, AMPERE)}."
    )
    mend = fitted(point, "R1", exact, point.scenario.conditions.rounding)
    after = _solved(mend.scenario) if mend else {}
    yield Trap("led-drop-ignored", "r1", text, (IF, side.IF, "A"), mend if _harmless(after, found) else None)


def _bleeder_rule(point, found):
    """Recognise a bypass that is the supply over the leakage."""
    side = point.scenario.input
    leakage = _leakage(side)
    if not (leakage > AMPERE.floor and _typed(side, "R_bypass") and side.bypass_at != "switch"):
        return
    VF = point.states["open"].quantities["VF"].value
    if not (VF > DARK_VF and _near(side.R_bypass, side.VS / leakage, _BLEEDER_NEAR)):
        return
    text = (
        f"RB is VS over the leakage, and leaves {printed(VF, VOLT)} across the LED with the switch open. "
        f"It is surely dark below {as_typed(DARK_VF, VOLT)} only: "
        f"that over {printed(leakage, AMPERE)} is {printed(DARK_VF / leakage, OHM)}."
    )
    tried = found.get("residual-light")
    yield Trap("bleeder-rule", "rb", text, (VF, DARK_VF, "V"), tried and tried.mend)


def _leakage(side):
    """Return what the open switch of a side lets through into a short circuit; nothing where none is stated [A]."""
    if hasattr(side, "I_off"):
        return side.I_off
    if not hasattr(side, "R_leak"):
        return 0.0
    return side.I_residual + (0.0 if side.R_leak == NONE else side.VS / side.R_leak)


def _ctr_times_if(point, found):
    """Recognise a load current that is CTR x IF, taken for what flows or for what may be asked for."""
    scenario, closed = point.scenario, point.states["closed"].quantities
    load, automatic = scenario.output, scenario.output.RL == "auto"
    if isinstance(scenario.input, AcLine) or "overdrive" not in closed or not scenario.coupling.has_ratio:
        return
    if not (automatic or _typed(load, "IL")):
        return
    most = scenario.coupling.ratios()[0] * closed["IF"].value
    if not _near(load.IL, most, _CTR_NEAR):
        return
    overdrive, IC = closed["overdrive"], closed["IC"].value
    given = f"CTR x IF = {printed(most, AMPERE)} is the most that the coupler gives"
    if overdrive.value > _DEEP and 0.0 < IC * _DEEP < most:
        text = (
            f"{given}, not what flows: the load sets {printed(IC, AMPERE)}, "
            f"and the coupler could give {overdrive.value:.3g} times that."
        )
        yield Trap("ctr-times-if", "il", text, (IC, most, "A"))
    elif automatic and found["saturation"].severity in FAILING:
        text = (
            f"{given}, and RL is sized for all of it: a weaker coupler gives only "
            f"{overdrive.low:.3g} times what the load needs."
        )
        yield Trap("ctr-times-if", "il", text, (overdrive.low, 1.0, "1"), _modest(point, found, overdrive.low))


def _modest(point, found, share):
    """Return the remedy of a load current that the weakest coupler gives; none if that does not saturate either."""
    load = point.scenario.output
    IL = float(f"{load.IL * share / MARGIN:.2g}")
    try:
        scenario = replace(point.scenario, output=replace(load, IL=IL))
    except ScenarioError:
        return None
    after = _solved(scenario)
    if after.get("saturation") != "pass" or not _harmless(after, found):
        return None
    return Mend(f"size RL for {as_typed(IL, AMPERE)}", scenario)


def _peak_power(point, found):
    """Recognise a rating of R1 that is the peak voltage squared over R1."""
    side = point.scenario.input
    if not isinstance(side, AcLine) or side.capacitive or not _typed(side, "R1_rating"):
        return
    peak, rating = side.VS**2 / point.sized["R1"].chosen, side.R1_rating * side.split
    mean = point.states["closed"].powers["R1"].value
    if not (_near(rating, peak, _PEAK_NEAR) and _PEAK_SHARES[0] * peak < mean < _PEAK_SHARES[1] * peak):
        return
    text = (
        f"R1 may take {as_typed(rating, WATT)}, about the peak voltage squared over R1, {printed(peak, WATT)}. "
        f"What heats it is the mean over the cycle, {printed(mean, WATT)}. As a margin of two it does no harm."
    )
    yield Trap("peak-power", "r1w", text, (mean, peak, "W"))


# ---------------------------------------------------------------- a slip of the decade


@dataclass(frozen=True, slots=True)
class _Asked:
    """A typed resistor: part, key, value, what its current asks for, the current in words, whether it was typed too."""

    part: str
    field: str
    R: float
    exact: float
    current: str
    stated: bool


def _asked(point):
    """Yield every typed resistor that a current asks for."""
    side, load, dark = point.scenario.input, point.scenario.output, point.states["open"].currents
    if _typed(side, "R1") and not side.capacitive and point.sized["R1"].exact is not None:
        yield _Asked("R1", "r1", side.R1, point.sized["R1"].exact, as_typed(side.IF, AMPERE), _typed(side, "IF"))
    if _typed(load, "RL") and point.sized["RL"].exact is not None:
        yield _Asked("RL", "rl", load.RL, point.sized["RL"].exact, as_typed(load.IL, AMPERE), _typed(load, "IL"))
    if isinstance(side, Drive) and _typed(side, "R_bypass") and side.bypass_at == "led":
        leakage = dark["RB"].high + dark["LED"].high
        if leakage > AMPERE.floor:
            yield _Asked("RB", "rb", side.R_bypass, DARK_VF / leakage, printed(leakage, AMPERE), False)


def _decade(point, found):
    """Recognise a resistor that is a power of ten off what its current asks for."""
    for asked in _asked(point):
        decades = math.log10(asked.R / asked.exact)
        k = round(decades)
        if not (1 <= abs(k) <= _DECADES and abs(decades - k) <= _DECADE_NEAR):
            continue
        # Below what leaves a limiter its dropout voltage the limiter takes the rest.
        if k < 0 and asked.part == "R1" and isinstance(point.scenario.input, CurrentLimited):
            continue
        yield from _slip(point, found, asked, k)


_DIM = {"saturation", "turn-on", "level-lit", "sensor-load", "relay-operate", "trigger-point", "minimum-load"}
_HOT = {"led-current", "port-current", "package-current", "power-r1", "led-average", "inrush"}
_LOADED = {"saturation", "level-lit", "collector-current", "detector-power", "power-rl", "output-current"}
_BLAMED = {
    ("R1", True): _DIM,
    ("R1", False): _HOT,
    ("RL", True): {"level-dark", "level-lit", "off-delivery", "relay-operate", "trigger-point"},
    ("RL", False): _LOADED | {"surge-current", "gate-peak"},
    ("RB", True): {"residual-light", "level-dark"},
    ("RB", False): _DIM | {"power-rb", "power-r1"},
}
"""Part, and whether it is too large, to the findings that this may break."""


def _slip(point, found, asked, k):
    """Yield the trap of a slip, if the digits in the right decade mend what fails, or if it contradicts what is asked.

    A current that nobody typed is asked for by nobody: then the nominal stage must fail.
    """
    graves = FAILING if asked.stated or asked.part == "RB" else FAILING[:1]
    blamed = {code for code in _BLAMED[asked.part, k > 0] if code in found and found[code].severity in graves}
    contradicts = asked.stated and abs(k) > 1
    mend = fitted(point, asked.part, asked.R / 10.0**k, "nearest") if blamed or contradicts else None
    if mend is None:
        return
    after = _solved(mend.scenario)
    if not contradicts and not any(after.get(code) == "pass" for code in blamed):
        return
    ask = f"{asked.current} ask for {printed(asked.exact, OHM)}"
    if asked.part == "RB":
        ask = f"to hold the LED at {as_typed(DARK_VF, VOLT)}, {ask}"
    much = f"{10 ** abs(k)} times too {'large' if k > 0 else 'small'}"
    text = f"{asked.part} is {as_typed(asked.R, OHM)}; {ask}. Is it a slip of the decade, {much}?"
    offered = mend if _harmless(after, found) else None
    yield Trap("decade", asked.field, text, (asked.R, asked.exact, "ohm"), offered)


# ---------------------------------------------------------------- rounded to the wrong side


def _rounded_wrong(point, found):
    """Recognise a preferred value that misses what its neighbour keeps."""
    for code in _MISSED:
        finding = found.get(code)
        if finding is None or finding.severity not in FAILING:
            continue
        ends = (finding.value, finding.limit) if code in _RATED else (finding.limit, finding.value)
        if not ends[1] > 0.0:
            continue
        for part, way in _ways(code):
            trap = _next_keeps(point, found, finding, (part, way, ends[0] / ends[1]))
            if trap is not None:
                yield trap
                break


def _ways(code):
    """Return the resistors that decide a finding, each with the direction that is safe."""
    if code in _RATED:
        return (("R1", "up"),)
    return (("RL", "up"), ("R1", "down")) if code == "saturation" else (("R1", "down"),)


def _next_keeps(point, found, finding, step):
    """Return the trap of a resistor whose next preferred value in one direction keeps what it misses; None if not."""
    part, way, missing = step
    sized, series = point.sized[part], point.scenario.conditions.series
    R, exact = sized.chosen, sized.exact
    if abs(preferred(R, series) - R) > _PREFERRED * R:
        return None
    neighbour = preferred(R * (1.0 + _NUDGE if way == "up" else 1.0 - _NUDGE), series, way)
    # An automatic value was rounded the wrong way only if the exact one lies between the two.
    if sized.automatic and not min(R, neighbour) < exact < max(R, neighbour):
        return None
    if missing > max(R / neighbour, neighbour / R) ** _STEEP:
        return None
    mend = fitted(point, part, neighbour, "nearest")
    after = _solved(mend.scenario) if mend else {}
    if after.get(finding.code) != "pass" or not _harmless(after, found):
        return None
    text = (
        f"{part} at {as_typed(R, OHM)} {_MISSED[finding.code]} at worst; "
        f"{as_typed(neighbour, OHM)}, the next value {way} in {series}, does not. Round towards the safe side."
    )
    decides = finding.value, finding.limit, finding.unit
    return Trap("rounded-wrong", part.lower(), text, decides, mend)


TRAPS = {
    "led-drop-ignored": Lesson(
        "The LED takes its forward voltage, so R1 is what is left of the supply over the current.", _led_drop_ignored
    ),
    "bleeder-rule": Lesson(
        "A bypass is sized by the voltage at which the LED is dark, not by the supply, over what leaks.", _bleeder_rule
    ),
    "ctr-times-if": Lesson(
        "CTR x IF is the most that the coupler gives; what flows is up to the load, and a margin to the worst coupler.",
        _ctr_times_if,
    ),
    "peak-power": Lesson(
        "On alternating voltage a resistor heats with the mean of the power, not with its peak.", _peak_power
    ),
    "decade": Lesson("A resistor that is a power of ten off has lost or won a zero or a prefix.", _decade),
    "rounded-wrong": Lesson(
        "A resistor is rounded towards the side on which its limit is kept, which may be the farther value.",
        _rounded_wrong,
    ),
}
"""Code of a trap to what it teaches and how it is recognised, what explains a value best first."""
