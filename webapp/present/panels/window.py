"""What fits: both ends of what R1 and RL may be, and both chosen so that everything holds."""

from dataclasses import dataclass

from engine import (
    AMPERE,
    NO_RATE,
    WATT,
    Chosen,
    Conflict,
    ConvergenceError,
    Scenario,
    ScenarioError,
    Sizing,
    Window,
    Wishes,
    as_typed,
    query_from,
    reading,
    size_for,
    span,
    why_untimed,
    windows_of,
    wishes_from,
)
from webapp.present.figures import plain
from webapp.present.panels.requirements import named, title_of
from webapp.present.panels.window_bar import WIDTH, WindowBar, resistance, window_bar

_TOLD = {
    "R1": ("led-current", "led-power", "led-average", "inrush", "port-current", "package-current", "power-r1"),
    "RL": (
        "collector-current",
        "detector-power",
        "output-current",
        "power-rl",
        "off-delivery",
        "level-dark",
        "edge-rate",
    ),
}
"""Codes that are looked for as limits of a resistor, and told of where they are none."""

_SIDES = {"lower": "at least", "upper": "at most"}
KEEPING = (("none", "neither"), ("r1", "R1"), ("rl", "RL"))
"""Words for what is to stay, in the form."""

UNSOLVED = "With some of the values that were tried no operating point was found, which is a fault of Lightgap."
"""What is told where the solver fails."""

PREFERRING = (("middle", "RL in the middle"), ("current", "least LED current"))
"""Words for what comes first, in the form."""


@dataclass(frozen=True, slots=True)
class LimitView:
    """One limit as a row of the table.

    Attributes
    ----------
    words : str
        "at least" or "at most".
    value : str
        The resistance.
    title : str
        What sets it.
    condition : str
        Where that is worst.
    sets : bool
        Whether it is the tightest of its side.
    """

    words: str
    value: str
    title: str
    condition: str
    sets: bool


