"""Spread: what a stage does over many samples, as a histogram, yields and a table beside the guaranteed ranges."""

from dataclasses import dataclass
from urllib.parse import urlencode

from engine import (
    DISTRIBUTIONS,
    KINDS,
    RULES,
    STATES,
    ConvergenceError,
    Plan,
    Run,
    Scenario,
    ScenarioError,
    SpreadOf,
    most_samples,
    query_from,
    quick_samples,
)
from webapp.present.names import NODE_NAMES, PART_NAMES
from webapp.present.panels.drawn import Typed, plan_asked, told
from webapp.present.panels.spread_plot import HistogramView, Printer, histogram
from webapp.present.results import SIGNS

LONG = 100_000
"""Samples of a long run, where nothing else is asked for and as many may be asked for."""

UNSOLVED = "One of the samples could not be solved. This is a fault of Lightgap's own; another draw may do."

_BAR = 100.0
_DISTRIBUTIONS = {"uniform": "even between their ends", "normal": "normal, ends at 3 sigma"}
_HEADS = {"quantities": "Quantities", "nodes": "Nodes", "currents": "Currents", "powers": "Powers"}
_BEYOND = 1e-6  # of a quantity's size and range: what a sample may pass a corner by and still be said to lie within


@dataclass(frozen=True, slots=True)
class YieldView:
    """How many samples keep a rule.

    Attributes
    ----------
    code : str
        Code of the rule.
    title : str
        Its name.
    sign : str
        A sign for whether all keep it.
    share : str
        Share that keeps it.
    failing : str
        How many do not, or what none of them tells.
    bar : float
        Length of its bar, of 100.
    kind : str
        "fails" or "holds".
    """

    code: str
    title: str
    sign: str
    share: str
    failing: str
    bar: float
    kind: str


@dataclass(frozen=True, slots=True)
class QuantityRow:
    """One quantity.

    Attributes
    ----------
    symbol : str
        Its symbol.
    name : str
        What it is; empty where the symbol says it.
    cells : tuple of str
        Nominal value, range over all corners, 1 % to 99 %, median, mean, standard deviation, all that was drawn.
    beyond : bool
        Whether a sample lies beyond the corners.
    """

    symbol: str
    name: str
    cells: tuple[str, ...]
    beyond: bool


@dataclass(frozen=True, slots=True)
class TableView:
    """Quantities of one kind in one state.

    Attributes
    ----------
    title : str
        State and kind.
    rows : tuple of QuantityRow
        The quantities.
    open : bool
        Whether the table is shown at once.
    """

    title: str
    rows: tuple[QuantityRow, ...]
    open: bool


@dataclass(frozen=True, slots=True)
class ResultView:
    """What was found.

    Attributes
    ----------
    answer : str
        The yield of all rules in a sentence.
    drawn : str
        What was drawn, in a sentence.
    failing : tuple of YieldView
        Rules that some sample breaks, or some corner.
    guaranteed : tuple of YieldView
        Rules that are kept at every corner too.
    whole : str
        What is judged for the stage as a whole and is in no yield, in a sentence; empty if nothing is.
    plot : HistogramView
        The quantity that was chosen.
    tables : tuple of TableView
        All quantities.
    beyond : bool
        Whether a sample lies beyond the corners somewhere.
    """

    answer: str
    drawn: str
    failing: tuple[YieldView, ...]
    guaranteed: tuple[YieldView, ...]
    whole: str
    plot: HistogramView
    tables: tuple[TableView, ...]
    beyond: bool


