"""What a finding is, what stands behind it, and how a value is held against a limit."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from engine.quantity import as_typed, reading
from engine.scenario import Scenario

SEVERITIES = ("stop", "caution", "note", "pass")
FAILING = SEVERITIES[:2]
ROUNDING = 1e-9  # [-], what a limit may be missed by relative to itself and still be met


@dataclass(frozen=True, slots=True)
class Mend:
    """A concrete remedy.

    Attributes
    ----------
    text : str
        What to do, with its value.
    scenario : Scenario
        The scenario with the remedy applied.
    """

    text: str
    scenario: Scenario


@dataclass(frozen=True, slots=True)
class Finding:
    """One check of a stage.

    Attributes
    ----------
    code : str
        Stable name.
    severity : str
        One of `SEVERITIES`.
    value : float
        The worst value [unit].
    limit : float
        What it is held against [unit].
    margin : float
        Distance to the limit relative to it, negative where the rule is broken. Nothing can be relative to a limit of
        0, or to one below what an instrument reads: there it is 0 where the rule holds and -1 where it is broken [-].
    unit : str
        Name of the SI unit; "1" for ratios.
    condition : str
        Where it is worst.
    reason : str
        One sentence.
    mend : Mend or None
        What would mend it.
    holds : ndarray of bool, shape (members,), or None
        Whether the rule holds in every member; None where it does not go member by member.
    worst : int or None
        The member where it is worst.
    """

    code: str
    severity: str
    value: float
    limit: float
    margin: float
    unit: str
    condition: str
    reason: str
    mend: Mend | None = None
    holds: object = field(default=None, compare=False, repr=False)
    worst: int | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A question that is asked of every stage that has what it is about.

    Attributes
    ----------
    code : str
        Stable name, that of its findings.
    title : str
        Name for people.
    asks : str
        The question.
    why : str
        What happens where it is broken.
    limit_from : str
        Where its limit comes from: a line of the card, a field of the form, a standard, common practice.
    worst_where : str
        Where it is worst.
    severities : tuple of str
        The severities that its findings may have beside "pass", the gravest first.
    mends : str
        What may mend it; where nothing within the stage does, why.
    measure : callable
        From a solved stage to its finding, or None where the stage does not have what is asked about.
    remedies : callable or tuple of callable
        From a solved stage to its possible remedies, the best first.
    slow : bool
        Whether it is measured by more than the solved stage, so that it is asked only where somebody waits for it.
    """

    code: str
    title: str
    asks: str
    why: str
    limit_from: str
    worst_where: str
    severities: tuple = SEVERITIES[:2]
    mends: str
    measure: Callable
    remedies: object = ()
    slow: bool = False


def listed(*rules):
    """Return rules by their codes, in order.

    Parameters
    ----------
    *rules : Rule
        The rules of a module.

    Returns
    -------
    dict of str to Rule
        Code to rule.
    """
    return {rule.code: rule for rule in rules}


def printed(value, unit):
    """Return a value as it is read in a sentence.

    Parameters
    ----------
    value : float
        SI value [unit].
    unit : Unit
        Its unit.

    Returns
    -------
    str
        Three significant digits and the unit.
    """
    return " ".join(reading(value, unit))


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit that a value must not exceed, in words.

    Attributes
    ----------
    code : str
        Code of the finding.
    subject : str
        What is limited.
    unit : Unit
        Its unit.
    condition : str
        Where it is worst.
    """

    code: str
    subject: str
    unit: object
    condition: str


def margin_of(room, limit, held, unit):
    """Return the margin of so much room before a limit, which may be nothing.

    Parameters
    ----------
    room : float
        Distance to the limit, negative beyond it [unit].
    limit : float
        The limit [unit].
    held : bool
        Whether it is held.
    unit : Unit
        Its unit.

    Returns
    -------
    float
        Room over limit; 0 or -1 where nothing can be relative to the limit [-].
    """
    if limit > unit.floor:
        return room / limit
    return 0.0 if held else -1.0


def at_most(limit, found, allowed):
    """Return the finding on a value that must not exceed a limit: stop if the nominal stage does, else caution.

    Parameters
    ----------
    limit : Limit
        The limit in words.
    found : Range or Power
        The value [unit].
    allowed : float or ndarray, shape (members,)
        The limit, of every member where it is not one for all [unit].

    Returns
    -------
    Finding
        With what is exceeded at worst.
    """
    floor = limit.unit.floor
    if found.members is None:
        return _held(
            limit, (found.value, found.high), (allowed, allowed), (found.high <= max(allowed, floor), None, None)
        )
    limits = np.asarray(allowed, dtype=float)
    bounds = np.maximum(limits, floor)
    holds = found.members <= bounds
    worst = int(((limits - found.members) / bounds).argmin())
    at = (float(limits), float(limits)) if not limits.ndim else (float(limits[0]), float(limits[worst]))
    values = float(found.members[0]), float(found.members[worst])
    return _held(limit, values, at, (bool(holds.all()), holds, worst))


def _held(limit, values, bounds, members):
    """Return the finding on nominal and worst value against limits; `members`: held, holds, worst."""
    (held, holds, worst), value, allowed = members, values[1], bounds[1]
    severity = "pass" if held else "stop" if values[0] > bounds[0] else "caution"
    verb = "stays within" if held else "exceeds"
    reason = (
        f"{limit.subject}, {printed(value, limit.unit)} at worst, {verb} "
        f"{as_typed(float(f'{allowed:.3g}'), limit.unit)}."
    )
    margin = margin_of(allowed - value, allowed, held, limit.unit)
    unit, where = limit.unit.name, limit.condition
    return Finding(limit.code, severity, value, allowed, margin, unit, where, reason, None, holds, worst)


def at_least(code, found, least, told, condition):
    """Return the finding on a ratio that must not fall below a limit: stop if the nominal stage's does, else caution.

    Parameters
    ----------
    code : str
        Code of the finding.
    found : Range
        The ratio, of every member [-].
    least : float
        The limit [-].
    told : tuple of (str, str)
        The reason where it holds and where not; "{}" stands for the smallest ratio.
    condition : str
        Where it is worst.

    Returns
    -------
    Finding
        With the smallest ratio.
    """
    holds = found.members >= least
    held = bool(holds.all())
    severity = "pass" if held else "stop" if found.value < least else "caution"
    reason = told[0 if held else 1].format(f"{found.low:.3g} times")
    made = Finding(code, severity, found.low, least, found.low / least - 1.0, "1", condition, reason)
    return replace(made, holds=holds, worst=int(found.members.argmin()))
