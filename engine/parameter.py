"""What a scenario's parameter is: its key, unit, limits and the words it accepts instead of a number.

Kinds of input and output sides, the coupler choice and the conditions declare their parameters as dataclass
fields that carry a `Parameter`; reading, writing and forms all work from these declarations.
"""

from dataclasses import dataclass, field, fields
from functools import lru_cache

from engine.quantity import Unit, as_typed


@dataclass(frozen=True, slots=True)
class Parameter:
    """Declaration of one parameter.

    Attributes
    ----------
    key : str
        Name in the query string.
    symbol : str
        Symbol of the trade, as printed ("VS", "R1", "CTR").
    unit : Unit or None
        Unit of the number; None for a plain choice among words.
    low : float
        Smallest number that makes sense [unit].
    high : float
        Largest number that makes sense [unit].
    words : tuple of str
        Words accepted instead of a number, or all the choices where there is no unit.
    longest : int
        The most characters of a free text; 0 for what is none.
    """

    key: str
    symbol: str
    unit: Unit | None = None
    low: float = 0.0
    high: float = 0.0
    words: tuple = ()
    longest: int = 0

    @property
    def accepted(self):
        """Return what is accepted, as a phrase for an error message."""
        if self.longest:
            return f"text of at most {self.longest} characters"
        words = ", ".join(self.words)
        if self.unit is None:
            return f"one of {words}"
        span = f"{as_typed(self.low, self.unit)} to {as_typed(self.high, self.unit)}"
        return f"{span}, or {words}" if words else span


def number(key, symbol, unit, default, bounds, words=()):
    """Return a dataclass field for a quantity.

    Parameters
    ----------
    key : str
        Name in the query string.
    symbol : str
        Symbol of the trade.
    unit : Unit
        Unit of the number.
    default : float or str
        Default value, or one of `words` [unit].
    bounds : tuple of (float, float)
        Smallest and largest number accepted [unit].
    words : tuple of str
        Words accepted instead of a number.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return field(default=default, metadata={"parameter": Parameter(key, symbol, unit, *bounds, tuple(words))})


def choice(key, symbol, default, words):
    """Return a dataclass field for a choice among words.

    Parameters
    ----------
    key : str
        Name in the query string.
    symbol : str
        Symbol or short name.
    default : str
        Default choice.
    words : iterable of str
        All choices.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return field(default=default, metadata={"parameter": Parameter(key, symbol, words=tuple(words))})


def free_text(key, symbol, longest, default=""):
    """Return a dataclass field for a text of bounded length.

    Parameters
    ----------
    key : str
        Name in the query string.
    symbol : str
        Symbol or short name.
    longest : int
        The most characters.
    default : str
        Default text.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return field(default=default, metadata={"parameter": Parameter(key, symbol, longest=longest)})


def declared(record):
    """Return the declared parameters of a record or of its class.

    Parameters
    ----------
    record : type or object
        A dataclass whose fields carry declarations, or an instance of one.

    Returns
    -------
    dict of str to Parameter
        Attribute name to declaration, in order.
    """
    return dict(_declared(record if isinstance(record, type) else type(record)))


@lru_cache(maxsize=64)
def _declared(kind):
    """Return the declared parameters of a class."""
    return {f.name: f.metadata["parameter"] for f in fields(kind) if "parameter" in f.metadata}
