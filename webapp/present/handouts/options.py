"""What may be chosen of a hand-out: which one, its title, the paper, the parts of the report."""

from dataclasses import dataclass

from engine import Problem, ScenarioError, shown

LONGEST_TITLE = 100
"""The most characters of a title."""

SHEETS = {"worksheet": "Worksheet", "answers": "Answer sheet", "report": "Design report"}
"""Name of a hand-out to what it is called."""

PAPERS = {"a4": "A4", "letter": "Letter"}
"""Name of a paper to what it is called."""

PARTS = {
    "schematic": "Schematic",
    "parts": "Table of parts",
    "worked": "Worked steps",
    "findings": "Findings",
    "life": "Life and worst case",
    "timing": "Timing",
    "bench": "Bench sheet",
    "insulation": "Insulation",
    "assumptions": "Assumptions",
}
"""Part of the report to what it is called, in the order in which they are printed."""


@dataclass(frozen=True, slots=True)
class Options:
    """What was chosen.

    Attributes
    ----------
    sheet : str
        Which hand-out.
    title : str
        Its title; empty for that of the stage.
    paper : str
        Which paper.
    parts : tuple of str
        Parts of the report.
    """

    sheet: str
    title: str
    paper: str
    parts: tuple


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose.

    Attributes
    ----------
    name : str
        Its name in the address.
    text : str
        What it is called.
    chosen : bool
        Whether it is chosen.
    """

    name: str
    text: str
    chosen: bool


def options_of(sheet, own):
    """Return what was chosen.

    `sheet` names the hand-out; `own` are pairs of "title", "paper" or "part" and text. Raises ScenarioError for
    whatever there is not.
    """
    given = {"sheet": sheet or next(iter(SHEETS))} | {key: text for key, text in own if key in ("title", "paper")}
    parts = [text for key, text in own if key == "part"]
    title = " ".join("".join(c if c.isprintable() else " " for c in given.get("title", "")).split())
    wrong = [
        *_unknown("sheet", given["sheet"], SHEETS),
        *_unknown("paper", given.get("paper", "a4"), PAPERS),
        *(problem for part in parts for problem in _unknown("part", part, PARTS)),
    ]
    if len(title) > LONGEST_TITLE:
        reason = f"the title has {len(title)} characters"
        wrong.append(Problem("title", shown(title), f"at most {LONGEST_TITLE} characters", reason))
    if wrong:
        raise ScenarioError(wrong)
    chosen = tuple(name for name in PARTS if name in parts) or tuple(PARTS)
    return Options(given["sheet"], title, given.get("paper", "a4"), chosen)


def choices(named, chosen):
    """Return names and texts as choices."""
    return tuple(Choice(name, text, name in chosen) for name, text in named.items())


def _unknown(field, text, named):
    """Yield the problem of a name that there is not."""
    if text not in named:
        yield Problem(field, shown(text), f"one of {', '.join(named)}", f"there is no {field} '{shown(text)}'")
