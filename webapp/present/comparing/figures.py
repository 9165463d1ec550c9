"""The figures of two solved stages beside each other: quantities, nodes and powers, in both states."""

from dataclasses import dataclass

from engine import STATES, UNITS
from webapp.present.comparing.change import Change, change_of_number, change_of_text
from webapp.present.curve_words import QUANTITIES
from webapp.present.figures import Figure, figure
from webapp.present.load_figures import NAMES
from webapp.present.names import NODE_NAMES, PART_NAMES
from webapp.present.results import figure_of_power


@dataclass(frozen=True, slots=True)
class FigureChange:
    """One figure of both stages.

    Attributes
    ----------
    symbol : str
        What it is called.
    meaning : str
        What it is.
    change : Change
        What it is before and after.
    """

    symbol: str
    meaning: str
    change: Change


@dataclass(frozen=True, slots=True)
class Group:
    """Figures of one kind.

    Attributes
    ----------
    title : str
        What they are.
    rows : tuple of FigureChange
        The figures.
    """

    title: str
    rows: tuple[FigureChange, ...]


@dataclass(frozen=True, slots=True)
class StateChanges:
    """One switch state of both stages.

    Attributes
    ----------
    state : str
        "closed" or "open".
    place : str
        The state in words; both where they are called something else.
    verdict : Change
        What is read.
    groups : tuple of Group
        All figures.
    """

    state: str
    place: str
    verdict: Change
    groups: tuple[Group, ...]

    @property
    def differing(self):
        """Return the figures that differ."""
        return tuple(row for group in self.groups for row in group.rows if row.change.differs)

    @property
    def count(self):
        """Return how many figures there are."""
        return sum(len(group.rows) for group in self.groups)


def state_changes(before, after):
    """Return the figures of two solved stages in both states."""
    return tuple(_state(before, after, name) for name in STATES)


def _state(before, after, name):
    """Return the figures of one state."""
    a, b = before.states[name], after.states[name]
    places = [point.scenario.input.states[name] for point in (before, after)]
    groups = (
        Group("Currents, voltages and ratios", _rows(a.quantities, b.quantities, QUANTITIES | NAMES)),
        Group("Voltage of every node", _rows(a.nodes, b.nodes, NODE_NAMES)),
        Group("Power of every part", _rows(a.powers, b.powers, PART_NAMES)),
    )
    place = " / ".join(dict.fromkeys(places))
    return StateChanges(name, place, change_of_text(_read(a), _read(b)), groups)


def _read(state):
    """Return what a state reads as."""
    return f"{state.verdict.level.upper()}, {'surely' if state.verdict.sure else 'not surely'}"


def _rows(a, b, names):
    """Return figures that either stage has, in the order of the first and then of the second."""
    return tuple(
        FigureChange(name.replace("_", " "), names.get(name, ""), _change(name, a.get(name), b.get(name)))
        for name in dict.fromkeys([*a, *b])
    )


def _change(name, a, b):
    """Return how one figure differs; a stage may lack it."""
    shown = [None if one is None else _printed(name, one) for one in (a, b)]
    if None in shown:
        return change_of_text(*("" if one is None else one.text for one in shown))
    unit = UNITS[getattr(a, "unit", "W")]
    texts, ranges = ((shown[0].text, shown[1].text), (shown[0].range, shown[1].range))
    return change_of_number(a.value, b.value, unit, texts, ranges)


def _printed(name, found):
    """Return a figure as printed; the overdrive is told in times, as everywhere."""
    if not hasattr(found, "unit"):
        return figure_of_power(found)
    if name != "overdrive":
        return figure(found)
    low, high = f"{found.low:.3g}", f"{found.high:.3g}"
    return Figure(f"{found.value:.3g}", "times", f"{low} – {high}" if low != high else "")
