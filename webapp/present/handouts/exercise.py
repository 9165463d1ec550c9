"""Questions of a stage as printed: on a worksheet with blanks only, on the answer sheet worked."""

import re
from dataclasses import dataclass

from engine import UNITS, questions_of, reading, span
from webapp.present.figures import plain
from webapp.present.given import card_lines, receiver_line, surroundings, values_of

_WRITTEN_IN = {"": "", "V": "V", "s": "ms"}
"""Unit of an answer to the one that it is written in, where that is the same for every answer."""

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[^\d\s(])")


@dataclass(frozen=True, slots=True)
class BlankView:
    """One thing to be found.

    Attributes
    ----------
    name : str
        What it is called.
    unit : str
        Unit to write it in; empty where there is none.
    words : tuple of str
        Words to choose from; empty where a figure is asked for.
    """

    name: str
    unit: str
    words: tuple


@dataclass(frozen=True, slots=True)
class QuestionView:
    """One question of a worksheet; it holds nothing of its answer.

    Attributes
    ----------
    asks : str
        The question.
    blanks : tuple of BlankView
        What is to be found.
    """

    asks: str
    blanks: tuple


@dataclass(frozen=True, slots=True)
class StepView:
    """One step by hand.

    Attributes
    ----------
    symbol : str
        What it gives.
    formula : str
        The calculation.
    by_hand : str
        Its result.
    why : str
        Why the full solve differs.
    """

    symbol: str
    formula: str
    by_hand: str
    why: str


@dataclass(frozen=True, slots=True)
class ResultView:
    """One answer.

    Attributes
    ----------
    name : str
        What it is called.
    answer : str
        The figure of the nominal stage, or the word.
    window : str
        What a good unit may have; empty where there is one answer only.
    """

    name: str
    answer: str
    window: str


@dataclass(frozen=True, slots=True)
class AnswerView:
    """One question with its answer.

    Attributes
    ----------
    asks : str
        The question.
    results : tuple of ResultView
        What is to be found.
    steps : tuple of StepView
        How it is worked out by hand.
    told : str
        What else explains it.
    """

    asks: str
    results: tuple
    steps: tuple
    told: str


@dataclass(frozen=True, slots=True)
class GivenView:
    """What is given.

    Attributes
    ----------
    stage : tuple of (str, str)
        Values of the stage.
    card : tuple of (str, str)
        What the card states.
    around : tuple of (str, str)
        Tolerances, temperatures, what is read as what.
    """

    stage: tuple
    card: tuple
    around: tuple


def given_view(point):
    """Return what is given of a solved stage, without what was sized and what is solved."""
    around = (receiver_line(point), *surroundings(point.scenario))
    groups = values_of(point, sized=False), card_lines(point.scenario), around
    return GivenView(*(tuple((name, _BEFORE_UNIT.sub("\u00a0", text)) for name, text in rows) for rows in groups))


def worksheet(point):
    """Return the questions of a solved stage."""
    return tuple(
        QuestionView(one.asks, tuple(BlankView(b.name, _unit(b), b.words) for b in one.blanks))
        for one in questions_of(point)
    )


def answer_sheet(point):
    """Return the questions of a solved stage with their answers."""
    return tuple(
        AnswerView(one.asks, tuple(_result(b) for b in one.blanks), tuple(_step(s) for s in one.steps), one.told)
        for one in questions_of(point)
    )


def _unit(blank):
    """Return the unit that a figure is written in; a prefix that follows the figure would tell the level."""
    if blank.unit in _WRITTEN_IN:
        return _WRITTEN_IN[blank.unit]
    return reading(blank.value, UNITS[blank.unit])[1]


def _result(blank):
    """Return one answer."""
    if not blank.unit:
        return ResultView(blank.name, blank.word, "")
    window, own = span(blank.low, blank.high, UNITS[blank.unit])
    text = f"{window} {own}".strip() if window else ""
    return ResultView(blank.name, plain(blank.value, blank.unit).strip(), text)


def _step(one):
    """Return one step by hand."""
    return StepView(one.symbol, one.formula, plain(one.by_hand, one.unit).strip(), one.why)
