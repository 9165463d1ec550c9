"""The off state: what leaks, what the LED and the output make of it, and what cures it."""

from dataclasses import dataclass

from engine import (
    DARK_VF,
    VOLT,
    WATT,
    BareRule,
    Cure,
    Leak,
    OffState,
    Scenario,
    as_typed,
    off_state_of,
    query_from,
)
from webapp.present.figures import Figure, figure, plain
from webapp.present.panels.requirements import named
from webapp.present.panels.window_bar import resistance

SCALE = 200
"""Length of the ruler, in the units of its view box."""

_TOP = 1.6  # [V], where the ruler ends unless more is left across the LED
_PLACES = {"led": "across the LED", "input": "across the whole input", "switch": "across the switch"}
_SIDES = {"input": "Input", "output": "Output"}


@dataclass(frozen=True, slots=True)
class LeakView:
    """One way for current.

    Attributes
    ----------
    side : str
        "Input" or "Output".
    name : str
        What leaks.
    stated : str
        What is stated of it; empty where that is a matter of the card.
    flows : Figure
        The current that flows.
    """

    side: str
    name: str
    stated: str
    flows: Figure


@dataclass(frozen=True, slots=True)
class RulerView:
    """The LED's voltage beside what leaves it dark.

    Attributes
    ----------
    low, span, at : float
        The range of the voltage, and its nominal value.
    limit_at : float
        Where the limit stands.
    limit : str
        The limit.
    volts : Figure
        The voltage.
    """

    low: float
    span: float
    at: float
    limit_at: float
    limit: str
    volts: Figure


@dataclass(frozen=True, slots=True)
class CureView:
    """One bleeder.

    Attributes
    ----------
    place : str
        Where it lies.
    R : str
        The resistance.
    left : str
        What it leaves across the LED at worst.
    power : str
        What it takes with the LED lit.
    rating : str
        The power rating for that.
    lit : str
        What becomes of the lit stage.
    holds : bool
        Whether everything holds with it.
    query : str
        Link to the stage with it.
    """

    place: str
    R: str
    left: str
    power: str
    rating: str
    lit: str
    holds: bool
    query: str


@dataclass(frozen=True, slots=True)
class OffPanel:
    """The panel.

    Attributes
    ----------
    dark : bool
        Whether the LED is dark at every corner.
    right : bool
        Whether the output surely reads what it should.
    answer : str
        Both in a sentence.
    leaks : tuple of LeakView
        What leaks.
    ruler : RulerView
        The LED's voltage.
    scale : int
        Length of the ruler.
    IF : Figure
        The LED's current.
    name : str
        What is read at the output.
    read : Figure
        Its value.
    output : str
        What it reads, and how far from its limit.
    present : str
        The bypass that there is; empty if there is none.
    cures : tuple of CureView
        Bleeders.
    uncured : str
        Why there is none.
    rules : tuple of str
        What the rule in print would leave, in sentences.
    """

    dark: bool
    right: bool
    answer: str
    leaks: tuple[LeakView, ...]
    ruler: RulerView
    scale: int
    IF: Figure
    name: str
    read: Figure
    output: str
    present: str
    cures: tuple[CureView, ...]
    uncured: str
    rules: tuple[str, ...]


def off_panel(scenario: Scenario, values: dict[str, str]) -> OffPanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    state = off_state_of(scenario)
    right = state.output is None or state.output.severity == "pass"
    present = f"RB {resistance(state.present[1])} lies {_PLACES[state.present[0]]}." if state.present else ""
    return OffPanel(
        dark=state.dark,
        right=right,
        answer=_answer(state, right),
        leaks=tuple(_leak(leak) for leak in state.leaks),
        ruler=_ruler(state),
        scale=SCALE,
        IF=figure(state.IF),
        name=state.name,
        read=figure(state.read),
        output=_output(state),
        present=present,
        cures=tuple(_cure(cure) for cure in state.cures),
        uncured=state.uncured,
        rules=tuple(_rule(rule) for rule in state.rules),
    )


def _answer(state: OffState, right: bool) -> str:
    """Return what the off state is, in a sentence."""
    led = "The LED is dark" if state.dark else "What leaks lights the LED"
    output = f"the output surely reads {state.level}" if right else f"the output reads {state.level}, and not for sure"
    if not right and state.output is not None and state.output.severity == "stop":
        output = f"the output reads {state.level}, which is wrong"
    return f"{led}, and {output}."


def _leak(leak: Leak) -> LeakView:
    """Return one way for current."""
    return LeakView(_SIDES[leak.side], leak.name, leak.stated, figure(leak.flows))


def _ruler(state: OffState) -> RulerView:
    """Return the LED's voltage on a scale."""
    most = SCALE / max(_TOP, state.VF.high)
    low, at, high = (max(volts, 0.0) * most for volts in (state.VF.low, state.VF.value, state.VF.high))
    return RulerView(low, high - low, at, DARK_VF * most, as_typed(DARK_VF, VOLT), figure(state.VF))


def _output(state: OffState) -> str:
    """Return what the output reads beside its limit."""
    if state.output is None:
        return f"reads {state.level}"
    value, limit = plain(state.output.value, state.output.unit), plain(state.output.limit, state.output.unit)
    return f"reads {state.level}; {value} at worst against {limit}, margin {state.output.margin * 100:.0f} %".replace(
        "-", "−"
    )


def _cure(cure: Cure) -> CureView:
    """Return one bleeder."""
    overdrive = f", overdrive {cure.overdrive:.3g} at worst" if cure.overdrive is not None else ""
    lit = f"IF {figure(cure.IF).text}{overdrive}"
    if cure.worse:
        lit += f"; now fails: {named(cure.worse)}"
    if others := [code for code in cure.failing if code not in cure.worse]:
        lit += f"; still fails: {named(others)}"
    if not cure.failing:
        lit += "; everything holds"
    rating = f"take a {as_typed(cure.rating, WATT)} part" if cure.rating else "no standard part takes that"
    return CureView(
        _PLACES[cure.place],
        resistance(cure.R),
        plain(cure.VF, "V"),
        plain(cure.power, "W"),
        rating,
        lit,
        not cure.failing,
        query_from(cure.scenario),
    )


def _rule(rule: BareRule) -> str:
    """Return what the rule in print would leave."""
    ohms, volts, led = resistance(rule.R), plain(rule.V, "V"), plain(rule.VF, "V")
    where = _PLACES[rule.place]
    lit = "lights it" if rule.VF > DARK_VF else "leaves it dark"
    if rule.place == "led":
        return f"{ohms} {where}: {led} are left, which {lit}."
    return f"{ohms} {where}: {volts} are left across the input, and {led} across the LED, which {lit}."
