"""What the pages of lessons print: the stage of a step, what is changed, a prediction beside the answer."""

from dataclasses import dataclass, replace

from engine import ConvergenceError, ScenarioError, operating_point, pairs_from, query_from, scenario_from_query
from webapp.lessons.lesson import IN_WORDS, LEVEL, Lesson, Step
from webapp.lessons.truths import Judged, Truth, levels_of, truth_of, unit_of
from webapp.present.curve_words import QUANTITIES
from webapp.present.figures import figure
from webapp.present.load_figures import NAMES
from webapp.present.results import hazardous, summary, title
from webapp.present.schematic import schematic
from webapp.present.stage import BESIDE_VERDICT
from webapp.words import CHOICES, WORDS, words_for

UNREADABLE = "The stage of this step cannot be read by this version of Lightgap."

_MOST_CHANGES = 8
"""Changed fields that are listed one by one."""

_FAR = 10.0
"""Times the answer, from which on a prediction is far off, however far."""


@dataclass(frozen=True, slots=True)
class ShownStage:
    """A stage to look at, in one switch state, as its schematic prints it.

    Attributes
    ----------
    title : str
        The stage in a line.
    state : str
        The switch state.
    other : str
        The other one.
    place : str
        The state in words.
    sides : tuple of SideView
        The schematic.
    broad : bool
        Whether the sides are too small to be read beside something else.
    summary : str
        The state in two sentences; empty where the figures are to be found.
    hazardous : bool
        Whether the cautions for dangerous voltages apply.
    """

    title: str
    state: str
    other: str
    place: str
    sides: tuple
    broad: bool
    summary: str
    hazardous: bool


@dataclass(frozen=True, slots=True)
class ChangeView:
    """A field that is changed.

    Attributes
    ----------
    label : str
        What it is called.
    before : str
        What it was; empty where it is new.
    after : str
        What it is; empty where it is gone.
    """

    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class AskView:
    """What is to be predicted, as it is asked.

    Attributes
    ----------
    question : str
        The question.
    kind : str
        "quantity", "level" or "words".
    label : str
        What the field is called.
    hint : str
        What is accepted.
    choices : tuple of str
        Levels to choose from.
    changes : tuple of ChangeView
        What differs from the stage that is shown.
    """

    question: str
    kind: str
    label: str
    hint: str
    choices: tuple
    changes: tuple


@dataclass(frozen=True, slots=True)
class AnswerView:
    """An answer, and a prediction beside it.

    Attributes
    ----------
    label : str
        What was asked for; empty for an answer in words.
    found : str
        What was worked out.
    range : str
        Its worst-case range, or what is said in its place.
    before : str
        What it was before the change.
    predicted : str
        What was predicted; empty where nothing was.
    verdicts : tuple of (str, str)
        "good", "bad" or "told", and a sentence.
    """

    label: str
    found: str
    range: str
    before: str
    predicted: str
    verdicts: tuple


def quantity_choices():
    """Return what may be asked for: titles of groups, each with symbols and words."""
    general = tuple((name, f"{name.replace('_', ' ')}, {words}") for name, words in QUANTITIES.items())
    of_loads = tuple((name, f"{name.replace('_', ' ')}, {words}") for name, words in NAMES.items())
    first = (("", "nothing"), (IN_WORDS, "an answer in words"), (LEVEL, "what is read at the output"))
    return ("", first), ("Quantities", general), ("Of some output sides only", of_loads)


def shown_stage(query: str, state: str, *, solved: bool) -> ShownStage:
    """Return a stage in one switch state, with blanks in place of its figures unless `solved`.

    Worst-case ranges are left out: those of a stage before a change may be those of the stage after it.
    Raises ScenarioError if it cannot be read, ConvergenceError if it cannot be solved.
    """
    scenario = scenario_from_query(query).showing(state)
    point = operating_point(scenario)
    sides = schematic(point, state, solved=solved)
    return ShownStage(
        title=title(scenario),
        state=state,
        other="open" if state == "closed" else "closed",
        place=scenario.input.states[state],
        sides=tuple(map(_without_ranges, sides)),
        broad=sum(side.width for side in sides) > BESIDE_VERDICT,
        summary=summary(point, state) if solved else "",
        hazardous=hazardous(point),
    )


def _without_ranges(side):
    """Return a side with nominal figures alone."""
    flags, arrows = (
        tuple(replace(one, figure=replace(one.figure, range="")) for one in ones) for ones in (side.flags, side.arrows)
    )
    return replace(side, flags=flags, arrows=arrows)


def in_state(query: str, state: str) -> str:
    """Return the query string of a stage with one switch state shown."""
    return query_from(scenario_from_query(query).showing(state))


def title_of(query: str) -> str:
    """Return a stage in a line, or that it cannot be read."""
    try:
        return title(scenario_from_query(query))
    except ScenarioError:
        return UNREADABLE


def changes(before: str, after: str) -> tuple[ChangeView, ...]:
    """Return the fields in which two stages differ, the switch aside."""
    old, new = (_fields(query) for query in (before, after))
    keys = [key for key in {**old, **new} if old.get(key) != new.get(key)]
    if kinds := [key for key in keys if key in ("in", "out", "coupler")]:
        keys = kinds  # what comes with another kind would only be a long list
    made = tuple(_change(key, old.get(key), new.get(key)) for key in keys[:_MOST_CHANGES])
    return made if len(keys) <= _MOST_CHANGES else (*made, ChangeView("and more", "", ""))


