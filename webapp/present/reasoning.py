"""How it is worked out, as printed: laws with the actual numbers, and the hand calculation beside the solve."""

from dataclasses import dataclass

from engine import OHM, as_typed, reasoning_of
from webapp.present.figures import Figure, figure, plain


@dataclass(frozen=True, slots=True)
class TermView:
    """One term of a sum.

    Attributes
    ----------
    name : str
        What it is.
    text : str
        Its magnitude.
    sign : str
        "+" or "−".
    """

    name: str
    text: str
    sign: str


@dataclass(frozen=True, slots=True)
class LawView:
    """Kirchhoff's law with numbers.

    Attributes
    ----------
    name : str
        Which loop or node.
    left : TermView
        What stands alone.
    terms : tuple of TermView
        What it is the sum of.
    """

    name: str
    left: TermView
    terms: tuple


@dataclass(frozen=True, slots=True)
class OhmView:
    """Ohm's law at a resistor.

    Attributes
    ----------
    part : str
        The resistor.
    volts : str
        Voltage across it.
    ohms : str
        Its resistance.
    amperes : str
        Its current.
    """

    part: str
    volts: str
    ohms: str
    amperes: str


@dataclass(frozen=True, slots=True)
class ComparisonView:
    """One figure by hand and solved.

    Attributes
    ----------
    symbol : str
        What it is.
    formula : str
        The hand calculation.
    by_hand : str
        Its result.
    solved : Figure
        The full solve, with its range.
    why : str
        Why they differ.
    """

    symbol: str
    formula: str
    by_hand: str
    solved: Figure
    why: str


@dataclass(frozen=True, slots=True)
class WorkedView:
    """The reasoning for one state.

    Attributes
    ----------
    line : str
        The whole in one line.
    laws : tuple of LawView
        Kirchhoff's laws.
    ohms : tuple of OhmView
        Ohm's law at both resistors.
    comparisons : tuple of ComparisonView
        By hand beside solved.
    """

    line: str
    laws: tuple
    ohms: tuple
    comparisons: tuple


def reasoning(point, name):
    """Return the reasoning for one switch state."""
    record = reasoning_of(point, name)
    laws = [_loop(loop) for loop in record.loops]
    if record.node is not None:
        laws.append(_node(record.node))
    ohms = tuple(
        OhmView(o.part, plain(o.volts, "V"), as_typed(o.ohms, OHM), plain(o.amperes, "A")) for o in record.resistors
    )
    found = point.states[name].quantities
    comparisons = tuple(
        ComparisonView(c.symbol, c.formula, plain(c.by_hand, c.unit), figure(found[c.symbol.replace(" ", "_")]), c.why)
        for c in record.comparisons
    )
    return WorkedView(_line(comparisons), tuple(laws), ohms, comparisons)


def _line(comparisons):
    """Return the first figures by hand and solved in one line."""
    parts = [f"{c.symbol} = {c.by_hand} by hand, {c.solved.text} solved" for c in comparisons]
    return "; ".join(parts) + "."


def _term(name, value, unit, flip=False):
    """Return one term with its sign."""
    text = plain(abs(value), unit)
    negative = (value < 0) != flip and not text.startswith("0 ")
    return TermView(name, text, "−" if negative else "+")


def _loop(loop):
    """Return the voltage law of one side."""
    terms = tuple(_term(part, volts, "V") for part, volts in loop.terms)
    return LawView(f"{loop.side.capitalize()} loop", _term(loop.source, loop.volts, "V"), terms)


def _node(node):
    """Return the current law at the receiver: the first current is the sum of what the others take away."""
    (first, current), *others = node.terms
    terms = tuple(_term(part, amperes, "A", flip=True) for part, amperes in others)
    return LawView(f"Node {node.node}", _term(first, current, "A"), terms)
