"""Everything of a solved stage beside the schematic: verdict, findings, reasoning, tables."""

from dataclasses import dataclass

from engine import HAZARDOUS_AC, HAZARDOUS_DC, STATES, UNITS, as_typed, query_from
from webapp.present.figures import Figure, figure, plain
from webapp.present.names import NODE_NAMES, PART_NAMES

BAR = 200
"""Length of the scale of bars and ruler, in the units of their view box."""

SIGNS = {"stop": "■", "caution": "▲", "note": "●", "pass": "✓"}


@dataclass(frozen=True, slots=True)
class VerdictView:
    """What one switch state reads as.

    Attributes
    ----------
    state : str
        "closed" or "open".
    place : str
        The state of the input in words.
    verb : str
        The word before the level.
    level : str
        The level read.
    sure : bool
        Whether every corner reads it.
    right : bool
        Whether it is the level that this state should give.
    mark : str
        A sign for the three cases: sure, unsure, wrong.
    remark : str
        The same in words.
    shown : bool
        Whether the schematic shows this state.
    query : str
        Link to the scenario with this state shown.
    """

    state: str
    place: str
    verb: str
    level: str
    sure: bool
    right: bool
    mark: str
    remark: str
    shown: bool
    query: str


@dataclass(frozen=True, slots=True)
class BarView:
    """One bar on a common scale.

    Attributes
    ----------
    name : str
        What it is.
    length : float
        Length of the bar.
    low : float
        Where its range begins.
    span : float
        Length of its range.
    figure : Figure
        The number.
    """

    name: str
    length: float
    low: float
    span: float
    figure: Figure


@dataclass(frozen=True, slots=True)
class PointView:
    """One state on the level ruler.

    Attributes
    ----------
    place : str
        The state of the input in words.
    at : float
        Where the nominal value is.
    low : float
        Where its range begins.
    span : float
        Length of its range.
    figure : Figure
        The voltage.
    """

    place: str
    at: float
    low: float
    span: float
    figure: Figure


@dataclass(frozen=True, slots=True)
class RulerView:
    """The receiver's zones as a ruler.

    Attributes
    ----------
    title : str
        Heading.
    words : tuple of (str, str)
        What the lower and the upper zone are called.
    low_end : float
        Where the low zone ends.
    high_start : float
        Where the high zone begins.
    VIL : str
        The limit in figures.
    VIH : str
        The limit in figures.
    points : tuple of PointView
        Both states.
    """

    title: str
    words: tuple
    low_end: float
    high_start: float
    VIL: str
    VIH: str
    points: tuple


@dataclass(frozen=True, slots=True)
class FindingView:
    """A finding as printed.

    Attributes
    ----------
    code : str
        Stable name.
    severity : str
        One of the engine's severities.
    sign : str
        Its sign.
    reason : str
        One sentence.
    condition : str
        Where it is worst.
    mend : str
        What would mend it; empty if nothing is offered.
    query : str
        Link to the mended scenario.
    """

    code: str
    severity: str
    sign: str
    reason: str
    condition: str
    mend: str
    query: str


@dataclass(frozen=True, slots=True)
class RowView:
    """One row of the tables of nodes and branches.

    Attributes
    ----------
    name : str
        Node or part.
    meaning : str
        What it is.
    side : str
        "input" or "output"; empty for a branch.
    figures : tuple of Figure
        Node: voltage closed and open. Branch: current, voltage and power in the shown state.
    rating : str
        Power rating of the part; empty if it has none.
    """

    name: str
    meaning: str
    side: str
    figures: tuple
    rating: str


def verdicts(point, shown, links):
    """Return what both switch states read as, each with its link."""
    return tuple(_verdict(point, name, name == shown, links[name]) for name in STATES)


def _verdict(point, name, shown, query):
    """Return what one state reads as."""
    scenario, verdict = point.scenario, point.states[name].verdict
    load = scenario.output
    wanted = load.level_when_lit if name == "closed" else load.level_when_dark
    right = verdict.level == wanted
    mark, remark = ("✓", "sure") if right and verdict.sure else ("▲", "unsure") if right else ("■", "wrong")
    place, level = scenario.input.states[name], verdict.level
    verb = _VERBS.get(load.words[0], "is")
    return VerdictView(name, place, verb, level, verdict.sure, right, mark, remark, shown, query)


_VERBS = {"low": "reads", "dark": "seen"}
"""Lower level of an output side to the word before a level, where it is another than "is"."""


def bars_title(point):
    """Return what the bars are about."""
    if point.scenario.coupling.has_ratio:
        return "Collector current: needed and available"
    return "LED current: needed to switch, and there is"


def bars(point):
    """Return needed and available current on one scale, collector's or LED's; empty where the stage has neither."""
    found = point.states["closed"].quantities
    names = ("IC_needed", "IC_available") if "IC_needed" in found else ("IF_needed", "IF")
    rows = tuple(zip(("needed", "available"), (found[name] for name in names), strict=True))
    longest = max(row.high for _, row in rows)
    if not longest > 0:
        return ()
    scale = BAR / longest
    return tuple(
        BarView(name, row.value * scale, row.low * scale, (row.high - row.low) * scale, figure(row))
        for name, row in rows
    )


