"""A scenario: one what-if, whole. Input side, coupler, output side and conditions as frozen values.

Every page and every answer is a pure function of a scenario. What a scenario means is solved elsewhere.
"""

from dataclasses import dataclass, field, replace
from functools import lru_cache

from engine.ageing import PLANS, Plan, StressTest, remaining, remaining_from_stress
from engine.constants import ZERO_CELSIUS
from engine.coupler import LONGEST_PACKED, TransistorCard, card_names, load_card, model_of, unpack_card
from engine.errors import CardError, Problem, ScenarioError
from engine.inputs import ContactLow
from engine.insulation import CATEGORIES, DEGREES, GRADES
from engine.meter import METERS
from engine.outputs import PullUp
from engine.pairing import mismatches
from engine.parameter import choice, declared, free_text, number
from engine.preferred import ROUNDINGS, SERIES
from engine.quantity import AMPERE, CELSIUS, COUNT, HERTZ, OHM, RATIO, VOLT, in_query, shown

NO_BARRIER = "none"
"""Word for a barrier that nothing is asked about."""

APART, JOINED = "none", "returns"
"""Words for two sides that no conductor joins, and for sides whose returns one does."""

NO_RATE = "none"
"""Word for a stage of which no signal rate is asked."""

TA_ALONE = "ta"
"""Word for an end of the ambient temperature that is the temperature itself."""

AGEINGS = (*PLANS, "own", "stress")
"""How an LED may lose light: planning figures, one of one's own, a stress test."""

_BIN = ("typ", "min", "max")
_OWN = "own"


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupling:
    """The coupler that carries the signal.

    Attributes
    ----------
    card : str
        Name of the card; "own" for the one in `own`.
    own : str
        A card of one's own, as `engine.coupler.pack_card` writes it.
    CTR : float or str
        Current transfer ratio of the specimen at the card's test point, or "typ", "min", "max" of the card [-].
    CTR_min : float or str
        Smallest current transfer ratio of the bin, or "card" [-].
    CTR_max : float or str
        Largest current transfer ratio of the bin, or "card" [-].
    RBE : float or str
        Resistor from base to emitter, or "none"; only where the base is brought out [ohm].
    """

    card: str = choice("coupler", "Coupler", "general", (*card_names(), _OWN))
    own: str = free_text("card", "Own card", LONGEST_PACKED)
    CTR: float | str = number("ctr", "CTR", RATIO, "typ", (0.01, 20.0), _BIN)
    CTR_min: float | str = number("ctrmin", "CTR min", RATIO, "card", (0.01, 20.0), ("card",))
    CTR_max: float | str = number("ctrmax", "CTR max", RATIO, "card", (0.01, 20.0), ("card",))
    RBE: float | str = number("rbe", "RBE", OHM, "none", (1e4, 1e9), ("none",))

    @property
    def data(self):
        """Return the card, shipped or one's own; raise CardError where one's own is faulty."""
        return _data(self.card, self.own)

    @property
    def model(self):
        """Return the calibrated model of the card; raise CardError where one's own cannot be met."""
        return _model(self.card, self.own)

    @property
    def has_ratio(self):
        """Return whether the coupler has a transfer ratio; where not, it has a threshold."""
        return isinstance(self.data, TransistorCard)

    def spread(self):
        """Return what differs from specimen to specimen.

        Returns
        -------
        dict of str to tuple of (float, float, float)
            Nominal value, that of the weakest and that of the strongest specimen, as of the model's `spread`; the
            transfer ratios are those of this choice.
        """
        return self.model.spread() | ({"CTR": self.ratios()} if self.has_ratio else {})

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the bin, a faulty card, a base resistor without a base.

        Yields
        ------
        Problem
            At the lower end, at the card, at the resistor.
        """
        if "card" not in (self.CTR_min, self.CTR_max) and self.CTR_min > self.CTR_max:
            given = in_query(self.CTR_min, RATIO)
            yield Problem("ctrmin", given, "a value up to CTR max", "CTR min is above CTR max")
        try:
            card = self.model.card
        except CardError as error:
            reason = f"{error.line}: {error.reason}" if self.own else "there is none yet"
            yield Problem("card", shown(self.own), "a card whose lines can all be met", reason)
            return
        if self.RBE != "none" and not getattr(card, "base_lead", False):
            reason = "the base of this coupler is not brought out"
            yield Problem("rbe", in_query(self.RBE, OHM), "none, or a coupler with a base lead", reason)

    def bin(self):
        """Return the ends of the bin; an end that is given pushes aside one of the card that lies beyond it.

        Returns
        -------
        low : float
            Smallest current transfer ratio of the bin [-].
        high : float
            Largest current transfer ratio of the bin [-].
        """
        card = self.data
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
        typical = min(max(self.data.CTR_typ, low), high)
        nominal = {"typ": typical, "min": low, "max": high}.get(self.CTR, self.CTR)
        return nominal, min(low, nominal), max(high, nominal)


def _data(card, own):
    """Return a card by its name, or one's own."""
    return unpack_card(_OWN, own) if card == _OWN else load_card(card)


