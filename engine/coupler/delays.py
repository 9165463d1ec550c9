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
    on, off = (_left(ends, share) for ends, share in zip(stated, shares, strict=True))
    return Delays(on, off, True, "As the card states, less what its test circuit takes.")


def _left(stated, shares):
    """Return the delay that is left of typical and largest time."""
    typical, largest = (max(time - share, 0.0) for time, share in zip(stated, shares, strict=True))
    return Delay(typical, max(typical, largest))


def share_of_test(model):
    """Return what the test circuit itself takes of the stated times.

    Parameters
    ----------
    model : SwitchingModel
        The coupler; its card has lines on speed.

    Returns
    -------
    on : tuple of (float, float)
        Charging the LED up to its threshold, then the load to the middle of its edge: of a typical specimen, and of the
        weakest, which has the largest threshold and drop [s, s].
    off : tuple of (float, float)
        The LED down to its threshold, then the load to the middle of the other edge: of a typical specimen, and of the
        strongest, which has the smallest threshold [s, s].

    References
    ----------
    Derived here: one time constant at a load, ln 2 of it to the middle; the LED's depletion charge through R1.
    """
    card = model.card
    typical, slow = _led_times(model, card.IF_typ, card.IF_typ), _led_times(model, card.IF_on, card.IF_off)
    (lit, dark), (weak, _) = _load_times(card, *_TYPICAL), _load_times(card, *_WEAKEST)
    return (typical[0] + lit, slow[0] + weak), (typical[1] + dark, slow[1] + dark)


_TYPICAL, _WEAKEST = ("VOL", "drop_high"), ("VOL_max", "drop_high_max")
"""Lines that say how much of the output is lost."""


def _load_times(card, low, high):
    """Return what the load takes to the middle of its edge, lit and dark; `low` and `high` name the drops [s]."""
    RL, CL = (getattr(card, f"speed_{name}", None) or 0.0 for name in ("RL", "CL"))
    if card.family == "logic-gate":
        R_on = getattr(card, low) / card.VOL_IOL
        return _HALF * CL * RL * R_on / (RL + R_on), _HALF * CL * RL
    if card.family == "gate-driver":
        up, down = getattr(card, high) / card.drop_high_IO, getattr(card, low) / card.VOL_IO
        return _HALF * CL * (up + RL), _HALF * CL * (down + RL)
    return 0.0, 0.0


def _led_times(model, IF_on, IF_off):
    """Return how long the LED of the test circuit takes up to a threshold, and down to another [s]."""
    card, led = model.card, model.led
    one, params = np.ones(_POINTS), led.junction(np.full(_POINTS, REFERENCE_TEMPERATURE))
    C0 = Charges().C_led if card.LED_capacitance is None else card.LED_capacitance
    charge = JunctionCharge("LED", "A", "K", C0 * one, 0.0 * one, params.IS, params.nVT)
    currents = card.speed_IF, *(min(IF, _MOST * card.speed_IF) for IF in (IF_on, IF_off))
    V_lit, V_on, V_off = (float(params.at_current(IF)[0]) for IF in currents)
    VS, R = float(led.VF(card.speed_IF, REFERENCE_TEMPERATURE)) + ACROSS_R1, ACROSS_R1 / card.speed_IF + led.RS

    def passing(begin, end, volts):
        v = np.linspace(begin, end, _POINTS)
        left = (volts - v) / R - params.IS * np.expm1(v / params.nVT)
        return float(np.trapezoid(charge.stored(v)[1] / left, v))

    return passing(0.0, V_on, VS), passing(V_lit, V_off, 0.0)
