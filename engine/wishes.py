"""What may be asked of both resistors beside the findings: overdrive, LED current, time of an edge, what is to stay."""

import math
from dataclasses import dataclass

from engine.errors import Problem, QuantityError, ScenarioError
from engine.quantity import AMPERE, COUNT, SECOND, as_typed, parse, shown

PREFERENCES = ("middle", "current")
"""What comes first: RL in the middle of what is allowed, or the least LED current with whatever RL."""

KEPT = {"none": (), "r1": ("R1",), "rl": ("RL",)}
"""Word for what is to stay to the resistors."""

NONE = "none"
_OVERDRIVE = (1.0, 100.0)  # [-]
_CURRENT = (1e-6, 1.0)  # [A]
_TIME = (1e-9, 1e3)  # [s]


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is asked for.

    Attributes
    ----------
    overdrive : float
        How many times over the load is to saturate, or a coupler with a threshold to be on, at the worst corner [-].
    IF_least : float or None
        LED current that the lit LED gets at the least, at every corner [A].
    IF_most : float or None
        LED current that it gets at the most [A].
    keep : tuple of str
        Resistors that are to stay as they are.
    prefer : str
        One of `PREFERENCES`.
    transition : float or None
        Time from 10 to 90 % of the swing that neither edge exceeds at the slowest corner [s].

    Raises
    ------
    ScenarioError
        If a wish lies outside of what is accepted, with every such wish at once.
    """

    overdrive: float = 1.3
    IF_least: float | None = None
    IF_most: float | None = None
    keep: tuple = ()
    prefer: str = PREFERENCES[0]
    transition: float | None = None

    def __post_init__(self):
        """Refuse what cannot be."""
        problems = list(self._out_of_bounds())
        if not problems and None not in (self.IF_least, self.IF_most) and self.IF_least >= self.IF_most:
            accepted = f"a current below {as_typed(self.IF_most, AMPERE)}, or none"
            reason = "the least LED current is not below the most"
            problems.append(Problem("ifmin", as_typed(self.IF_least, AMPERE), accepted, reason))
        if problems:
            raise ScenarioError(problems)

    def _out_of_bounds(self):
        """Yield a problem for every wish that is not accepted."""
        low, high = _OVERDRIVE
        if not low <= self.overdrive <= high:
            yield Problem("overdrive", f"{self.overdrive:g}", _accepted("overdrive"), "the overdrive is out of range")
        for key, current in (("ifmin", self.IF_least), ("ifmax", self.IF_most)):
            if current is not None and not _CURRENT[0] <= current <= _CURRENT[1]:
                given = as_typed(current, AMPERE) if math.isfinite(current) else str(current)
                yield Problem(key, given, _accepted(key), "the LED current is out of range")
        if self.transition is not None and not _TIME[0] <= self.transition <= _TIME[1]:
            given = as_typed(self.transition, SECOND) if math.isfinite(self.transition) else str(self.transition)
            yield Problem("edge", given, _accepted("edge"), "the time of an edge is out of range")
        if self.prefer not in PREFERENCES:
            yield Problem("prefer", shown(self.prefer), _accepted("prefer"), f"'{shown(self.prefer)}' is not a choice")
        if self.keep not in KEPT.values():
            yield Problem("keep", shown(" ".join(self.keep)), _accepted("keep"), "only one resistor can be kept")


WISHES = ("overdrive", "ifmin", "ifmax", "edge", "keep", "prefer")
"""Keys of the wishes in an address."""


def wishes_from(texts):
    """Return the wishes that texts state.

    Parameters
    ----------
    texts : dict of str to str
        Key to what was typed; what is left out is as usual, other keys are passed over.

    Returns
    -------
    Wishes
        The wishes.

    Raises
    ------
    ScenarioError
        If a text cannot be read or a wish cannot be, with every such one.

    Examples
    --------
    >>> wishes_from({"overdrive": "2", "ifmin": "1mA", "keep": "rl"})
    Wishes(overdrive=2.0, IF_least=0.001, IF_most=None, keep=('RL',), prefer='middle', transition=None)
    """
    usual, problems = Wishes(), []
    overdrive = _read(texts, "overdrive", COUNT, usual.overdrive, problems)
    least, most = (_read(texts, key, AMPERE, None, problems) for key in ("ifmin", "ifmax"))
    transition = _read(texts, "edge", SECOND, None, problems)
    keep = texts.get("keep", NONE)
    if keep not in KEPT:
        problems.append(Problem("keep", shown(keep), _accepted("keep"), f"'{shown(keep)}' is not a choice"))
    try:
        wishes = Wishes(overdrive, least, most, KEPT.get(keep, ()), texts.get("prefer", usual.prefer), transition)
    except ScenarioError as error:
        problems += error.problems
    if problems:
        raise ScenarioError(problems)
    return wishes


def _read(texts, key, unit, usual, problems):
    """Return the number of one wish; its usual value, and a problem, where it cannot be read."""
    text = texts.get(key, "")
    if not text.strip() or (usual is None and text == NONE):
        return usual
    try:
        return parse(text, unit)
    except QuantityError as error:
        problems.append(Problem(key, error.given, _accepted(key), error.reason))
        return usual


def _accepted(key):
    """Return what a wish accepts, as a phrase."""
    if key in ("keep", "prefer"):
        return f"one of {', '.join(KEPT if key == 'keep' else PREFERENCES)}"
    if key == "overdrive":
        return "{:g} to {:g}".format(*_OVERDRIVE)
    low, high = (as_typed(end, SECOND if key == "edge" else AMPERE) for end in (_TIME if key == "edge" else _CURRENT))
    return f"{low} to {high}, or none"


def asked_of(wishes):
    """Return the wishes as questions to a solved stage.

    Parameters
    ----------
    wishes : Wishes
        What is asked for.

    Returns
    -------
    dict of str to callable
        "overdrive", "least-current" and "most-current", as far as they are asked for, to a function from a solved
        stage to whether it holds in every member.
    """
    found = {"overdrive": lambda point: _driven(point.states["closed"].quantities, wishes.overdrive)}
    if wishes.IF_least is not None:
        found["least-current"] = lambda point: point.states["closed"].quantities["IF"].members >= wishes.IF_least
    if wishes.IF_most is not None:
        found["most-current"] = lambda point: point.states["closed"].quantities["IF"].members <= wishes.IF_most
    return found


def _driven(closed, times):
    """Return whether what is available is so many times what is needed."""
    if "IC_available" in closed:
        return closed["IC_available"].members >= times * closed["IC_needed"].members
    return closed["IF"].members >= times * closed["IF_needed"].members


def missed(wishes, point):
    """Return the wishes that a solved stage misses at some corner.

    Parameters
    ----------
    wishes : Wishes
        What is asked for.
    point : OperatingPoint
        The solved stage.

    Returns
    -------
    tuple of str
        Their names.
    """
    return tuple(name for name, asked in asked_of(wishes).items() if not asked(point).all())