@lru_cache(maxsize=64)
def _model(card, own):
    """Return its calibrated model; kept by the name, as to compare whole cards takes a while."""
    return model_of(_data(card, own))


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What surrounds the stage.

    Attributes
    ----------
    switch : str
        The state that is looked at, "closed" or "open"; both are always solved.
    TA : float
        Ambient temperature [degC].
    TA_min : float or str
        Lowest ambient temperature to reckon with, or "ta" for `TA` alone [degC].
    TA_max : float or str
        Highest one, or "ta" [degC].
    years : float
        Service that is asked for; 0 looks at new parts [a].
    ageing : str
        How the LED loses light: a planning figure ("slow", "fast"), one of one's own ("own"), or from a stress test
        ("stress").
    loss : float
        Share of the light that is lost, for "own" [-].
    loss_years : float
        Over how many years [a].
    stress_loss : float
        Share that a stress test lost, for "stress" [-].
    stress_hours : float
        How long the test took [h].
    stress_IF : float
        LED current in the test [A].
    stress_TA : float
        Temperature of the test [degC].
    stress_power : float
        Power of the current that the ageing goes with [-].
    stress_energy : float
        Activation energy of the ageing [eV].
    duty : float
        Share of the service in which the LED is lit, for "stress" [-].
    tolerance : float
        Tolerance of the resistors [-].
    series : str
        Preferred series that "auto" resistors are rounded to.
    rounding : str
        Direction of that rounding.
    rate : float or str
        Square-wave rate that the stage has to keep up with, or "none" where it is not asked about [Hz].
    V_barrier : float or str
        Working voltage across the barrier, rms or direct, or "none" where it is not asked about [V].
    pollution : str
        Pollution degree that the coupler stands in.
    insulation : str
        Grade of insulation that is asked of it.
    category : str
        Overvoltage category of the line behind the working voltage.
    joined : str
        "returns" where a conductor joins the returns of both sides, or "none".
    meter : str
        The meter that the stage is measured with; it changes no result but those of the bench.
    """

    switch: str = choice("sw", "Switch", "closed", ("closed", "open"))
    TA: float = number("ta", "TA", CELSIUS, 25.0, (-55.0, 150.0))
    TA_min: float | str = number("tamin", "TA min", CELSIUS, TA_ALONE, (-55.0, 150.0), (TA_ALONE,))
    TA_max: float | str = number("tamax", "TA max", CELSIUS, TA_ALONE, (-55.0, 150.0), (TA_ALONE,))
    years: float = number("years", "Service", COUNT, 0.0, (0.0, 50.0))
    ageing: str = choice("ageing", "Ageing", "slow", AGEINGS)
    loss: float = number("loss", "Light lost", RATIO, 0.2, (0.0, 0.95))
    loss_years: float = number("lossyears", "Light lost over", COUNT, 10.0, (1.0, 100.0))
    stress_loss: float = number("stloss", "Lost in the test", RATIO, 0.008, (0.0, 0.95))
    stress_hours: float = number("sthours", "Hours of the test", COUNT, 1000.0, (1.0, 1e5))
    stress_IF: float = number("stif", "IF of the test", AMPERE, 20e-3, (1e-4, 1.0))
    stress_TA: float = number("stta", "TA of the test", CELSIUS, 125.0, (-55.0, 200.0))
    stress_power: float = number("stpower", "Power of the current", COUNT, 2.0, (0.0, 5.0))
    stress_energy: float = number("stenergy", "Activation energy", COUNT, 0.43, (0.0, 2.0))
    duty: float = number("duty", "Share lit", RATIO, 1.0, (0.0, 1.0))
    tolerance: float = number("tol", "Resistor tolerance", RATIO, 0.05, (0.0, 0.5))
    series: str = choice("series", "Series", "E24", SERIES)
    rounding: str = choice("round", "Rounding", "nearest", ROUNDINGS)
    rate: float | str = number("rate", "Signal rate", HERTZ, NO_RATE, (1e-3, 1e9), (NO_RATE,))
    V_barrier: float | str = number("vb", "VB", VOLT, NO_BARRIER, (1.0, 10e3), (NO_BARRIER,))
    pollution: str = choice("pd", "Pollution degree", "2", DEGREES)
    insulation: str = choice("ins", "Insulation", "basic", GRADES)
    category: str = choice("oc", "Overvoltage category", "2", CATEGORIES)
    joined: str = choice("bridge", "Returns joined", APART, (APART, JOINED))
    meter: str = choice("meter", "Meter", "digital", METERS)

    @property
    def TA_ends(self):
        """Return the lowest and the highest ambient temperature to reckon with [degC]."""
        low = self.TA if self.TA_min == TA_ALONE else min(self.TA_min, self.TA)
        return low, self.TA if self.TA_max == TA_ALONE else max(self.TA_max, self.TA)

    def light_left(self, years, IF, T):
        """Return the share of its light that an LED has left.

        Parameters
        ----------
        years : float or ndarray
            Service [a].
        IF : float
            LED current in use, which only a stress test asks about [A].
        T : float
            Absolute temperature in use [K].

        Returns
        -------
        float or ndarray
            Above 0, up to 1 [-].
        """
        if self.ageing != "stress":
            plan = PLANS.get(self.ageing, Plan(self.loss, self.loss_years))
            return remaining(plan.loss, plan.years, years)
        T_test = self.stress_TA + ZERO_CELSIUS
        known = self.stress_hours, self.stress_loss, self.stress_power, self.stress_energy
        return remaining_from_stress(StressTest(self.stress_IF, T_test, *known), IF, T, years, self.duty)

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the temperature.

        Yields
        ------
        Problem
            At the lower end.
        """
        if TA_ALONE not in (self.TA_min, self.TA_max) and self.TA_min > self.TA_max:
            given = in_query(self.TA_min, CELSIUS)
            yield Problem("tamin", given, "a value up to TA max", "TA min is above TA max")


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
        if state == self.conditions.switch:
            return self
        return replace(self, conditions=replace(self.conditions, switch=state))

    def _contradictions(self):
        """Return the pairs of values that cannot both be."""
        problems = [problem for part in self.parts() for problem in _contradictions(part)]
        if not problems:
            problems += mismatches(self.coupling, self.output)
        if not problems and self.input.needs_pair and self.coupling.data.input != "pair":
            reason = "its single LED lets current through one way only, and would meet the other half cycle backwards"
            problems.append(
                Problem("coupler", self.coupling.card, "a coupler with a pair of LEDs, or a bridge", reason)
            )
        return problems


