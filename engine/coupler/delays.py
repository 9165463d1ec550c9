"""How long a coupler with a threshold takes by itself, from its LED current to its output: pure transport delays.

What a card states includes the test circuit, whose share is taken off; the stage that a coupler stands in adds its own.
"""

from dataclasses import dataclass

import numpy as np

from engine.circuit import JunctionCharge
from engine.constants import REFERENCE_TEMPERATURE
from engine.coupler.families import SwitchingCard
from engine.coupler.stored import Charges

ACROSS_R1 = 4.0
"""What the resistor of the LED takes in a test circuit [V]; a source of some volts and a resistor are usual."""

_HALF = float(np.log(2.0))  # [-], time constants to the middle of an edge
_POINTS = 400  # of the LED's voltage while it is charged
_MOST = 0.95  # [-], share of its LED current that counts as a threshold at most; a charge comes to rest, never there

USUAL = {
    "logic-gate": ((50e-9, 100e-9), (50e-9, 100e-9)),
    "gate-driver": ((150e-9, 400e-9), (150e-9, 400e-9)),
    "mosfet-relay": ((1e-3, 3e-3), (0.2e-3, 1e-3)),
    "opto-triac": ((5e-6, 20e-6), (0.0, 0.0)),
}
"""Family to typical and largest delays into light and into the dark, of a card without lines on speed [s]; common
practice, no source."""


@dataclass(frozen=True, slots=True)
class Delay:
    """A delay over all specimens.

    Attributes
    ----------
    typical : float
        Of a typical one [s].
    largest : float
        Largest of all [s].
    least : float
        Smallest of all; 0, as data sheets state none [s].
    """

    typical: float
    largest: float
    least: float = 0.0


@dataclass(frozen=True, slots=True)
class Delays:
    """What passes between the LED current's passing of the threshold and the output path's changing over.

    Attributes
    ----------
    on : Delay
        The LED is lit [s].
    off : Delay
        It goes dark [s].
    stated : bool
        Whether the card states them.
    why : str
        Where they come from, in a sentence.
    """

    on: Delay
    off: Delay
    stated: bool
    why: str


def delays_of(model):
    """Return the delays of a coupler.

    Parameters
    ----------
    model : TransistorModel or SwitchingModel
        The calibrated coupler.

    Returns
    -------
    Delays
        Of a coupler with a transistor none, as its charges make it slow. Of a card without lines on speed those that
        are usual of its family.

    Notes
    -----
    The stated time less what the test circuit takes (`share_of_test`), and never below nothing: a coupler that has it
    in its own test circuit reads the stated time there. A triac goes dark at the next zero of its current, whatever
    its LED does; so it has no delay into the dark.

    References
    ----------
    Derived here. Delays of cards without lines: common practice, no source.
    """
    card = model.card
    if not isinstance(card, SwitchingCard):
        none = Delay(0.0, 0.0)
        return Delays(none, none, False, "A coupler with a transistor is slow by the charge that it stores.")
    if card.t_on is None:
        on, off = (Delay(*ends) for ends in USUAL[card.family])
        return Delays(on, off, False, "The card states no times; these are usual of its family.")
    shares = share_of_test(model)
    stated = card.t_on, getattr(card, "t_off", None) or (0.0, 0.0)
    on, off = (Delay(*(max(time - share, 0.0) for time in ends)) for ends, share in zip(stated, shares, strict=True))
    return Delays(on, off, True, "As the card states, less what its test circuit takes.")


def share_of_test(model):
    """Return what the test circuit itself takes of the stated times.

    Parameters
    ----------
    model : SwitchingModel
        The coupler; its card has lines on speed.

    Returns
    -------
    on : float
        Charging the LED up to its threshold, then the load to the middle of its edge [s].
    off : float
        The LED down to its threshold, then the load to the middle of the other edge [s].

    References
    ----------
    Derived here: one time constant at a load, ln 2 of it to the middle; the LED's depletion charge through R1.
    """
    up, down = _resistances(model.card)
    C = getattr(model.card, "speed_CL", 0.0) or 0.0
    lit_high = model.card.family == "gate-driver"
    on, off = (up, down) if lit_high else (down, up)
    led_on, led_off = _led_times(model)
    return led_on + _HALF * on * C, led_off + _HALF * off * C


def _resistances(card):
    """Return what CL is charged through while the output rises, and while it falls [ohm]."""
    if card.family == "logic-gate":
        R_on = card.VOL / card.VOL_IOL
        return card.speed_RL, card.speed_RL * R_on / (card.speed_RL + R_on)
    if card.family == "gate-driver":
        return card.drop_high / card.drop_high_IO + card.speed_RL, card.VOL / card.VOL_IO + card.speed_RL
    return 0.0, 0.0


def _led_times(model):
    """Return how long the LED of the test circuit takes until its current passes the threshold, up and down [s]."""
    card, led = model.card, model.led
    one, params = np.ones(_POINTS), led.junction(np.full(_POINTS, REFERENCE_TEMPERATURE))
    C0 = Charges().C_led if card.LED_capacitance is None else card.LED_capacitance
    charge = JunctionCharge("LED", "A", "K", C0 * one, 0.0 * one, params.IS, params.nVT)
    V_lit, V_threshold = (
        float(params.at_current(IF)[0]) for IF in (card.speed_IF, min(card.IF_typ, _MOST * card.speed_IF))
    )
    VS, R = float(led.VF(card.speed_IF, REFERENCE_TEMPERATURE)) + ACROSS_R1, ACROSS_R1 / card.speed_IF + led.RS

    def passing(begin, volts):
        v = np.linspace(begin, V_threshold, _POINTS)
        left = (volts - v) / R - params.IS * np.expm1(v / params.nVT)
        return float(np.trapezoid(charge.stored(v)[1] / left, v))

    return passing(0.0, VS), passing(V_lit, 0.0)
