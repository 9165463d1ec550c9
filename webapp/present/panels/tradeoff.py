"""Speed against RL: what values of RL, RBE or R1 buy and cost, and the largest RL for a wanted rate or edge."""

from dataclasses import dataclass

from engine import (
    HERTZ,
    OHM,
    ConvergenceError,
    PullUp,
    Scenario,
    ScenarioError,
    Tradeoff,
    Wanted,
    as_typed,
    pull_up_for,
    query_from,
    shown,
    tradeoff_of,
    varied_in,
    wanted_from,
    why_untimed,
)
from webapp.present.figures import plain
from webapp.present.graph import GraphView, graph
from webapp.present.panels.tradeoff_charts import charts_of
from webapp.present.panels.window import UNSOLVED

WORDS = {"RL": "load resistor RL", "RBE": "base-emitter resistor RBE", "R1": "LED drive, by R1"}
"""What may be varied, in words."""

_LEAST = 2  # values that make a drawing


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """One choice of what is varied."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class AnswerView:
    """The load resistor for what is wanted.

    Attributes
    ----------
    holds : bool
        Whether there is one.
    sentence : str
        Which one, and what it reaches.
    reason : str
        What stops the next larger value, or why there is none.
    query : str
        Link to the stage with it; empty where it is there already, or there is none.
    link : str
        What the link says.
    """

    holds: bool
    sentence: str
    reason: str
    query: str = ""
    link: str = ""


@dataclass(frozen=True, slots=True)
class TradeoffPanel:
    """The panel.

    Attributes
    ----------
    choices : tuple of ChoiceView
        What may be varied.
    part : str
        What is.
    note : str
        Why that is not what was asked for; empty where it is.
    reason : str
        Why there is nothing to draw; empty where there is.
    ends : tuple of str
        What limits at either end, in sentences.
    always : str
        What fails whatever the value is; empty where nothing does.
    graphs : tuple of GraphView
        Rate, margins, what it costs.
    rate, edge : str
        What is wanted, as typed.
    usual_rate : str
        The rate that the stage asks for; empty where it asks for none.
    errors : tuple of str
        What is wrong with what is wanted.
    answer : AnswerView or None
        The load resistor for it.
    """

    choices: tuple[ChoiceView, ...]
    part: str
    note: str
    reason: str
    ends: tuple[str, ...] = ()
    always: str = ""
    graphs: tuple[GraphView, ...] = ()
    rate: str = ""
    edge: str = ""
    usual_rate: str = ""
    errors: tuple[str, ...] = ()
    answer: AnswerView | None = None


def tradeoff_panel(scenario: Scenario, values: dict[str, str]) -> TradeoffPanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    part, note = _part(scenario, values.get("vary", ""))
    choices = tuple(ChoiceView(one.lower(), WORDS[one], one == part) for one in varied_in(scenario))
    usual = usual_rate(scenario)
    texts = {"rate": values.get("rate", usual).strip(), "edge": values.get("edge", "").strip()}
    given = {"rate": texts["rate"], "edge": texts["edge"], "usual_rate": usual}
    try:
        found = tradeoff_of(scenario, part)
        if found is None or len(found.R) < _LEAST:
            return TradeoffPanel(choices, part, note, why_untimed(scenario) or UNSOLVED, **given)
        wanted, errors = _wanted(texts, usual)
        answer = pull_up_for(scenario, wanted.rate, wanted.edge, found) if wanted and part == "RL" else None
    except ConvergenceError:
        return TradeoffPanel(choices, part, note, UNSOLVED, **given)
    return TradeoffPanel(
        choices,
        part,
        note,
        reason="",
        ends=(found.low_end, found.high_end),
        always=_always(found),
        graphs=tuple(graph(chart) for chart in charts_of(found, wanted, answer)),
        errors=errors,
        answer=_answer(found, answer) if answer else None,
        **given,
    )


def usual_rate(scenario: Scenario) -> str:
    """Return the rate that a stage asks for, as typed; empty where it asks for none."""
    rate = scenario.conditions.rate
    return "" if isinstance(rate, str) else as_typed(rate, HERTZ)


def _part(scenario: Scenario, text: str) -> tuple[str, str]:
    """Return what is varied, and why that is not what was asked for."""
    asked = text.strip().upper() or "RL"
    if asked in varied_in(scenario):
        return asked, ""
    if asked == "RBE":
        return "RL", "The base of this coupler cannot be used here, so RL is varied."
    if asked == "R1":
        return "RL", "This input sets its current by itself, so RL is varied in place of R1."
    return "RL", f"'{shown(text)}' cannot be varied here; accepted: {', '.join(one.lower() for one in WORDS)}."


def _wanted(texts: dict[str, str], usual: str) -> tuple[Wanted | None, tuple[str, ...]]:
    """Return what is wanted, and what is wrong with it; an edge that is typed goes before the stage's own rate."""
    if texts["edge"] and texts["rate"] == usual:
        texts = texts | {"rate": ""}
    try:
        return wanted_from(texts), ()
    except ScenarioError as error:
        return None, tuple(f"{problem.reason}; accepted: {problem.accepted}." for problem in error.problems)


def _always(found: Tradeoff) -> str:
    """Return what fails whatever the value is, in a sentence."""
    told = [one.title for one in found.stretches if (one.low, one.high) == (found.R[0], found.R[-1])]
    return f"Fails with all of these values: {'; '.join(told)}." if told else ""


def _answer(found: Tradeoff, answer: PullUp) -> AnswerView:
    """Return the load resistor for what is wanted."""
    wanted = answer.wanted
    if answer.RL is None:
        return AnswerView(
            False, f"No RL gives {_told(wanted)} without breaking something that holds now.", answer.reason
        )
    RL, series = plain(answer.RL, "ohm"), found.scenario.conditions.series
    reached = plain(answer.figure, "Hz" if wanted.edge is None else "s")
    sentence = f"{RL} is the largest RL of the {series} series that gives {_told(wanted)}: {reached} at worst."
    if answer.RL == found.present:
        return AnswerView(True, sentence.replace(" is ", ", as it is now, is ", 1), answer.reason)
    link = f"Open the stage with RL = {as_typed(answer.RL, OHM)}"
    return AnswerView(True, sentence, answer.reason, query_from(answer.scenario), link)


def _told(wanted: Wanted) -> str:
    """Return what is wanted, in words."""
    if wanted.edge is None:
        return plain(wanted.rate, "Hz")
    return f"edges of at most {plain(wanted.edge, 's')}"
