"""The test circuits of a data sheet as stages: what a card's lines were measured on, ready to be opened and changed."""

from dataclasses import dataclass

import numpy as np

from engine.constants import REFERENCE_TEMPERATURE
from engine.coupler import TransistorCard, card_names, load_card, model_of, pack_card, speed_tests
from engine.errors import ScenarioError
from engine.inputs import LogicOutput
from engine.outputs import DcLoad, Gate, PullUp
from engine.quantity import AMPERE, FARAD, OHM, VOLT, as_typed
from engine.scenario import Conditions, Coupling, Scenario

_ACROSS_R1 = 4.0  # [V], what R1 takes, as in the test circuits that a card is calibrated on
_PORT = 10e-3  # [ohm], a generator as stiff as can be
_LEAST_RL = 10.0  # [ohm], load of a test that holds the collector: hundredths of a volt for some milliamperes
_SUPPLY = 5.0  # [V], of the saturation test; its RL takes what the stated IC asks for
_MOST_R = 1e8  # [ohm], a gate without a resistor to its emitter
_DIGITS = 4  # significant, of the values of a stage and of a condition in words
_BARELY, _NEARLY = 0.1, 0.9  # [-], shares of the swing that times of a sheet go by


@dataclass(frozen=True, slots=True)
class SheetStage:
    """One test of a data sheet.

    Attributes
    ----------
    name : str
        What is tested, in words.
    condition : str
        Under which condition, in words.
    lines : tuple of str
        Names of the lines it answers, as of `lines_of` and `speed_lines_of`.
    over_time : bool
        Whether it is read off edges.
    scenario : Scenario or None
        The stage; None where none can be had.
    why : str
        Why there is none, in a sentence; empty where there is one.
    """

    name: str
    condition: str
    lines: tuple
    over_time: bool
    scenario: Scenario | None
    why: str = ""


def sheet_stages(card):
    """Return the tests of a card's data sheet as stages.

    Parameters
    ----------
    card : Card
        The card, of any family.

    Returns
    -------
    tuple of SheetStage
        Those on speed, then those at rest. A detector that is a transistor: CTR, VCE(sat), and what the card states of
        a test without saturation and of one with it. A gate: VOL. A gate, a driver or a relay: the test of speed.

    Raises
    ------
    CardError
        If the card cannot be calibrated.

    Notes
    -----
    Not all lines are stages. A triac's turn-on is tested on a direct voltage, and its sides here are alternating ones;
    it comes without a scenario, with the reason. The same holds of a test whose values a stage does not take, such as
    a supply of more than 1000 V. Dark currents, thresholds, the point at the knee, curves over current or temperature,
    drops of a driver and on-resistances hold a current or a voltage that no stage holds. The CTR's test holds VCE; its
    stage has RL = 10 ohm below a supply that leaves VCE at the typical collector current, so only a typical specimen
    is at that VCE. Rise and fall times of couplers with a threshold are not modelled.

    A generator with R1 feeds the LED, as in the test circuits of the calibration. Receivers draw nothing and read at a
    tenth and nine tenths of the swing, so that "surely read" is what a sheet calls on and off. Delay and transition of
    an edge are a sheet's delay or storage time and its rise or fall time; both together are turn-on or turn-off time.

    References
    ----------
    Derived here.
    """
    model = model_of(card)
    find = _transistor if isinstance(card, TransistorCard) else _switching
    return tuple(_stage(card, *test) for test in find(model))


def _stage(card, name, lines, over_time, condition, side):
    """Return one test; `side` is the output side by its values, or a sentence why there is none."""
    words = ", ".join(
        f"{symbol} = {as_typed(float(f'{value:.{_DIGITS}g}'), _UNITS[symbol[0]])}"
        for symbol, value in condition.items()
    )
    if isinstance(side, str):
        return SheetStage(name, words, lines, over_time, None, side)
    kind, values = side
    try:
        load = kind(VCC_tolerance=0.0, **_plain(values))
        conditions = Conditions(tolerance=0.0, series="E96")
        scenario = Scenario(
            input=_fed(card, condition["IF"]), coupling=_coupling(card), output=load, conditions=conditions
        )
    except ScenarioError as error:
        problem = error.problems[0]
        return SheetStage(name, words, lines, over_time, None, f"No stage takes it: {problem.reason}.")
    return SheetStage(name, words, lines, over_time, scenario)


_UNITS = {"I": AMPERE, "V": VOLT, "R": OHM, "C": FARAD}


def _coupling(card):
    """Return the coupler: a shipped one by its name, any other with its lines."""
    if card.name in card_names() and load_card(card.name) == card:
        return Coupling(card=card.name)
    return Coupling(card="own", own=pack_card(card))


