"""Sizing of the two resistors: from a wanted current to the exact value and on to a preferred one."""

from dataclasses import dataclass

from engine.constants import ZERO_CELSIUS
from engine.errors import Problem, ScenarioError
from engine.inputs.mains import LEAST_C, MOST_C
from engine.preferred import preferred
from engine.quantity import AMPERE, FARAD, OHM, VOLT, as_typed, reading

LEAST, MOST = 1.0, 1e8  # [ohm], the resistors that a scenario may have
CAPACITORS = "E12"
"""Preferred series that capacitors are made in."""


@dataclass(frozen=True, slots=True)
class Sized:
    """A resistor and how it came to be.

    Attributes
    ----------
    exact : float or None
        Resistance that gives the wanted current exactly; None if there is none [ohm].
    chosen : float
        Resistance that is fitted [ohm].
    automatic : bool
        Whether it was chosen from `exact`, not given.
    series : str
        Preferred series of the choice.
    rounding : str
        Direction of the rounding.
    """

    exact: float | None
    chosen: float
    automatic: bool
    series: str
    rounding: str


def series_resistance(supply, drops, current):
    """Return the resistance that lets a wanted current flow.

    Parameters
    ----------
    supply : float
        Voltage across the loop [V].
    drops : float
        What the other parts of the loop take at that current [V].
    current : float
        Wanted current, positive [A].

    Returns
    -------
    float
        Resistance; zero or negative if the drops leave nothing [ohm].

    Notes
    -----
    R = (supply - drops) / current: Kirchhoff's voltage law and Ohm's law.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> round(series_resistance(12.0, 1.5, 10e-3), 6)
    1050.0
    """
    return (supply - drops) / current


def size(scenario):
    """Return both resistors of a scenario, sized where they are to be.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    dict of str to Sized
        "R1" and "RL", and "CD" where a capacitor drops a line voltage.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot give the wanted current, with the field of that current.

    Notes
    -----
    R1 heeds the solved forward voltage of a typical LED at the wanted current and ambient temperature, and the
    drop of the contact and line, the port or the sensor. RL heeds the card's typical saturation voltage.
    """
    model = scenario.coupling.model
    T = scenario.conditions.TA + ZERO_CELSIUS
    side, load = scenario.input, scenario.output
    R1, taken = side.R1_of(model, scenario.conditions)
    VL = model.V_lit + load.drop_beside_load(load.IL, T)
    RL = series_resistance(load.V_for_RL, VL, load.IL)
    wanted = {
        "R1": _Wanted(side.R1, R1, side.VS, taken, side.IF, ("if", "VS", "the LED and what is in series")),
        "RL": _Wanted(load.RL, RL, load.V_for_RL, VL, load.IL, ("il", "VCC", "the detector and what is in series")),
    }
    problems = []
    sized = {name: _sized(resistor, scenario.conditions, problems) for name, resistor in wanted.items()}
    if side.capacitive and not problems:
        sized["CD"] = _capacitor(scenario, model, sized["R1"].chosen, problems)
    if problems:
        raise ScenarioError(problems)
    return sized


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What one resistor is sized from: fitted or "auto", exact, loop voltage, other drops, current, words."""

    fitted: float | str
    exact: float
    supply: float
    drops: float
    current: float
    names: tuple


def _sized(wanted, conditions, problems):
    """Return one resistor; note a problem if it is to be sized and cannot be."""
    exact = wanted.exact
    possible = LEAST <= exact <= MOST
    automatic = wanted.fitted == "auto"
    chosen = wanted.fitted
    if automatic and possible:
        chosen = min(max(preferred(exact, conditions.series, conditions.rounding), LEAST), MOST)
    elif automatic:
        problems.append(_impossible(exact, wanted))
        chosen = LEAST
    return Sized(exact if possible else None, chosen, automatic, conditions.series, conditions.rounding)


def _capacitor(scenario, model, R1, problems):
    """Return the capacitor that drops the line voltage; note a problem if it is to be sized and cannot be."""
    side, conditions = scenario.input, scenario.conditions
    automatic = side.CD == "auto"
    exact = side.CD_of(model, R1, conditions.TA)
    possible = LEAST_C <= exact <= MOST_C
    chosen = side.CD
    if automatic and possible:
        chosen = min(max(preferred(exact, CAPACITORS, "nearest"), LEAST_C), MOST_C)
    elif automatic:
        current = as_typed(side.IF, AMPERE)
        reason = f"no capacitor from {as_typed(LEAST_C, FARAD)} to {as_typed(MOST_C, FARAD)} gives {current}"
        problems.append(Problem("if", current, "another current, or a capacitor of your own instead of auto", reason))
    return Sized(exact if possible else None, chosen, automatic, CAPACITORS, "nearest")


def _impossible(exact, wanted):
    """Return the problem of a current that no resistor gives."""
    field, source, takers = wanted.names
    current, volts = as_typed(wanted.current, AMPERE), as_typed(wanted.supply, VOLT)
    if exact > MOST:
        reason = f"{current} from {source} = {volts} asks for more than {as_typed(MOST, OHM)}"
        return Problem(field, current, "a larger current, or a resistor of your own instead of auto", reason)
    taken = " ".join(reading(wanted.drops, VOLT))
    reason = f"no resistor gives {current} from {source} = {volts}: {takers} already take {taken}"
    return Problem(
        field, current, "a smaller current, a higher supply, or a resistor of your own instead of auto", reason
    )
