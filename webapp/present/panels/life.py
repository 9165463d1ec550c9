"""Will it still work: the stage under one burden after the other, and its margin over the years of service."""

from dataclasses import dataclass, replace

from engine import (
    CELSIUS,
    LOOK_AHEAD,
    MOST_YEARS,
    RULES,
    UNITS,
    Problem,
    QuantityError,
    Scenario,
    ScenarioError,
    as_typed,
    in_service,
    life_of,
    parse,
    query_from,
    remedies_of,
    staircase_of,
)
from webapp.present.figures import plain
from webapp.present.panels.life_plot import LifePlot, life_plot
from webapp.present.results import SIGNS, FindingView, finding_views

BAR = 200
"""Length of the scale of the bars, in the units of their view box."""

_CUT = 5.0  # [-], overdrive at which bars are cut off, so that the limit stays where it can be seen
_LEAST_AHEAD = 1.0  # [a]


@dataclass(frozen=True, slots=True)
class StepView:
    """One step of the staircase.

    Attributes
    ----------
    code : str
        Stable name.
    title : str
        The burden.
    more : str
        More about it; empty if nothing.
    bar : float
        Length of the bar of overdrive.
    overdrive : str
        Overdrive in figures; a dash where nothing is asked of the coupler.
    worst : str
        Temperature at which it is worst; empty where there is only one.
    level : str
        What is read at worst.
    limit : str
        What it is held against.
    holds : bool
        Whether every finding holds.
    sign : str
        A sign for that.
    word : str
        The same in a word.
    fails : str
        What fails from this step on; empty if nothing does newly.
    query : str
        Link to the stage under these conditions; empty where a stage cannot be asked for like that.
    """

    code: str
    title: str
    more: str
    bar: float
    overdrive: str
    worst: str
    level: str
    limit: str
    holds: bool
    sign: str
    word: str
    fails: str
    query: str


@dataclass(frozen=True, slots=True)
class RemedyView:
    """What would mend it.

    Attributes
    ----------
    text : str
        What to do, with its value.
    query : str
        Link to the stage with it, its temperatures and service.
    remains : str
        What fails all the same; empty if everything holds.
    """

    text: str
    query: str
    remains: str


@dataclass(frozen=True, slots=True)
class LifePanel:
    """The panel.

    Attributes
    ----------
    error : str
        What is wrong with what was typed; empty if nothing is.
    ahead : str
        Years to look ahead, as typed.
    usual : str
        The same where nothing was typed.
    most : str
        The most that is accepted.
    answer : str
        The answer in a sentence.
    asked : str
        Which temperatures and how many years are reckoned with, and who asks for them.
    ask : tuple of (str, str)
        A link that asks for them, or for none of them: text and query.
    limit_at : float
        Where the limit stands on the scale of the bars.
    cut : str
        A remark where bars are cut off.
    steps : tuple of StepView
        The staircase.
    plot : LifePlot
        The margin over the years.
    failing : tuple of FindingView
        What does not hold at the end of the service.
    failing_when : str
        At the end of which service.
    remedies : tuple of RemedyView
        What would mend it, the best first.
    """

    error: str
    ahead: str
    usual: str
    most: str
    answer: str
    asked: str
    ask: tuple[str, str]
    limit_at: float
    cut: str
    steps: tuple[StepView, ...]
    plot: LifePlot
    failing: tuple[FindingView, ...]
    failing_when: str
    remedies: tuple[RemedyView, ...]


def years_ahead(text: str) -> float:
    """Return how far to look ahead; raise ScenarioError where the text means no such time."""
    accepted = f"{_LEAST_AHEAD:g} to {MOST_YEARS:g}"
    if not text.strip():
        return LOOK_AHEAD
    try:
        years = parse(text, UNITS["count"])
    except QuantityError as error:
        raise ScenarioError([Problem("ahead", error.given, accepted, error.reason)]) from error
    if not _LEAST_AHEAD <= years <= MOST_YEARS:
        reason = f"{years:g} is out of range for years ahead"
        raise ScenarioError([Problem("ahead", f"{years:g}", accepted, reason)])
    return years


def staircase(scenario: Scenario) -> tuple[str, tuple[StepView, ...]]:
    """Return whether a stage still works, in a sentence, and one burden after the other."""
    steps = staircase_of(scenario)
    return _answer(steps), tuple(_step(scenario, step, 0.0) for step in steps)


def life_panel(scenario: Scenario, values: dict[str, str]) -> LifePanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    try:
        ahead, error = years_ahead(values.get("ahead", "")), ""
    except ScenarioError as problem:
        ahead, error = LOOK_AHEAD, f"{problem.problems[0].reason}; accepted: {problem.problems[0].accepted}"
    steps = staircase_of(scenario)
    full, longest = in_service(scenario), min(max((s.overdrive or 0.0 for s in steps), default=1.0), _CUT)
    top = max(longest, 1.0) * 1.02
    broken = next((s for s in steps if s.code.startswith("service") and not s.holds), None)
    stage = replace(scenario, conditions=broken.conditions) if broken else full
    failing, remedies = remedies_of(stage) if broken else ((), ())
    return LifePanel(
        error=error,
        ahead=values.get("ahead", "").strip() or f"{LOOK_AHEAD:g}",
        usual=f"{LOOK_AHEAD:g}",
        most=f"{MOST_YEARS:g}",
        answer=_answer(steps),
        asked=_asked(scenario, full),
        ask=_ask(scenario, full),
        limit_at=BAR / top,
        cut=f"Bars are cut off at {_CUT:g} times." if any((s.overdrive or 0.0) > _CUT for s in steps) else "",
        steps=tuple(_step(scenario, step, BAR / top) for step in steps),
        plot=life_plot(life_of(full, ahead), scenario.conditions.years),
        failing=finding_views(failing),
        failing_when=_service(broken) if broken else "",
        remedies=tuple(RemedyView(r.mend.text, query_from(r.mend.scenario), _named(r.remains)) for r in remedies),
    )