def overdrive(point):
    """Return how many times over the coupler can give what the load needs, in a phrase."""
    found = point.states["closed"].quantities.get("overdrive")
    if found is None:
        return "no load current is asked for"
    times = figure(found)
    if not point.scenario.coupling.has_ratio:
        verdict = "surely on" if found.low >= 1 else "not surely on" if found.value >= 1 else "off"
        return f"{_times(found.value)} times, {_times(found.low)} at worst: {verdict}"
    verdict = "saturated" if found.low >= 1 else "not surely saturated" if found.value >= 1 else "not saturated"
    return (
        f"{_times(found.value)} times, {_times(found.low)} at worst: {verdict}"
        if times.range
        else f"{_times(found.value)} times: {verdict}"
    )


def ratios(point):
    """Return the transfer ratio that there is and the one that the load asks for, in a phrase."""
    found = point.states["closed"].quantities
    if "IF_needed" in found:
        needed = figure(found["IF_needed"])
        return f"Threshold {needed.text} ({needed.range})" if needed.range else f"Threshold {needed.text}"
    if "CTR_available" not in found:
        return "No transfer ratio without drive."
    available, needed = figure(found["CTR_available"]), figure(found["CTR_needed"])
    available, needed = (f"{f.text} ({f.range})" if f.range else f.text for f in (available, needed))
    return f"CTR available {available}, asked for {needed}"


def _times(value):
    """Return a ratio in three figures."""
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"


def ruler(point):
    """Return the level ruler; None where no voltage is read."""
    closed, load = point.states["closed"], point.scenario.output
    if closed.quantities[load.observed].unit != "V":
        return None
    seen = [point.states[name].quantities[load.observed] for name in STATES]
    verdict = closed.verdict
    top = max(*(found.high for found in seen), verdict.high_limit) * 1.04 or 1.0
    bottom = min(0.0, *(found.low for found in seen), verdict.low_limit)
    scale = BAR / (top - bottom)

    def place(volts):
        return (volts - bottom) * scale

    points = tuple(
        PointView(point.scenario.input.states[name], place(f.value), place(f.low), (f.high - f.low) * scale, figure(f))
        for name, f in zip(STATES, seen, strict=True)
    )
    limits = plain(verdict.low_limit, "V"), plain(verdict.high_limit, "V")
    title = _RULERS.get(load.observed, "Level at the receiver")
    words = load.words[0], load.words[-1]
    return RulerView(title, words, place(verdict.low_limit), place(verdict.high_limit), *limits, points)


_RULERS = {
    "VIN": "Level at the controller's input",
    "VK": "Voltage of the coil",
    "VG": "Voltage of the gate",
    "VLOAD": "Voltage at the load, rms",
}
"""What is read to the heading of its ruler, where it is no receiver's level."""


def finding_views(found):
    """Return findings as printed."""
    return tuple(
        FindingView(
            f.code, f.severity, SIGNS[f.severity], f.reason, f.condition,
            f.mend.text if f.mend else "", query_from(f.mend.scenario) if f.mend else "",
        )
        for f in found
    )  # fmt: skip


def node_rows(point):
    """Return the table of nodes: every voltage in both states."""
    closed, opened = (point.states[name].nodes for name in STATES)
    return tuple(
        RowView(node, NODE_NAMES[node], side, (figure(closed[node]), figure(opened[node])), "")
        for node, side in point.sides.items()
    )


def branch_rows(point, name):
    """Return the table of branches: current, voltage and power of every part in one state."""
    state = point.states[name]
    rows = []
    for part, current in state.currents.items():
        power = state.powers[part]
        figures = (figure(current), figure(state.drops[part]), figure_of_power(power))
        rating = as_typed(float(f"{power.rating:.3g}"), UNITS["W"]) if power.rating is not None else ""
        rows.append(RowView(part, PART_NAMES[part], "", figures, rating))
    return tuple(rows)


def figure_of_power(power):
    """Return a power as a figure."""
    return figure(_AsRange(power.value, power.low, power.high))


@dataclass(frozen=True, slots=True)
class _AsRange:
    """A power in the shape of a range."""

    value: float
    low: float
    high: float
    unit: str = "W"


def summary(point, name):
    """Return the shown state in two sentences, for those who listen."""
    scenario, state = point.scenario, point.states[name]
    current = figure(state.quantities["IF"]).text
    seen = figure(state.quantities[scenario.output.observed])
    sure = "surely" if state.verdict.sure else "not surely"
    return (
        f"{scenario.input.states[name].capitalize()}: IF {current}, {scenario.output.observed} {seen.text}. "
        f"Reads {state.verdict.level}, {sure}."
    )


def title(scenario):
    """Return what a scenario is called where it has no name of its own."""
    card = scenario.coupling.data
    VS, VCC = (as_typed(volts, UNITS["V"]) for volts in (scenario.input.V_named, scenario.output.VCC))
    side, coupler, load = (
        title if title[:2].isupper() or title[1:2].isupper() else title[0].lower() + title[1:]
        for title in (scenario.input.title, card.title, scenario.output.title)
    )
    return f"{VS} {side}, {coupler}, {VCC} {load}"


def hazardous(point):
    """Return whether a side carries a voltage, or a figure of insulation is shown, that calls for the cautions."""
    asked = point.scenario.conditions.V_barrier != "none"
    line = point.scenario.input.kind == "ac" and point.scenario.input.line_ends[1] > HAZARDOUS_AC
    line = line or (point.scenario.output.on_line and point.scenario.output.VCC_ends[1] > HAZARDOUS_AC)
    nodes = (node for state in point.states.values() for node in state.nodes.values())
    return asked or line or any(node.high > HAZARDOUS_DC for node in nodes)