def refused(part):
    """Return what is wrong with one record by itself, whatever the others are.

    Parameters
    ----------
    part : object
        Input side, coupling, output side or conditions.

    Returns
    -------
    list of Problem
        Values out of bounds, or, where there are none, values that cannot be together.
    """
    return list(_out_of_bounds(part) or _contradictions(part))


# Most scenarios differ from one before in a single part, so what is known of the others is kept.


@lru_cache(maxsize=1024)
def _contradictions(part):
    """Return the values of one record that cannot be together."""
    return tuple(part.contradictions())


@lru_cache(maxsize=1024)
def _out_of_bounds(part):
    """Return a problem for every value outside of its declaration."""
    return tuple(_beyond(part))


def _beyond(part):
    """Yield a problem for every value outside of its declaration."""
    for name, parameter in declared(part).items():
        value = getattr(part, name)
        if isinstance(value, str):
            if parameter.longest:
                if len(value) > parameter.longest:
                    reason = f"{parameter.symbol} has {len(value)} characters"
                    yield Problem(parameter.key, shown(value), parameter.accepted, reason)
            elif value not in parameter.words:
                reason = f"'{value}' is not a choice for {parameter.symbol}"
                yield Problem(parameter.key, value, parameter.accepted, reason)
        elif parameter.unit is None or not parameter.low <= value <= parameter.high:
            given = in_query(value, parameter.unit) if parameter.unit else str(value)
            yield Problem(parameter.key, given, parameter.accepted, f"{given} is out of range for {parameter.symbol}")
