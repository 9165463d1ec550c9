"""What every output side has: its supply, its load resistor, and the room that a kind leaves for the detector.

RL is the resistor that lies in series with what the detector works on: the load itself, or what limits its current.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.parameter import number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT
from engine.supply import FROM_TOLERANCE, crossed_ends, supply_ends


@dataclass(frozen=True, slots=True)
class Seen:
    """A solved stage as an output side sees it; arrays over nominal stage and corners, of both states on axis 0.

    Attributes
    ----------
    v : dict of str to ndarray, shape (2, count)
        Potential of every node [V].
    currents : dict of str to ndarray, shape (2, count)
        Current of every part [A].
    drops : dict of str to ndarray, shape (2, count)
        Voltage across every part [V].
    values : dict of str to ndarray, shape (count,)
        What varied: "VCC", "RL" and what `Load.spreads` names.
    card : Card
        The coupler's lines.
    TA_degC : ndarray, shape (count,)
        Ambient temperature [degC].
    """

    v: dict
    currents: dict
    drops: dict
    values: dict
    card: object
    TA_degC: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Parameters that all output sides share.

    Attributes
    ----------
    VCC : float
        Supply of the output side [V].
    VCC_tolerance : float
        Deviation of the supply, either way [-].
    VCC_min : float or str
        Lowest supply, or "tol" for what the tolerance gives [V].
    VCC_max : float or str
        Highest supply, or "tol" [V].
    RL : float or str
        Load resistor, or "auto" to size it from `IL` [ohm].
    IL : float
        Load current that an "auto" resistor is sized for [A].
    RL_rating : float
        Power rating of the load resistor [W].
    """

    VCC: float = number("vcc", "VCC", VOLT, 3.3, (0.0, 1000.0))
    VCC_tolerance: float = number("vcctol", "VCC tolerance", RATIO, 0.05, (0.0, 0.5))
    VCC_min: float | str = number("vccmin", "VCC min", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    VCC_max: float | str = number("vccmax", "VCC max", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    RL: float | str = number("rl", "RL", OHM, 4700.0, (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 0.7e-3, (1e-7, 1.0))
    RL_rating: float = number("rlw", "RL rating", WATT, 0.25, (0.05, 100.0))

    reference: ClassVar[str] = "common"
    dark_leakage: ClassVar[float] = 0.0
    words: ClassVar[tuple] = ("low", "undefined", "high")
    level_codes: ClassVar[tuple] = ("level-lit", "level-dark")
    usual_coupler: ClassVar[str] = "general"
    on_line: ClassVar[bool] = False
    meeting: ClassVar[tuple] = ()
    backwards: ClassVar[tuple] = ()
    drop_by_hand: ClassVar[float] = 0.0
    R_by_hand: ClassVar[float] = 0.0
    most_by_hand: ClassVar[float] = float("inf")
    units: ClassVar[dict] = {}
    free: ClassVar[frozenset] = frozenset({"VCC", "VCC_tolerance", "VCC_min", "VCC_max", "RL", "IL"})

    @property
    def level_when_dark(self):
        """Return what is read with the LED dark: the definite level that is not `level_when_lit`."""
        low, _, high = self.words
        return low if self.level_when_lit == high else high

    @property
    def VCC_ends(self):
        """Return the lowest and the highest supply [V]."""
        return supply_ends(self.VCC, self.VCC_tolerance, self.VCC_min, self.VCC_max)

    @property
    def V_for_RL(self):
        """Return the voltage that drives the current which RL is sized for [V]."""
        return self.VCC

    @property
    def V_by_hand(self):
        """Return the voltage that drives the load, as it is taken on paper [V]."""
        return self.VCC

    def across_coupler(self, values):
        """Return the voltage that the coupler's output and its own supply meet.

        Parameters
        ----------
        values : dict of str to ndarray, shape (batch,)
            What varies, "VCC" among it.

        Returns
        -------
        ndarray, shape (batch,)
            Voltage [V].
        """
        return values["VCC"]

    def mean_powers(self, seen):
        """Return the power of parts where that is not the one of the instant which the circuit shows.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        dict of str to ndarray, shape (2, count)
            Part to its power [W].
        """
        return {}

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": self.detector}

    @property
    def ratings(self):
        """Return part to the power that it may take, for parts whose rating is chosen here [W]."""
        return {"RL": self.RL_rating}

    def contradictions(self):
        """Yield what cannot both be: ends of the supply the wrong way round.

        Yields
        ------
        Problem
            At the lower end.
        """
        yield from crossed_ends("vccmin", "VCC", self.VCC_min, self.VCC_max)

    def spreads(self, tolerance):
        """Return what varies on this side beside supply, RL and the receiver's leakage.

        Parameters
        ----------
        tolerance : float
            Tolerance of the resistors [-].

        Returns
        -------
        dict of str to Spread
            Name in `wire`'s values to its spread.
        """
        return {}

    def figures(self, seen):
        """Return what is asked of this side beside what every side has.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        tuple of (dict, dict)
            With the LED lit and dark: symbol to array over nominal stage and corners, units as in `units`.
        """
        return {}, {}

    def lit_leakage(self, down=1.0, up=1.0):
        """Return what the lit detector carries for a receiver beside the load.

        Parameters
        ----------
        down : float or ndarray
            Share of the largest current into the receiver's input that flows [-].
        up : float or ndarray
            Share of the largest current out of the input that flows [-].

        Returns
        -------
        float or ndarray
            Current; nothing where there is no receiver [A].
        """
        return 0.0 * down

    def drop_beside_load(self, IL, T):
        """Return what the load current meets besides RL and the detector.

        Parameters
        ----------
        IL : float
            Load current [A].
        T : float
            Absolute temperature [K].

        Returns
        -------
        float
            Voltage; nothing unless a kind says so [V].
        """
        return 0.0