def _fields(query):
    """Return key to label and text of every field of a stage."""
    scenario = scenario_from_query(query)
    pairs = ((key, text) for key, text in pairs_from(scenario, readable=True) if key not in ("sw", "card"))
    return {key: (_label(key, scenario.output.kind), CHOICES.get(text, text)) for key, text in pairs}


def _label(key, kind):
    """Return what a field is called, with an output side of a kind."""
    sides = {"in": "Input side", "out": "Output side"}
    return sides.get(key) or (words_for(key, kind).label if key in WORDS else key)


def _change(key, old, new):
    """Return one changed field."""
    label = (new or old)[0]
    return ChangeView(label, old[1] if old else "", new[1] if new else "")


def ask_view(step: Step) -> AskView | None:
    """Return what a step asks; None where it asks nothing. Raises ScenarioError if a stage cannot be read."""
    ask = step.ask
    if ask is None:
        return None
    differs = changes(step.scenario, ask.after) if ask.after is not None else ()
    if ask.what == IN_WORDS:
        return AskView(ask.question, "words", "Your prediction", "A sentence or two.", (), differs)
    place = scenario_from_query(step.answered_by).input.states[ask.state]
    if ask.what == LEVEL:
        return AskView(ask.question, "level", f"Read at the output, {place}", "", levels_of(step), differs)
    hint = f"A number with its unit, as in {_EXAMPLES.get(unit_of(step), '3.2')}."
    return AskView(ask.question, "quantity", f"{_named(ask.what)}, {place}", hint, (), differs)


_EXAMPLES = {
    "V": "3.2 V or 250 mV", "A": "4.7 mA or 0.0047 A", "1": "80 %", "W": "25 mW", "s": "3 ms", "deg": "12 deg",
    "count": "1.6",
}  # fmt: skip
"""Name of a unit to what may be typed."""


def _named(what):
    """Return symbol and words of a quantity."""
    words = QUANTITIES.get(what) or NAMES.get(what, "")
    symbol = what.replace("_", " ")
    return f"{symbol}, {words}" if words else symbol


def answer_view(step: Step, told: Judged | None) -> AnswerView:
    """Return the answer to a step, and a prediction beside it where there is one.

    Raises ScenarioError if the stage cannot be read, KeyError if it has no such quantity any more.
    """
    truth = truth_of(step)
    predicted = told.text if told else ""
    if truth is None:
        return AnswerView("", "", "", "", predicted, ())
    place = scenario_from_query(step.answered_by).input.states[step.ask.state]
    if truth.what == LEVEL:
        sure = "whatever the corner" if truth.sure else "not at every corner"
        before = truth.level_before
        told_so = (("good", "That is the level.") if told.right else ("bad", "It is another level."),) if told else ()
        return AnswerView(f"Read at the output, {place}", truth.level, sure, before, predicted, told_so)
    found, earlier = figure(truth), _reading(truth, truth.before)
    range_ = f"{found.range} at worst" if found.range else "nothing varies"
    label = f"{_named(truth.what)}, {place}"
    return AnswerView(label, found.text.strip(), range_, earlier, predicted, _verdicts(truth, told) if told else ())


def _reading(truth, value):
    """Return a value in the unit of an answer; empty where there is none."""
    return "" if value is None else figure(Truth(truth.what, truth.unit, value, value, value)).text.strip()


def _verdicts(truth, told):
    """Return sentences on a predicted number."""
    lines = [("told", _distance(truth, told))]
    if figure(truth).range:
        window = "within the worst-case range" if told.right else "outside of the worst-case range"
        lines.append(("good" if told.right else "bad", f"It lies {window}."))
    if told.way:
        right = told.way == told.predicted_way
        way = f"{truth.what.replace('_', ' ')} {told.way}"
        lines.append(("good", f"The direction is right: {way}.") if right else ("bad", f"Wrong direction: {way}."))
    return tuple(lines)


def _distance(truth, told):
    """Return how far a prediction is off, in a sentence."""
    if told.off is None:
        return f"It is off by {_reading(truth, abs(told.given - truth.value))}."
    if told.near == 0.01:
        return "It is what was worked out, to within 1 %."
    side = "above" if told.off > 0 else "below"
    if abs(told.off) > _FAR:
        return f"It is more than {_FAR:.0f} times {side} what was worked out."
    percent = abs(told.off) * 100
    distance = f"{percent:.0f}" if percent >= 10 else f"{percent:.1f}"
    near = f", within {told.near * 100:.0f} %" if told.near else ""
    return f"It is {distance} % {side} what was worked out{near}."


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step in a list.

    Attributes
    ----------
    number : int
        Which one it is, from 1.
    title : str
        What it is called.
    asks : str
        What is to be predicted, in a phrase; empty where nothing is.
    stage : str
        Its stage in a line.
    """

    number: int
    title: str
    asks: str
    stage: str


def step_rows(lesson: Lesson) -> tuple[StepRow, ...]:
    """Return the steps of a lesson for a list."""
    return tuple(StepRow(k, step.title, _asks(step), title_of(step.scenario)) for k, step in enumerate(lesson.steps, 1))


def _asks(step):
    """Return what is to be predicted, in a phrase."""
    if step.ask is None:
        return ""
    words = {IN_WORDS: "in words", LEVEL: "the level that is read"}
    return words.get(step.ask.what) or step.ask.what.replace("_", " ")


UNSHOWABLE = (ScenarioError, ConvergenceError, KeyError)
"""What may be raised where a stage that is kept can no longer be shown."""
