"""How it is worked out: the laws with the actual numbers, and the hand calculation beside the full solve.

By hand means what is done on paper: a constant forward voltage, no voltage across a saturated detector, a transfer
ratio that does not depend on the current.
"""

from dataclasses import dataclass

from engine.operating import Range
from engine.quantity import AMPERE, OHM, RATIO, VOLT, reading


@dataclass(frozen=True, slots=True)
class Loop:
    """Kirchhoff's voltage law round one side.

    Attributes
    ----------
    side : str
        "input" or "output".
    source : str
        Part that drives the loop.
    volts : float
        Its voltage [V].
    terms : tuple of (str, float)
        Part and voltage across it, in the order of the loop [V].
    left : float
        What the terms leave of the source; rounding only [V].
    """

    side: str
    source: str
    volts: float
    terms: tuple
    left: float


@dataclass(frozen=True, slots=True)
class Node:
    """Kirchhoff's current law at the receiver's node.

    Attributes
    ----------
    node : str
        Name of the node.
    terms : tuple of (str, float)
        Part and current that flows into the node from it [A].
    left : float
        Their sum; rounding only [A].
    """

    node: str
    terms: tuple
    left: float


@dataclass(frozen=True, slots=True)
class Ohm:
    """Ohm's law at one resistor.

    Attributes
    ----------
    part : str
        The resistor.
    volts : float
        Voltage across it [V].
    ohms : float
        Its resistance [ohm].
    amperes : float
        Current through it [A].
    """

    part: str
    volts: float
    ohms: float
    amperes: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """One figure by hand and as solved.

    Attributes
    ----------
    symbol : str
        What it is.
    formula : str
        The hand calculation in symbols.
    by_hand : float
        Its result [unit].
    solved : float
        The full solve [unit].
    unit : str
        Name of the SI unit.
    why : str
        One sentence on the difference.
    """

    symbol: str
    formula: str
    by_hand: float
    solved: float
    unit: str
    why: str


@dataclass(frozen=True, slots=True)
class Worked:
    """The reasoning for one switch state.

    Attributes
    ----------
    loops : tuple of Loop
        Voltage law, input side and output side.
    resistors : tuple of Ohm
        Ohm's law at R1 and RL.
    node : Node or None
        Current law at the receiver, where there is one.
    comparisons : tuple of Comparison
        By hand beside solved.
    """

    loops: tuple
    resistors: tuple
    node: Node | None
    comparisons: tuple


def reasoning_of(point, name):
    """Return the reasoning for one switch state.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    name : str
        "closed" or "open".

    Returns
    -------
    Worked
        Laws and comparisons.
    """
    scenario, state = point.scenario, point.states[name]
    loops = (
        _loop("input", "VS", scenario.input.loop, state),
        _loop("output", "VCC", scenario.output.loop, state, scenario.output.backwards),
    )
    resistors = tuple(
        Ohm(part, state.drops[part].value, point.sized[part].chosen, state.currents[part].value)
        for part in ("R1", "RL")
    )
    by_hand = _lit_by_hand if name == "closed" else _dark_by_hand
    return Worked(loops, resistors, _node(scenario, state), tuple(by_hand(point, state)))


def _loop(side, source, parts, state, backwards=()):
    """Return the voltage law of one loop; the drop of what is fitted backwards counts the other way."""
    volts = state.nodes[source].value
    terms = tuple((part, -state.drops[part].value if part in backwards else state.drops[part].value) for part in parts)
    return Loop(side, source, volts, terms, volts - sum(drop for _, drop in terms))


def _node(scenario, state):
    """Return the current law at the receiver's node; the load says which parts meet there, and which way."""
    if not scenario.output.meeting:
        return None
    # The emitter also delivers what flows in at the base, which nothing outside feeds: emitter and collector
    # current are the same to the last femtoampere.
    nothing = Range(0.0, 0.0, 0.0, "A")
    into = tuple((part, way * state.currents.get(part, nothing).value) for part, way in scenario.output.meeting)
    return Node("OUT", into, sum(current for _, current in into))


def _print(value, unit):
    return " ".join(reading(value, unit))


def _lit_by_hand(point, state):
    """Yield the comparisons with the LED lit."""
    if not point.scenario.coupling.has_ratio:
        yield from _switched_by_hand(point, state)
        return
    scenario, found = point.scenario, state.quantities
    card = scenario.coupling.data
    R1, RL = point.sized["R1"].chosen, point.sized["RL"].chosen
    yield (driven := _drive_by_hand(scenario.input, typical_VF(card), R1, found))
    IF = driven.by_hand
    CTR, *_ = scenario.coupling.ratios()
    available = CTR * IF
    solved = found["IC_available"].value
    at_hand = solved / found["IF"].value if found["IF"].value > 0 else 0.0
    yield Comparison(
        "IC available", f"CTR x IF with CTR {_print(CTR, RATIO)}", available, solved, "A",
        f"CTR is stated at {_print(card.CTR_IF, AMPERE)} and 25 °C; here it is {_print(at_hand, RATIO)}.",
    )  # fmt: skip
    taken, needed = _load_by_hand(scenario.output, RL)
    saturated = available >= needed
    IC = needed if saturated else available
    formula = taken if saturated else "CTR x IF, less than the load needs"
    yield Comparison("IC", formula, IC, found["IC"].value, "A", _why_IC(saturated, found))
    VCE = 0.0 if saturated else max(scenario.output.VCC - scenario.output.drop_by_hand - IC * RL, 0.0)
    yield Comparison(
        "VCE", "saturated: 0" if saturated else "VCC - IC x RL", VCE, found["VCE"].value, "V",
        "A saturated detector keeps some voltage: its junctions' difference and the drop in its collector region."
        if saturated else "The solved current differs, and grows a little with VCE.",
    )  # fmt: skip