@dataclass(frozen=True, slots=True)
class SpreadPanel:
    """The panel.

    Attributes
    ----------
    error : str
        What is wrong with what was typed or drawn; empty if nothing is.
    result : ResultView or None
        What a quick run found; None where it found nothing.
    samples, seed, dist, chosen : str
        What is asked for.
    usual : dict of str to str
        The same where nothing is typed.
    most : str
        The most samples that may be asked for.
    distributions : tuple of (str, str)
        Choices of distribution with their words.
    choices : tuple of (str, tuple)
        Quantities to draw by their group: key and words.
    run : str
        Query of the long run.
    more : str
        How many samples that has.
    at_once : bool
        Whether it was asked for.
    """

    error: str
    result: ResultView | None
    samples: str
    seed: str
    dist: str
    chosen: str
    usual: dict[str, str]
    most: str
    distributions: tuple[tuple[str, str], ...]
    choices: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    run: str
    more: str
    at_once: bool


def spread_panel(scenario: Scenario, values: dict[str, str]) -> SpreadPanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    typed, most, quick = Typed(values), most_samples(scenario), quick_samples(scenario)
    plan = plan_asked(typed, scenario)
    error, found = told(typed.problems), None
    try:
        found = _finished(Run(scenario, Plan(min(plan.samples, quick), plan.seed, plan.dist)))
    except ConvergenceError:
        error = UNSOLVED
    chosen = values.get("q", "").strip() or usual_quantity(scenario)
    if found is not None and chosen_of(found, chosen) is None:
        chosen, error = usual_quantity(scenario), f"{error} Quantity: this stage has no such quantity.".strip()
    more = plan.samples if plan.samples > quick else min(LONG, most)
    own = {"p.samples": more, "p.seed": plan.seed, "p.dist": plan.dist, "p.q": chosen}
    query = query_from(scenario)
    return SpreadPanel(
        error=error,
        result=None if found is None else result_view(found, chosen),
        samples=str(plan.samples),
        seed=str(plan.seed),
        dist=plan.dist,
        chosen=chosen,
        usual={"samples": str(quick), "seed": "1", "dist": DISTRIBUTIONS[0], "q": usual_quantity(scenario)},
        most=f"{most:,}",
        distributions=tuple(_DISTRIBUTIONS.items()),
        choices=() if found is None else _choices(found),
        run=urlencode(own) + (f"&{query}" if query else ""),
        more=f"{more:,}",
        at_once=plan.samples > quick,
    )


def _finished(run: Run) -> SpreadOf:
    while not run.finished:
        run.step()
    return run.result()


def usual_quantity(scenario: Scenario) -> str:
    """Return the key of the quantity that is drawn where none is chosen: what the output is judged by, LED lit."""
    return f"closed.quantities.{scenario.output.observed}"


def chosen_of(found: SpreadOf, key: str):
    """Return the distribution that a key means; None where there is none."""
    state, _, rest = key.partition(".")
    kind, _, name = rest.partition(".")
    return found.states.get(state, {}).get(kind, {}).get(name)


def result_view(found: SpreadOf, chosen: str) -> ResultView:
    """Return what was found, with the histogram of a quantity that there is."""
    state, kind, name = chosen.split(".", 2)
    title = f"{_symbol(kind, name)}, {found.scenario.input.states[state]}"
    one = found.states[state][kind][name]
    plot = histogram(title, one, found.limits.get((state, kind, name), ()), _printer(kind, name, one))
    yields = [_yield_view(code, kept, found) for code, kept in found.yields.items()]
    sure = [kept.guaranteed for kept in found.yields.values()]
    tables = _tables(found)
    return ResultView(
        answer=_answer(found),
        drawn=(
            f"{found.plan.samples:,} samples, draw {found.plan.seed}, tolerances {_DISTRIBUTIONS[found.plan.dist]}."
        ),
        failing=tuple(view for view, kept in zip(yields, sure, strict=True) if not kept),
        guaranteed=tuple(view for view, kept in zip(yields, sure, strict=True) if kept),
        whole=_whole(found),
        plot=plot,
        tables=tables,
        beyond=any(row.beyond for table in tables for row in table.rows),
    )