def _answer(steps):
    """Return whether it still works, in a sentence."""
    service = [step for step in steps if step.code.startswith("service")]
    fails = next((step for step in steps if not step.holds), None)
    if fails is None:
        return "Yes: everything holds at every step."
    if fails is steps[0]:
        return "It does not work even with nominal parts; first mend what the findings name."
    if fails in service:
        kept = [_service(step) for step in service if step.holds]
        besides = f" It does {', and '.join(kept)}." if kept else ""
        return f"It works when new, hot and cold. It does not {_service(fails)}.{besides}"
    if fails.code == "temperature":
        span = _degrees(fails.conditions)
        return f"It works on the bench, even with the weakest part of the bin, but not from {span}."
    return _WORKS_UP_TO[fails.code]


_WORKS_UP_TO = {
    "tolerances": "It works with nominal parts only: resistors and supplies at the ends of their tolerance break it.",
    "weakest": "It works on the bench with a typical part, but not with the weakest part of the bin.",
}
"""Code of the first step that fails to the answer."""


def _service(step):
    """Return the service of a step in words."""
    return f"after {step.conditions.years:g} years if {step.told}"


def _asked(scenario, full):
    """Return which temperatures and how many years are reckoned with, and whether the stage asks for them."""
    conditions = scenario.conditions
    asked = conditions.TA_ends != (conditions.TA, conditions.TA), bool(conditions.years)
    service = f"{full.conditions.years:g} years"
    return f"Reckoned with {_degrees(full.conditions)} and {service} of service{_ASKED[asked]}."


_ASKED = {
    (True, True): ", as asked for",
    (True, False): "; no years are asked for",
    (False, True): "; no temperatures are asked for",
    (False, False): "; neither is asked for",
}
"""Whether temperatures and years are asked for to the words for that."""


def _ask(scenario, full):
    """Return a link that asks the stage for all of it, or for none of it where it is asked for already."""
    if scenario != full:
        return "Ask the stage for these", query_from(full)
    bare = replace(scenario.conditions, TA_min="ta", TA_max="ta", years=0.0)
    return "Look at it new, on the bench", query_from(replace(scenario, conditions=bare))


def _degrees(conditions):
    """Return the span of the ambient temperature."""
    low, high = (_celsius(degrees) for degrees in conditions.TA_ends)
    return f"{low} to {high}" if low != high else low


def _celsius(degrees):
    """Return a temperature as it is printed, number and unit on one line."""
    return as_typed(round(degrees, 1), CELSIUS).replace("-", "−").replace(" ", "\u00a0")


def _step(scenario, step, scale):
    """Return one step."""
    title, more = _title(scenario, step)
    bar = max(min(step.overdrive or 0.0, _CUT), 0.0) * scale
    warm = step.conditions.TA_ends[0] != step.conditions.TA_ends[1]
    worst = f"at {_celsius(step.TA)}" if warm else ""
    fails = _named(step.new)
    real = replace(scenario, conditions=step.conditions)
    query = query_from(real) if step.code not in ("typical", "tolerances") else ""
    sign, word = (SIGNS["pass"], "holds") if step.holds else (SIGNS["stop"], "fails")
    return StepView(
        step.code, title, more, bar, _times(step.overdrive), worst, *_level(real, step), step.holds, sign, word, fails,
        query,
    )  # fmt: skip


def _title(scenario, step):
    """Return a burden, and more about it."""
    if step.code.startswith("service"):
        return f"After {step.conditions.years:g} years", step.told
    if step.code == "temperature":
        return f"From {_degrees(step.conditions)}", ""
    if step.code != "typical":
        return _BURDENS[step.code], ""
    chosen = scenario.coupling.has_ratio and scenario.coupling.CTR != "typ"
    part = "The part as chosen" if chosen else "A typical part"
    return f"{part}, new", f"every value nominal, {_celsius(step.conditions.TA)}"


_BURDENS = {"tolerances": "Resistors and supplies at worst", "weakest": "The weakest part of the bin"}
"""Code of a step to its burden."""


def _level(scenario, step):
    """Return what is read at worst beside its limit."""
    if step.level is None:
        return "", ""
    value, limit = plain(step.level.value, step.level.unit), plain(step.level.limit, step.level.unit)
    output = scenario.output
    lit = step.level.code == output.level_codes[0]
    wanted = output.level_when_lit if lit else output.level_when_dark
    bound = "up to" if wanted == output.words[0] else "from"
    return value, f"{wanted} {bound} {limit}"


def _times(overdrive):
    """Return an overdrive in three figures."""
    if overdrive is None:
        return "–"
    return f"{overdrive:.3g}".replace("-", "−") if abs(overdrive) < 1000 else f"{overdrive:.0f}"


def _named(codes):
    """Return findings by their names for people."""
    titles = (RULES[code].title for code in codes)
    return "; ".join(title if title[:2].isupper() else title[0].lower() + title[1:] for title in titles)
