"""The detector lights an indicator LED directly."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from scipy.special import wrightomega

from engine.constants import REFERENCE_TEMPERATURE
from engine.diodes import COLOURS, place_diode
from engine.errors import Problem
from engine.logic import judge
from engine.outputs.load import Load
from engine.parameter import choice, declared, number
from engine.quantity import AMPERE, OHM, VOLT, as_typed, in_query

_ON_PAPER = 2e-3  # [A], at which the forward voltage is taken where it counts as constant; common practice, no source
_DARK = 50e-6  # [A], up to which an indicator is taken to be dark unless it is said otherwise; a value of our own


@dataclass(frozen=True, slots=True, kw_only=True)
class Indicator(Load):
    """Supply, load resistor, indicator and detector in series; parameters beside those of `Load`.

    Attributes
    ----------
    VCC : float
        Supply of the output side [V].
    RL : float or str
        Series resistor of the indicator, or "auto" to size it from `IL` [ohm].
    IL : float
        Indicator current that an "auto" resistor is sized for [A].
    colour : str
        Colour of the indicator.
    I_lit : float
        Current from which it counts as lit [A].
    I_dark : float
        Current up to which it counts as dark [A].
    """

    VCC: float = number("vcc", "VCC", VOLT, 15.0, (0.0, 1000.0))
    RL: float | str = number("rl", "RL", OHM, "auto", (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 1e-3, (1e-7, 1.0))
    colour: str = choice("colour", "Indicator", "green", COLOURS)
    I_lit: float = number("ilit", "Lit from", AMPERE, 0.5e-3, (1e-6, 1.0))
    I_dark: float = number("idark", "Dark up to", AMPERE, _DARK, (1e-9, 1.0))

    kind: ClassVar[str] = "indicator"
    title: ClassVar[str] = "Indicator LED"
    detector: ClassVar[tuple] = ("C", "common")
    observed: ClassVar[str] = "IL"
    level_when_lit: ClassVar[str] = "lit"
    words: ClassVar[tuple] = ("dark", "dim", "lit")
    loop: ClassVar[tuple] = ("RL", "D1", "U1")

    @property
    def drop_by_hand(self):
        """Return the constant forward voltage that is used on paper [V]."""
        return round(self.drop_beside_load(_ON_PAPER, REFERENCE_TEMPERATURE), 1)

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": self.detector, "D1": ("D", "C")}

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the supply, limits that make an indicator dark and lit at once.

        Yields
        ------
        Problem
            At the lower end; at the limit that was chosen, at the lower one if both were.
        """
        yield from Load.contradictions(self)
        if self.I_dark < self.I_lit:
            return
        low, high = (declared(self)[name] for name in ("I_dark", "I_lit"))
        reason = f"{low.symbol} is not below {high.symbol}"
        if self.I_dark == _DARK:
            accepted = f"a current above {as_typed(self.I_dark, AMPERE)}"
            yield Problem(high.key, in_query(self.I_lit, AMPERE), accepted, reason)
        else:
            accepted = f"a current below {as_typed(self.I_lit, AMPERE)}"
            yield Problem(low.key, in_query(self.I_dark, AMPERE), accepted, reason)

    def wire(self, net, TA_degC, values):
        """Place the side but its detector: supply, RL, indicator.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC", "RL", "down" and "up": shares of the receiver's leakage to common and from the supply, and what
            `spreads` names, in SI units.
        """
        net.side("output", self.reference, "VCC", "D", "D1J", "C")
        net.source("VCC", "VCC", values["VCC"])
        net.resistor("RL", "VCC", "D", values["RL"])
        place_diode(net, "D1", ("D", "C"), COLOURS[self.colour], TA_degC)

    def verdict(self, IL, values):
        """Return what is seen of the indicator.

        Parameters
        ----------
        IL : ndarray, shape (corners,)
            Indicator current, the nominal one first [A].
        values : dict of str to ndarray, shape (corners,)
            What varied, which does not matter here.

        Returns
        -------
        Verdict
            "dark", "dim" or "lit", and whether every corner agrees.
        """
        limits = np.broadcast_to(self.I_dark, IL.shape), np.broadcast_to(self.I_lit, IL.shape)
        return judge(IL, *limits, words=self.words)

    def needed_current(self, VCE, VCC, RL, T, more=None):
        """Return the collector current that holds a given collector-emitter voltage.

        Parameters
        ----------
        VCE : float
            Collector-emitter voltage to be held [V].
        VCC : ndarray, shape (batch,)
            Supply of the output side [V].
        RL : ndarray, shape (batch,)
            Series resistor [ohm].
        T : float
            Absolute temperature [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names, which is nothing here.

        Returns
        -------
        ndarray, shape (batch,)
            Collector current; 0 where the supply is below `VCE` [A].

        References
        ----------
        T. C. Banwell and A. Jayakumar, Electronics Letters 36(4), 2000, DOI 10.1049/el:20000301.
        """
        led = COLOURS[self.colour]
        diode = led.junction(np.full(np.shape(VCC), T))
        R, left = RL + led.RS, np.maximum(VCC - VCE, 0.0)
        scale = diode.nVT / R
        omega = wrightomega(np.log(diode.IS / scale) + (left + diode.IS * R) / diode.nVT)
        return np.maximum(scale * omega - diode.IS, 0.0)

    def drop_beside_load(self, IL, T):
        """Return what the load current meets besides RL and the detector.

        Parameters
        ----------
        IL : float
            Indicator current [A].
        T : float
            Absolute temperature [K].

        Returns
        -------
        float
            Forward voltage of the indicator [V].
        """
        return float(COLOURS[self.colour].VF(IL, T))