def _answer(found):
    """Return the yield of all rules in a sentence."""
    count, broken = found.plan.samples, found.all.failing
    if found.all.guaranteed:
        return f"Every one of {count:,} stages keeps every rule, and so does every corner."
    if not broken:
        few = percent(found.most_failing, 1)
        return (
            f"Every one of {count:,} stages keeps every rule, although some corner does not: "
            f"with 95 % confidence fewer than {few} fail."
        )
    return f"{count - broken:,} of {count:,} stages keep every rule: {percent(found.all.share, broken)}."


def percent(share: float, failing: int) -> str:
    """Return a share in per cent, with so many figures that a few that fail are not rounded away."""
    for digits in (3, 4, 5, 6):
        text = f"{100.0 * share:.{digits}g}"
        if not failing or float(text) < 100.0:
            break
    return f"{float(text):g} %"


def _yield_view(code, kept, found):
    few = f"none; with 95 % confidence fewer than {percent(found.most_failing, 1)}"
    failing = f"{kept.failing:,} of {found.plan.samples:,}" if kept.failing else "none" if kept.guaranteed else few
    kind = "fails" if kept.failing else "holds"
    sign = SIGNS["caution"] if kept.failing else SIGNS["pass"]
    return YieldView(code, RULES[code].title, sign, percent(kept.share, kept.failing), failing, _BAR * kept.share, kind)


def _whole(found):
    """Return what is in no yield, in a sentence."""
    if not found.undrawn:
        return ""
    named = "; ".join(f"“{RULES[code].title}”" for code in found.undrawn)
    return f"In no yield, as it is judged for the stage as a whole and does not hold at its worst corner: {named}."


def _symbol(kind, name):
    """Return how a quantity is called."""
    symbol = name.replace("_", " ")
    return {"nodes": f"V({symbol})", "currents": f"I({symbol})", "powers": f"P({symbol})"}.get(kind, symbol)


def _name(kind, name):
    return NODE_NAMES.get(name, "") if kind == "nodes" else PART_NAMES.get(name, "") if kind != "quantities" else ""


def _printer(kind, name, one):
    return Printer(one.unit, kind == "quantities" and name == "overdrive")


def _choices(found):
    """Return the quantities to choose from, by group."""
    groups = []
    for state in STATES:
        place = found.scenario.input.states[state]
        for kind in KINDS:
            names = tuple((f"{state}.{kind}.{name}", _symbol(kind, name)) for name in found.states[state][kind])
            if names:
                groups.append((f"{_HEADS[kind]}, {place}", names))
    return tuple(groups)


def _tables(found):
    """Return the tables of everything."""
    made = []
    for kind in KINDS:
        for state in STATES:
            rows = tuple(_row(kind, name, one) for name, one in found.states[state][kind].items())
            if rows:
                made.append(
                    TableView(f"{_HEADS[kind]}, {found.scenario.input.states[state]}", rows, kind == "quantities")
                )
    return tuple(made)


def _row(kind, name, one):
    """Return one quantity."""
    say = _printer(kind, name, one)
    cells = (
        say.one(one.value), say.both(one.low, one.high), say.both(one.p1, one.p99), say.one(one.median),
        say.one(one.mean), say.one(one.sd), say.both(one.minimum, one.maximum),
    )  # fmt: skip
    room = _BEYOND * (abs(one.low) + abs(one.high))
    seen = {"V": 100e-6, "A": 10e-9, "W": 1e-6}.get(one.unit, 1e-4)
    beyond = one.minimum < one.low - max(room, seen) or one.maximum > one.high + max(room, seen)
    return QuantityRow(_symbol(kind, name), _name(kind, name), cells, beyond)


def run_of(scenario: Scenario, values: dict[str, str]) -> tuple[Run, str]:
    """Return a long run that is asked for, and the quantity to draw; raise ScenarioError for what cannot be."""
    typed = Typed(values)
    plan = plan_asked(typed, scenario)
    if typed.problems:
        raise ScenarioError(typed.problems)
    return Run(scenario, plan), values.get("q", "").strip()