@dataclass(frozen=True, slots=True)
class WindowView:
    """What one resistor may be.

    Attributes
    ----------
    part : str
        "R1" or "RL".
    sentence : str
        The window in a sentence.
    empty : bool
        Whether nothing fits.
    inside : bool
        Whether the present resistance fits.
    bar : WindowBar
        The drawing.
    width : int
        Width of its view box.
    limits : tuple of LimitView
        All limits.
    notes : tuple of str
        What sets no limit, and what no value mends.
    """

    part: str
    sentence: str
    empty: bool
    inside: bool
    bar: WindowBar
    width: int
    limits: tuple[LimitView, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChosenView:
    """One chosen resistor.

    Attributes
    ----------
    part : str
        "R1" or "RL".
    value : str
        The resistance.
    below : str
        What the next smaller value does.
    above : str
        What the next larger value does.
    rating : str
        A power rating that has to be raised; empty if none has.
    """

    part: str
    value: str
    below: str
    above: str
    rating: str


@dataclass(frozen=True, slots=True)
class SizingView:
    """Both resistors, chosen.

    Attributes
    ----------
    fits : bool
        Whether everything holds.
    answer : str
        The answer in a sentence.
    figures : str
        LED current and overdrive.
    binding : str
        What binds; empty where nothing does.
    chosen : tuple of ChosenView
        Both resistors.
    conflict : tuple of str
        What excludes what, in sentences.
    series : str
        The series.
    query : str
        Link to the stage with them.
    """

    fits: bool
    answer: str
    figures: str
    binding: str
    chosen: tuple[ChosenView, ...]
    conflict: tuple[str, ...]
    series: str
    query: str


@dataclass(frozen=True, slots=True)
class WindowPanel:
    """The panel.

    Attributes
    ----------
    windows : tuple of WindowView
        Of R1 and of RL.
    unsolved : str
        Why there are none; empty where there are.
    errors : tuple of str
        What is wrong with what was typed.
    texts : dict of str to str
        What stands in the form, by key.
    usual : str
        Overdrive where nothing is typed.
    keeping, preferring : tuple of (str, str)
        Choices of the form.
    sizing : SizingView or None
        What was chosen; None where what was typed cannot be.
    """

    windows: tuple[WindowView, ...]
    unsolved: str
    errors: tuple[str, ...]
    texts: dict[str, str]
    usual: str
    keeping: tuple[tuple[str, str], ...]
    preferring: tuple[tuple[str, str], ...]
    sizing: SizingView | None


def window_panel(scenario: Scenario, values: dict[str, str]) -> WindowPanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    try:
        windows, unsolved = tuple(_window(window, scenario) for window in windows_of(scenario).values()), ""
    except ConvergenceError:
        windows, unsolved = (), UNSOLVED
    usual = {
        "overdrive": f"{Wishes().overdrive:g}",
        "ifmin": "",
        "ifmax": "",
        "edge": "",
        "keep": "none",
        "prefer": "middle",
    }
    texts = {key: values.get(key, "").strip() or text for key, text in usual.items()}
    try:
        sizing, errors = _sizing(size_for(scenario, wishes_from(values))), ()
    except ScenarioError as error:
        sizing, errors = None, tuple(f"{p.reason}; accepted: {p.accepted}" for p in error.problems)
    except ConvergenceError:
        sizing, errors = None, (UNSOLVED,)
    return WindowPanel(windows, unsolved, errors, texts, usual["overdrive"], KEEPING, PREFERRING, sizing)


# ---------------------------------------------------------------- windows


def _window(window: Window, scenario: Scenario) -> WindowView:
    """Return one window."""
    limits = tuple(
        LimitView(
            _SIDES[b.side], plain(b.R, "ohm"), b.title, b.condition, b in (window.low, window.high)
        )
        for b in window.bounds
    )  # fmt: skip
    return WindowView(
        window.part,
        _sentence(window),
        window.empty,
        window.holds_present,
        window_bar(window),
        WIDTH,
        limits,
        tuple(_notes(window, scenario)),
    )


def _sentence(window: Window) -> str:
    """Return a window in a sentence."""
    present = resistance(window.present)
    if window.empty:
        least, most = (f"{plain(b.R, 'ohm')} ({named([b.code])})" for b in (window.low, window.high))
        return f"No value fits: at least {least} is asked for, and at most {most} is allowed."
    ends = [f"{_SIDES[b.side]} {plain(b.R, 'ohm')} ({named([b.code])})" for b in (window.low, window.high) if b]
    allowed = " and ".join(ends) or "anything that was looked at"
    return f"May be {allowed}. It is {present}, which {'fits' if window.holds_present else 'does not fit'}."


def _notes(window: Window, scenario: Scenario):
    """Yield what sets no limit, and what no value mends."""
    part, (low, high) = window.part, window.reach
    free = [code for code in _TOLD[part] if code in window.always]
    if free:
        looked_at = f"from {plain(low, 'ohm')} to {plain(high, 'ohm')}"
        yield f"No limit {looked_at}: {named(free)}."
    if window.elsewhere:
        yield f"Fails whatever {part} is, and is left aside here: {named(window.elsewhere)}."
    yield from _speed(window, scenario)


def _speed(window: Window, scenario: Scenario):
    """Yield what is to be told of the signal rate."""
    wanted, why = scenario.conditions.rate != NO_RATE, why_untimed(scenario)
    if window.part == "R1":
        if wanted and not why:
            yield "R1 bears on the signal rate too, either way; that is looked at for RL here, and for both below."
    elif not wanted:
        yield "The larger RL, the slower the edges, which sets a limit once a signal rate is wanted of the stage."
    elif not window.timed:
        yield f"The signal rate is left aside: {why[0].lower()}{why[1:]}"


# ---------------------------------------------------------------- both chosen


def _sizing(sizing: Sizing) -> SizingView:
    """Return both resistors as they were chosen."""
    R1, RL = (resistance(sizing.chosen[part].R) for part in ("R1", "RL"))
    conflict = sizing.conflict
    return SizingView(
        conflict is None,
        _answer(f"R1 {R1} and RL {RL}", conflict),
        _figures(sizing),
        title_of(sizing.binding) if sizing.binding and not (conflict and conflict.together) else "",
        tuple(_chosen(one, conflict is None or not conflict.together) for one in sizing.chosen.values()),
        tuple(_conflict(conflict, sizing.untimed)),
        sizing.series,
        query_from(sizing.scenario),
    )


def _answer(pair: str, conflict: Conflict | None) -> str:
    """Return the answer in a sentence."""
    if conflict is None:
        return f"{pair}: everything holds at every corner."
    if conflict.failing == conflict.alone:
        return f"{pair}: everything holds that these two decide. What fails all the same: {named(conflict.alone)}."
    return f"No pair makes everything hold. Nearest come {pair}, with which fails: {named(conflict.failing)}."


def _figures(sizing: Sizing) -> str:
    """Return LED current and overdrive."""
    value, low, high = sizing.IF
    number, unit = reading(value, AMPERE)
    text, own = span(low, high, AMPERE)
    current = f"LED current {number} {unit}" + (f", {text} {own} at worst".replace("  ", " ") if text else "")
    told = [current, f"overdrive {sizing.overdrive:.3g} at worst" if sizing.overdrive is not None else ""]
    if sizing.speed is not None:
        rate, time = sizing.speed
        told.append(f"highest rate {plain(rate, 'Hz')} at worst" if rate else "no rate at which both levels are sure")
        told.append(f"slower edge {plain(time, 's')} from 10 to 90 % at worst" if time else "")
    return "; ".join(part for part in told if part) + "."


def _chosen(one: Chosen, does: bool) -> ChosenView:
    """Return one resistor; `does` tells whether all that the two resistors decide holds with them."""
    words = ("stays as it is",) * 2
    if not one.kept:
        fails, free = ("fails: ", "would do too") if does else ("fails besides: ", "mends nothing more")
        words = tuple(f"{fails}{named(codes)}" if codes else free for codes in (one.below, one.above))
    rating = f"takes a {as_typed(one.rating, WATT)} part" if one.rating else ""
    return ChosenView(one.part, resistance(one.R), *words, rating)


def _conflict(conflict: Conflict | None, untimed: str):
    """Yield what excludes what, and what was left aside, in sentences."""
    if untimed:
        yield f"How fast the stage is was left aside: {untimed[0].lower()}{untimed[1:]}"
    if conflict and conflict.alone:
        yield f"No R1 and RL mend this: {named(conflict.alone)}."
    if conflict and conflict.together:
        pairs = f"with none of the {conflict.looked_at} pairs of R1 and RL that were looked at"
        yield f"These never hold all at once, {pairs}: {named(conflict.together)}."
    for some, others in _sides(conflict.pairs if conflict else ()):
        yield f"Exclude each other: on the one hand {named(some)}; on the other {named(others)}."


def _sides(pairs):
    """Return pairs put together: those of the first kind that exclude the same ones of the second."""
    opposite: dict[str, list[str]] = {}
    for first, second in pairs:
        opposite.setdefault(first, []).append(second)
        opposite.setdefault(second, []).append(first)
    found: dict[tuple[str, ...], list[str]] = {}
    for code, others in opposite.items():
        found.setdefault(tuple(sorted(others)), []).append(code)
    told: set[frozenset[str]] = set()
    for others, some in found.items():
        new = [code for code in others if any(frozenset((code, one)) not in told for one in some)]
        if new:
            yield some, new
        told |= {frozenset((code, one)) for code in others for one in some}
