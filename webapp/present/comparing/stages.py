"""One of two compared stages as it is drawn, with the figures marked that are other ones in the other stage."""

from dataclasses import dataclass, fields, replace

from engine import operating_point, query_from
from webapp.present import results
from webapp.present.schematic import ArrowView, FlagView, SideView, schematic


@dataclass(frozen=True, slots=True)
class MarkedFlag(FlagView):
    """A node voltage.

    Attributes
    ----------
    differs : bool
        Whether it is another one in the other stage.
    """

    differs: bool


@dataclass(frozen=True, slots=True)
class MarkedArrow(ArrowView):
    """A branch current.

    Attributes
    ----------
    differs : bool
        Whether it is another one in the other stage.
    """

    differs: bool


@dataclass(frozen=True, slots=True)
class ComparedStage:
    """A stage as drawn; the names are those that the schematic's template asks of a stage.

    Attributes
    ----------
    mark : str
        What the ids of its drawing begin with.
    name : str
        "Before" or "After".
    query : str
        Query string.
    other_query : str
        That of the other switch state.
    title : str
        The stage in a line.
    place : str
        The shown state in words.
    sides : tuple of SideView
        The schematic.
    broad : bool
        Whether the drawing needs more room than usual; never, as its sides stand under each other.
    """

    mark: str
    name: str
    query: str
    other_query: str
    title: str
    place: str
    sides: tuple[SideView, ...]
    broad: bool = False


def compared_stages(before, after):
    """Return both stages as drawn; None in place of one that there is not.

    Parameters
    ----------
    before : Scenario or None
        The first stage.
    after : Scenario or None
        The second stage.

    Returns
    -------
    tuple of (ComparedStage or None)
        Both, in that order.

    Raises
    ------
    ScenarioError
        If a resistor of one cannot be sized.
    """
    drawn = [scenario and _drawn(scenario) for scenario in (before, after)]
    shown = [sides and _figures(sides) for sides in drawn]
    names = (("a-", "Before"), ("b-", "After"))
    pairs = zip((before, after), names, drawn, (shown[1], shown[0]), strict=True)
    return tuple(scenario and _stage(scenario, *name, sides, other) for scenario, name, sides, other in pairs)


def _drawn(scenario):
    """Return the sides of a stage in the state that it shows."""
    return schematic(operating_point(scenario), scenario.conditions.switch)


def _figures(sides):
    """Return symbol to figure of everything that is drawn."""
    flags = {flag.node: flag.figure for side in sides for flag in side.flags}
    return flags | {f"{arrow.symbol} {arrow.part}": arrow.figure for side in sides for arrow in side.arrows}


def _stage(scenario, mark, name, sides, other):
    """Return one stage; `other` holds the figures of the other one, or None."""
    state = scenario.conditions.switch
    return ComparedStage(
        mark=mark,
        name=name,
        query=query_from(scenario),
        other_query=query_from(scenario.showing("open" if state == "closed" else "closed")),
        title=results.title(scenario),
        place=scenario.input.states[state],
        sides=tuple(_marked(side, other or _figures(sides)) for side in sides),
    )


def _marked(side, other):
    """Return a side with its figures marked that differ."""
    flags = (_with(MarkedFlag, flag, other.get(flag.node) != flag.figure) for flag in side.flags)
    arrows = (_with(MarkedArrow, one, other.get(f"{one.symbol} {one.part}") != one.figure) for one in side.arrows)
    return replace(side, flags=tuple(flags), arrows=tuple(arrows))


def _with(kind, view, differs):
    """Return a figure with its mark."""
    return kind(**{field.name: getattr(view, field.name) for field in fields(view)}, differs=differs)
