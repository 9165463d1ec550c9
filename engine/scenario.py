"""A scenario: one what-if, whole. Input side, coupler, output side and conditions as frozen values.

Every page and every answer is a pure function of a scenario. What a scenario means is solved elsewhere.
"""

from dataclasses import dataclass, field, replace

from engine.coupler import card_names, load_card
from engine.errors import Problem, ScenarioError
from engine.inputs import ContactLow
from engine.outputs import PullUp
from engine.parameter import choice, declared, number
from engine.preferred import ROUNDINGS, SERIES
from engine.quantity import CELSIUS, RATIO, in_query

_BIN = ("typ", "min", "max")


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupling:
    """The coupler that carries the signal.

    Attributes
    ----------
    card : str
        Name of the card.
    CTR : float or str
        Current transfer ratio of the specimen at the card's test point, or "typ", "min", "max" of the card [-].
    CTR_min : float or str
        Smallest current transfer ratio of the bin, or "card" [-].
    CTR_max : float or str
        Largest current transfer ratio of the bin, or "card" [-].
    """

    card: str = choice("coupler", "Coupler", "general", card_names())
    CTR: float | str = number("ctr", "CTR", RATIO, "typ", (0.01, 20.0), _BIN)
    CTR_min: float | str = number("ctrmin", "CTR min", RATIO, "card", (0.01, 20.0), ("card",))
    CTR_max: float | str = number("ctrmax", "CTR max", RATIO, "card", (0.01, 20.0), ("card",))

    def bin(self):
        """Return the ends of the bin; an end that is given pushes aside one of the card that lies beyond it.

        Returns
        -------
        low : float
            Smallest current transfer ratio of the bin [-].
        high : float
            Largest current transfer ratio of the bin [-].
        """
        card = load_card(self.card)
        low = card.CTR_min if self.CTR_min == "card" else self.CTR_min
        high = card.CTR_max if self.CTR_max == "card" else self.CTR_max
        if self.CTR_min == "card":
            return min(low, high), high
        return low, max(low, high)

    def ratios(self):
        """Return the current transfer ratios that this choice means.

        Returns
        -------
        nominal : float
            The specimen's [-].
        low : float
            The smallest to reckon with: the bin's, or the specimen's if that is lower [-].
        high : float
            The largest to reckon with [-].
        """
        low, high = self.bin()
        typical = min(max(load_card(self.card).CTR_typ, low), high)
        nominal = {"typ": typical, "min": low, "max": high}.get(self.CTR, self.CTR)
        return nominal, min(low, nominal), max(high, nominal)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What surrounds the stage.

    Attributes
    ----------
    switch : str
        The state that is looked at, "closed" or "open"; both are always solved.
    TA : float
        Ambient temperature [degC].
    tolerance : float
        Tolerance of the resistors [-].
    series : str
        Preferred series that "auto" resistors are rounded to.
    rounding : str
        Direction of that rounding.
    """

    switch: str = choice("sw", "Switch", "closed", ("closed", "open"))
    TA: float = number("ta", "TA", CELSIUS, 25.0, (-55.0, 150.0))
    tolerance: float = number("tol", "Resistor tolerance", RATIO, 0.05, (0.0, 0.5))
    series: str = choice("series", "Series", "E24", SERIES)
    rounding: str = choice("round", "Rounding", "nearest", ROUNDINGS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One what-if.

    Attributes
    ----------
    input : ContactLow, ContactHigh, LogicOutput, SinkingSensor or SourcingSensor
        What drives the LED.
    coupling : Coupling
        The coupler.
    output : PullUp, PullDown or Indicator
        What the detector works on.
    conditions : Conditions
        What surrounds the stage.

    Raises
    ------
    ScenarioError
        If a value lies outside of what its parameter accepts, with every such value at once.
    """

    input: object = field(default_factory=ContactLow)
    coupling: Coupling = field(default_factory=Coupling)
    output: object = field(default_factory=PullUp)
    conditions: Conditions = field(default_factory=Conditions)

    def __post_init__(self):
        """Refuse what cannot be."""
        problems = [problem for part in self.parts() for problem in _out_of_bounds(part)]
        problems += self._contradictions() if not problems else []
        if problems:
            raise ScenarioError(problems)

    def parts(self):
        """Return the records that make up the scenario.

        Returns
        -------
        tuple
            Input side, coupling, output side, conditions: the order of the query string.
        """
        return self.input, self.coupling, self.output, self.conditions

    def showing(self, state):
        """Return the same scenario with another switch state looked at.

        Parameters
        ----------
        state : str
            "closed" or "open".

        Returns
        -------
        Scenario
            The scenario.
        """
        return replace(self, conditions=replace(self.conditions, switch=state))

    def _contradictions(self):
        """Return the pairs of values that cannot both be."""
        problems = []
        if "card" not in (self.coupling.CTR_min, self.coupling.CTR_max):
            if self.coupling.CTR_min > self.coupling.CTR_max:
                given = in_query(self.coupling.CTR_min, RATIO)
                problems.append(Problem("ctrmin", given, "a value up to CTR max", "CTR min is above CTR max"))
        return [*problems, *self.input.contradictions(), *self.output.contradictions()]


def _out_of_bounds(part):
    """Yield a problem for every value outside of its declaration."""
    for name, parameter in declared(part).items():
        value = getattr(part, name)
        if isinstance(value, str):
            if value not in parameter.words:
                reason = f"'{value}' is not a choice for {parameter.symbol}"
                yield Problem(parameter.key, value, parameter.accepted, reason)
        elif parameter.unit is None or not parameter.low <= value <= parameter.high:
            given = in_query(value, parameter.unit) if parameter.unit else str(value)
            yield Problem(parameter.key, given, parameter.accepted, f"{given} is out of range for {parameter.symbol}")
