"""Contact bounce: what comes out of a contact that bounces, with and without a filter, and what the filter costs."""

from dataclasses import dataclass, replace

from engine import (
    BOUNCE_ENDS,
    BOUNCE_TIME,
    BOUNCES,
    MOST_BOUNCES,
    UNITS,
    Bounced,
    ConvergenceError,
    FilterCase,
    Filtering,
    Scenario,
    as_typed,
    filter_for,
    query_from,
    why_unbounced,
)
from webapp.present.figures import plain
from webapp.present.panels.drawn import Typed, told
from webapp.present.panels.train_plot import Train, TrainPlot, train_plot
from webapp.present.panels.window import UNSOLVED

_EDGES = {"closing": "Closing", "opening": "Opening"}
_NEVER = "never"


@dataclass(frozen=True, slots=True)
class CaseView:
    """One filter: edges that are seen, times, the rate; the address of the stage with it."""

    name: str
    closing: str
    closing_worst: str
    opening: str
    opening_worst: str
    stable: str
    on: str
    off: str
    rate: str
    clean: bool
    sign: str
    query: str


@dataclass(frozen=True, slots=True)
class BouncePanel:
    """The panel.

    Attributes
    ----------
    tb, n : str
        Time of bouncing and number of bounces, as typed.
    usual_tb, usual_n : str
        What they are where nothing is typed.
    error : str
        What is wrong with what was typed.
    reason : str
        Why nothing is followed; empty where it is.
    verdict : str
        The answer in a sentence.
    holds : bool
        Whether the stage as it is makes one edge of a closing, at worst too.
    counts : str
        How many edges are seen as the stage is, in a sentence.
    costs : str
        What the proposed filter costs, in a sentence; empty where none is proposed.
    proposed, query : str
        The proposed filter, and the address of the stage with it; empty where there is none or it is there.
    plots : tuple of TrainPlot
        Closing and opening as the stage is, then with the proposed filter.
    cases : tuple of CaseView
        Without a filter, as the stage is, proposed, twice that.
    """

    tb: str
    n: str
    usual_tb: str
    usual_n: str
    error: str = ""
    reason: str = ""
    verdict: str = ""
    holds: bool = False
    counts: str = ""
    costs: str = ""
    proposed: str = ""
    query: str = ""
    plots: tuple[TrainPlot, ...] = ()
    cases: tuple[CaseView, ...] = ()


def bounce_asked(typed: Typed) -> tuple[float, int]:
    """Return time and number of bounces; what is wrong with them is left with `typed`."""
    return typed.quantity("tb", "s", BOUNCE_TIME, BOUNCE_ENDS), typed.whole("bounces", BOUNCES, 1, MOST_BOUNCES)


def bounce_panel(scenario: Scenario, values: dict[str, str]) -> BouncePanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    typed, usual = Typed(values), as_typed(BOUNCE_TIME, UNITS["s"])
    tb, bounces = bounce_asked(typed)
    shown = {
        "tb": values.get("tb", "").strip() or usual, "n": values.get("bounces", "").strip() or str(BOUNCES),
        "usual_tb": usual, "usual_n": str(BOUNCES), "error": told(typed.problems),
    }  # fmt: skip
    reason = why_unbounced(scenario)
    try:
        found = None if reason else filter_for(scenario, tb, bounces)
    except ConvergenceError:
        found, reason = None, UNSOLVED
    if found is None:
        return BouncePanel(**shown, reason=reason)
    present = 0.0 if scenario.input.C_filter == "none" else scenario.input.C_filter
    cases = {case.C: case for case in found.cases}
    drawn = [(cases[present], "as it is")]
    if found.C is not None and found.C != present:
        drawn.append((cases[found.C], f"with {plain(found.C, 'F')}"))
    return BouncePanel(
        **shown,
        verdict=_verdict(found, present),
        holds=cases[present].worst["closing"].clean,
        counts=_counts(cases[present], bounces),
        costs=_costs(found, cases),
        proposed=plain(found.C, "F") if len(drawn) > 1 else "",
        query=_query(scenario, found.C) if len(drawn) > 1 else "",
        plots=tuple(_plot(case, edge, words, scenario) for case, words in drawn for edge in _EDGES),
        cases=tuple(_case(case, found, present, scenario) for case in found.cases),
    )


# ---------------------------------------------------------------- in sentences


def _verdict(found: Filtering, present: float) -> str:
    """Return whether a filter helps, and which."""
    if found.C is None:
        return found.reason
    enough = (
        f"{plain(found.C, 'F')} across the LED is the smallest E6 value with which one closing is one edge at worst."
    )
    if present and next(case for case in found.cases if case.C == present).worst["closing"].clean:
        return f"The filter as it is makes one edge of a closing, at worst too. {enough}"
    return enough