def _load_by_hand(load, RL):
    """Return the current that a load asks for, in symbols and in figures [A]."""
    VD = load.drop_by_hand
    through, most = max(load.VCC - VD, 0.0) / RL, load.most_by_hand
    top = f"({_print(load.VCC, VOLT)} - {_print(VD, VOLT)})" if VD else _print(load.VCC, VOLT)
    return f"{top} / RL, VCE taken as 0" if through <= most else "what the input takes", min(through, most)


def needed_by_hand(point):
    """Return the collector current that the load asks for, by hand beside solved.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage, whose coupler has a transfer ratio.

    Returns
    -------
    Comparison
        By hand beside solved.
    """
    formula, needed = _load_by_hand(point.scenario.output, point.sized["RL"].chosen)
    solved = point.states["closed"].quantities["IC_needed"].value
    card = point.scenario.coupling.data
    why = f"The detector keeps {_print(card.VCE_sat, VOLT)}, and a receiver takes or gives a little current of its own."
    return Comparison("IC needed", formula, needed, solved, "A", why)


def _switched_by_hand(point, state):
    """Yield the comparisons with the LED lit, for a coupler with a threshold."""
    scenario, found, card = point.scenario, state.quantities, point.scenario.coupling.data
    R1, load, RL = point.sized["R1"].chosen, scenario.output, point.sized["RL"].chosen
    yield (driven := _drive_by_hand(scenario.input, typical_VF(card), R1, found))
    yield Comparison(
        "IF needed", "typical threshold of the card", card.IF_typ, found["IF_needed"].value, "A",
        f"Stated at 25 °C; at worst, and at this temperature, it is {_print(found['IF_needed'].high, AMPERE)}.",
    )  # fmt: skip
    on = driven.by_hand >= card.IF_typ
    V, beside = load.V_by_hand, load.R_by_hand
    top = _print(V, VOLT) + (f" - {_print(load.drop_by_hand, VOLT)}" if load.drop_by_hand else "")
    R = f"(RL + {_print(beside, OHM)})" if beside else "RL"
    current = max(V - load.drop_by_hand, 0.0) / (RL + beside) if on else 0.0
    yield Comparison(
        "IL", f"({top}) / {R}, no drop in the coupler" if on else "below the threshold: 0",
        current, found["IL"].value, "A", "The output keeps some voltage, and what is in series has its own drops.",
    )  # fmt: skip
    if on:
        yield Comparison(
            "VCE", "as the card states it at its test current", scenario.coupling.model.V_lit, found["VCE"].value, "V",
            "What the output keeps goes with its current.",
        )  # fmt: skip


def _drive_by_hand(side, VF, R1, found):
    """Return the comparison of the LED current: what R1 lets flow, less what flows past the LED."""
    VB, past = side.drop_by_hand, side.past_led_by_hand(VF)
    through = max(side.VS - VF - VB, 0.0) / R1
    limited = side.most_by_hand < through
    top = f"{_print(side.VS, VOLT)} - VF" + (f" - {_print(VB, VOLT)}" if VB else "")
    formula = f"{side.most_in_words} {_print(side.most_by_hand, AMPERE)}" if limited else f"({top}) / R1"
    formula += f" - {_print(past, AMPERE)} past the LED" if past else ""
    IF = max(min(through, side.most_by_hand) - past, 0.0)
    return Comparison("IF", formula, IF, found["IF"].value, "A", _why_IF(VF, found))


def _dark_by_hand(point, state):
    """Yield the comparisons with the LED dark."""
    scenario, found = point.scenario, state.quantities
    yield Comparison(
        "IF", "no current: 0", 0.0, found["IF"].value, "A",
        "What leaks past the open switch still flows through the LED." if found["IF"].value > 1e-9
        else "Nothing leaks here; a real switch and cable always do, if only a little.",
    )  # fmt: skip
    if not scenario.coupling.has_ratio:
        why = f"What leaks through an output that is off, {_print(abs(found['IL'].high), AMPERE)} at worst."
        yield Comparison("IL", "off: 0", 0.0, found["IL"].value, "A", why)
        return
    yield Comparison(
        "IC", "dark: 0", 0.0, found["IC"].value, "A",
        f"The dark current, {_print(found['IC'].high, AMPERE)} at worst at this temperature, doubles every few kelvin.",
    )  # fmt: skip
    if "VOUT" in found and scenario.output.meeting:
        rest = 0.0 if scenario.output.words[-1] == scenario.output.level_when_lit else scenario.output.VCC
        yield Comparison(
            "VOUT", "no drop across RL", rest, found["VOUT"].value, "V",
            "Dark current and the receiver's leakage, both through RL, move it.",
        )  # fmt: skip


def typical_VF(card):
    """Return the constant forward voltage that is used on paper.

    Parameters
    ----------
    card : Card
        The coupler's card.

    Returns
    -------
    float
        Typical voltage at the test current of the card's limits [V].
    """
    return dict(card.VF_points).get(card.VF_IF, (card.VF_min + card.VF_max) / 2)


def _why_IF(VF, found):
    """Return why the LED current differs from the one on paper."""
    return (
        f"VF was taken as {_print(VF, VOLT)}; at this current and temperature it is {_print(found['VF'].value, VOLT)}."
    )


def _why_IC(saturated, found):
    """Return why the collector current differs from the one on paper."""
    if saturated:
        return f"The detector keeps {_print(found['VCE'].value, VOLT)}, so RL sees that much less."
    return "By hand the transfer ratio is constant; solved, it goes with current, temperature and VCE."
