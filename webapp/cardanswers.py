"""The JSON contract of couplers: shapes for the description, and the answers themselves."""

from pydantic import BaseModel

from engine import card_names, lines_of, load_card, query_from, sheet_stages, speed_lines_of


class CardEntry(BaseModel):
    """One coupler of the list."""

    name: str
    family: str
    title: str
    summary: str


class CardList(BaseModel):
    """Every shipped coupler."""

    couplers: list[CardEntry]


class CardLineAnswer(BaseModel):
    """One line of a card; `modelled` and `deviation` are null for a line that only limits.

    The deviation is in volt for voltages, else relative to the stated value.
    """

    name: str
    condition: str
    stated: float
    modelled: float | None
    unit: str
    deviation: float | None
    met: bool
    remark: str


class CardTestAnswer(BaseModel):
    """One test of a data sheet: names of the lines it answers, and the query string of its stage, empty without one."""

    name: str
    condition: str
    lines: list[str]
    query: str
    why: str


class CardAnswer(BaseModel):
    """One coupler, its lines as stated and as its model reads them, and their tests as stages."""

    name: str
    family: str
    title: str
    summary: str
    material_group: str | None
    lines: list[CardLineAnswer]
    tests: list[CardTestAnswer]


def list_answer():
    """Return the JSON object of all shipped couplers."""
    return {"couplers": [_entry(load_card(name)) for name in card_names()]}


def card_answer(card):
    """Return the JSON object of one coupler; raises CardError where its lines cannot be met."""
    found = (*lines_of(card), *speed_lines_of(card))
    lines = [{name: getattr(line, name) for name in CardLineAnswer.model_fields} for line in found]
    return _entry(card) | {"material_group": card.group(), "lines": lines, "tests": [*map(_test, sheet_stages(card))]}


def _test(test):
    """Return what is said of a test."""
    query = "" if test.scenario is None else query_from(test.scenario)
    return {"name": test.name, "condition": test.condition, "lines": [*test.lines], "query": query, "why": test.why}


def _entry(card):
    """Return what the list says of a coupler."""
    return {name: getattr(card, name) for name in CardEntry.model_fields}
