"""A dc load, switched by a coupler whose output is a pair of transistors."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.errors import Problem
from engine.logic import judge
from engine.outputs.load import Load
from engine.parameter import number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT, as_typed, in_query


def share_limits(on, off):
    """Yield what cannot both be: a load that is on and off at once.

    Parameters
    ----------
    on : float
        Share of its voltage from which it works [-].
    off : float
        Share up to which it is off [-].

    Yields
    ------
    Problem
        At the lower one.
    """
    if off >= on:
        accepted = f"a value below {as_typed(on, RATIO)}"
        yield Problem("loff", in_query(off, RATIO), accepted, "Off up to is not below Works from")


@dataclass(frozen=True, slots=True, kw_only=True)
class DcLoad(Load):
    """Supply, the coupler's output, load in series; the load is RL; parameters beside those of `Load`.

    Attributes
    ----------
    VCC : float
        Supply of the output side [V].
    RL : float or str
        Resistance of the load, or "auto" for the one that takes `IL` [ohm].
    IL : float
        Current of the load, where its resistance is "auto" [A].
    RL_rating : float
        Power that the load may take [W].
    share_on : float
        Share of the nominal supply from which the load works [-].
    share_off : float
        Share of the nominal supply up to which it is off [-].
    """

    VCC: float = number("vcc", "VCC", VOLT, 24.0, (0.0, 1000.0))
    RL: float | str = number("rl", "RL", OHM, "auto", (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 70e-3, (1e-7, 10.0))
    RL_rating: float = number("rlw", "RL rating", WATT, 5.0, (0.05, 1000.0))
    share_on: float = number("lon", "Works from", RATIO, 0.8, (0.01, 1.0))
    share_off: float = number("loff", "Off up to", RATIO, 0.1, (0.0001, 1.0))

    free: ClassVar[frozenset] = frozenset({"RL", "IL"})
    kind: ClassVar[str] = "dc-load"
    title: ClassVar[str] = "DC load on a relay coupler"
    detector: ClassVar[tuple] = ("VCC", "OUT")
    loop: ClassVar[tuple] = ("U1", "RL")
    observed: ClassVar[str] = "VOUT"
    level_when_lit: ClassVar[str] = "on"
    words: ClassVar[tuple] = ("off", "between", "on")
    usual_coupler: ClassVar[str] = "photo-relay"
    meeting: ClassVar[tuple] = (("U1", 1), ("RL", -1))

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the supply, a load that is off and on at once.

        Yields
        ------
        Problem
            At the lower end or share.
        """
        yield from Load.contradictions(self)
        yield from share_limits(self.share_on, self.share_off)

    def wire(self, net, TA_degC, values):
        """Place the side but the coupler: supply and load.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC" and "RL", in SI units.
        """
        net.side("output", self.reference, "VCC", "OUT")
        net.source("VCC", "VCC", values["VCC"])
        net.resistor("RL", "OUT", self.reference, values["RL"])

    def verdict(self, VOUT, values):
        """Return whether the load is on.

        Parameters
        ----------
        VOUT : ndarray, shape (corners,)
            Voltage at the load, the nominal one first [V].
        values : dict of str to ndarray, shape (corners,)
            What varied, which does not matter here.

        Returns
        -------
        Verdict
            "off", "between" or "on", and whether every corner agrees.
        """
        limits = (np.full_like(VOUT, share * self.VCC) for share in (self.share_off, self.share_on))
        return judge(VOUT, *limits, words=self.words)

    def needed_current(self, VCE, VCC, RL, T, more=None):
        """Return the current that the load takes with a voltage left at the coupler.

        Parameters
        ----------
        VCE : float
            Voltage across the coupler's output [V].
        VCC : ndarray, shape (batch,)
            Supply of the output side [V].
        RL : ndarray, shape (batch,)
            Load [ohm].
        T : float
            Absolute temperature, which this load does not mind [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names, which is nothing here.

        Returns
        -------
        ndarray, shape (batch,)
            Current; 0 where the supply is below `VCE` [A].
        """
        return np.maximum(VCC - VCE, 0.0) / RL
