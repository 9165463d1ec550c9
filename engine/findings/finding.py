"""What a finding is, and how a value is held against a limit."""

from dataclasses import dataclass

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
    allowed : float
        The limit [unit].

    Returns
    -------
    Finding
        With what is exceeded at worst.
    """
    held = found.high <= max(allowed, limit.unit.floor)
    severity = "pass" if held else "stop" if found.value > allowed else "caution"
    verb = "stays within" if held else "exceeds"
    reason = (
        f"{limit.subject}, {printed(found.high, limit.unit)} at worst, {verb} "
        f"{as_typed(float(f'{allowed:.3g}'), limit.unit)}."
    )
    margin = margin_of(allowed - found.high, allowed, held, limit.unit)
    return Finding(limit.code, severity, found.high, allowed, margin, limit.unit.name, limit.condition, reason)