def _counts(case: FilterCase, bounces: int) -> str:
    """Return how many edges the stage as it is lets through."""
    said = []
    for edge, words in (("closing", "A closing"), ("opening", "an opening")):
        said.append(f"{words} with {bounces} bounces is {_seen(case.edges[edge], 0)}")
    return f"{', '.join(said)} (nominal)."


def _seen(bounced: Bounced, k: int) -> str:
    """Return how many edges are seen."""
    surely, possibly = bounced.surely[k], bounced.possibly[k]
    if surely == possibly:
        return f"{surely} edge{'' if surely == 1 else 's'}"
    return f"surely {surely}, maybe {possibly} edges"


def _count(bounced: Bounced, k: int) -> str:
    """Return the same as a number or a range."""
    surely, possibly = bounced.surely[k], bounced.possibly[k]
    return str(surely) if surely == possibly else f"{surely} to {possibly}"


def _costs(found: Filtering, cases: dict) -> str:
    """Return what the proposed filter costs."""
    if found.C is None:
        return ""
    bare, proposed = cases[0.0], cases[found.C]
    on, off = (_later(bare.delay[edge].high, proposed.delay[edge].high) for edge in _EDGES)
    rate = f"{_rate(proposed.rate.low)} instead of {_rate(bare.rate.low)}"
    opening = _worst(proposed.edges["opening"], proposed.worst["opening"])
    still = "" if opening.clean else f" At worst an opening is still {_seen(opening, 1)}; wait until it is stable."
    return f"It costs {on} on switching on and {off} on switching off; the highest rate at worst is {rate}.{still}"


def _later(before, after) -> str:
    """Return by how much an edge comes later."""
    return "-" if before is None or after is None else plain(after - before, "s")


def _time(value) -> str:
    """Return a time as text."""
    return _NEVER if value is None else plain(value, "s")


def _rate(value) -> str:
    """Return a rate as text."""
    return "none" if value is None else plain(value, "Hz")


# ---------------------------------------------------------------- rows and drawings


def _case(case: FilterCase, found: Filtering, present: float, scenario: Scenario) -> CaseView:
    """Return one row."""
    names = [plain(case.C, "F") if case.C else "no filter"]
    for C, word in ((present, "as it is"), (found.C, "proposed"), (found.C and 2.0 * found.C, "twice that")):
        if case.C == C:
            names.append(word)
    clean = case.worst["closing"].clean
    query = "" if case.C == present else _query(scenario, case.C)
    closing, opening = case.edges["closing"], case.edges["opening"]
    worst = {edge: _worst(case.edges[edge], case.worst[edge]) for edge in _EDGES}
    last = [bounced.stable.high for part in (case.edges, case.worst) for bounced in part.values()]
    return CaseView(
        ", ".join(names),
        _count(closing, 0), _count(worst["closing"], 1), _count(opening, 0), _count(worst["opening"], 1),
        _NEVER if None in last else plain(max(last), "s"),
        _time(case.delay["closing"].high), _time(case.delay["opening"].high), _rate(case.rate.low),
        clean, "✓" if clean else "■", query,
    )  # fmt: skip


def _query(scenario: Scenario, farad: float) -> str:
    """Return the address of the stage with a filter."""
    return query_from(replace(scenario, input=replace(scenario.input, C_filter=farad or "none")))


def _worst(shrinking: Bounced, long: Bounced) -> Bounced:
    """Return the worse of both patterns in every figure."""
    surely, possibly = (
        tuple(max(pair) for pair in zip(getattr(shrinking, name), getattr(long, name), strict=True))
        for name in ("surely", "possibly")
    )
    return replace(shrinking, surely=surely, possibly=possibly)


def _plot(case: FilterCase, edge: str, words: str, scenario: Scenario) -> TrainPlot:
    """Return the drawing of one edge."""
    wave, bounced, load = case.waves[edge], case.edges[edge], scenario.output
    stable, many = bounced.stable.value, bounced.possibly[0] != 1
    seen = f"{_count(bounced, 0)} edge{'s' if many else ''}"
    event = f"{seen}, stable after {plain(stable, 's')}" if stable is not None else f"{seen}, never stable"
    title = f"{_EDGES[edge]}, {words}"
    return train_plot(
        Train(
            key=f"{edge}-{case.C:g}", title=title,
            description=f"{title}: contact, LED current and {load.observed} over time; {event}.",
            changes=wave.contact, on_first=edge == "closing", switch="S1",
            t=wave.t, IF=wave.IF, y=wave.y, low=wave.low, high=wave.high, limits=wave.limits,
            observed=load.observed, unit="A" if load.observed == "IL" else "V", words=(load.words[0], load.words[2]),
            event=stable, event_text=event, lost=many or stable is None,
        )
    )  # fmt: skip