def _fed(card, IF):
    """Return the input side that feeds the LED a current."""
    VS = float(model_of(card).led.VF(IF, REFERENCE_TEMPERATURE)) + _ACROSS_R1
    values = {
        "VS": VS,
        "R1": _ACROSS_R1 / IF - _PORT,
        "IF": IF,
        "I_port": 2.0 * IF,
        "R1_rating": max(0.25, _ACROSS_R1 * IF),
    }
    return LogicOutput(VS_tolerance=0.0, R_port=_PORT, **_plain(values))


def _plain(values):
    """Return values as one would type them, so that a link holds the same."""
    return {name: float(f"{value:.{_DIGITS}g}") for name, value in values.items()}


def _receiver(VCC, RL, low, CL=0.0):
    """Return a pull-up; its receiver draws nothing and reads at a tenth and nine tenths between VCC and a low level."""
    swing = VCC - low
    levels = {"VIL": low + _BARELY * swing, "VIH": low + _NEARLY * swing}
    rating = max(0.25, VCC * VCC / RL)
    return PullUp, {"VCC": VCC, "RL": RL, "I_leak": 0.0, "C_load": CL, "RL_rating": rating, **levels}


# ---------------------------------------------------------------- transistors


def _transistor(model):
    """Yield name, lines, whether over time, condition and output side of every test."""
    card, tests = model.card, speed_tests(model)
    if card.linear_VCC is not None:
        VCC, IC, RL = card.linear_VCC, card.linear_IC, card.linear_RL
        condition = {"VCC": VCC, "IC": IC, "RL": RL, "IF": float(tests.pulse.IF[0])}
        yield "Speed without saturation", ("Rise time", "Fall time"), True, condition, _receiver(VCC, RL, VCC - IC * RL)
    if card.saturated_VCC is not None:
        VCC, RL = card.saturated_VCC, card.saturated_RL
        lines = "Turn-on time", "Storage time", "Turn-off time"
        condition = {"VCC": VCC, "RL": RL, "IF": card.saturated_IF}
        yield "Speed with saturation", lines, True, condition, _receiver(VCC, RL, min(card.VCE_sat, 0.5 * VCC))
    IC = card.CTR_typ * card.CTR_IF
    held = _receiver(card.CTR_VCE + IC * _LEAST_RL, _LEAST_RL, card.CTR_VCE)
    yield "Current transfer ratio", ("CTR typ",), False, {"IF": card.CTR_IF, "VCE": card.CTR_VCE}, held
    VCC = max(_SUPPLY, 10.0 * card.VCE_sat)
    condition = {"IF": card.VCE_sat_IF, "IC": card.VCE_sat_IC}
    held = _receiver(VCC, (VCC - card.VCE_sat) / card.VCE_sat_IC, card.VCE_sat)
    yield "Saturation voltage", ("VCE(sat) typ",), False, condition, held


# ---------------------------------------------------------------- thresholds


def _switching(model):
    """Yield the tests of a coupler with a threshold, as `_transistor`."""
    card = model.card
    if card.t_on is not None:
        given = {name: getattr(card, f"speed_{name}", None) for name in ("VCC", "RL", "CL", "IF")}
        condition = {name: value for name, value in given.items() if value is not None}
        yield "Speed", _TIMES[card.family], True, condition, _SPEED[card.family](card)
    if card.family == "logic-gate":
        VCC = float(np.clip(_SUPPLY, *card.supply))
        held = _receiver(VCC, (VCC - card.VOL) / card.VOL_IOL, card.VOL)
        yield "Low level", ("VOL typ",), False, {"IF": card.VOL_IF, "IOL": card.VOL_IOL}, held


_TIMES = {
    "logic-gate": ("tPHL typ", "tPLH typ"),
    "gate-driver": ("tPLH typ", "tPHL typ"),
    "mosfet-relay": ("Turn-on time typ", "Turn-off time typ"),
    "opto-triac": ("Turn-on time typ",),
}


def _gate(card):
    """Return the gate that CL stands for: the charge that it takes over the whole supply."""
    VCC = card.speed_VCC
    levels = {"V_gate_on": _NEARLY * VCC, "V_gate_off": _BARELY * VCC}
    return Gate, {"VCC": VCC, "RL": card.speed_RL, "R_GE": _MOST_R, "QG": card.speed_CL * VCC, **levels}


def _load(card):
    """Return the load of a relay."""
    VCC, RL = card.speed_VCC, card.speed_RL
    shares = {"share_on": _NEARLY, "share_off": _BARELY}
    return DcLoad, {"VCC": VCC, "RL": RL, "RL_rating": max(0.25, VCC * VCC / RL), **shares}


_SPEED = {
    "logic-gate": lambda card: _receiver(card.speed_VCC, card.speed_RL, card.VOL, card.speed_CL),
    "gate-driver": _gate,
    "mosfet-relay": _load,
    "opto-triac": lambda card: "A triac's turn-on is tested on a direct voltage; the stages of a triac are on mains.",
}
"""Family to output side of its test of speed."""
