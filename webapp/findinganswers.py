"""The JSON contract of the findings: shapes for the description, and the answer itself."""

from pydantic import BaseModel

from engine import EXAMPLES, RULES


class ExampleAnswer(BaseModel):
    """Two stages as query strings: one that raises a finding, one just inside; why it has no remedy, if it has none."""

    raises: str
    severity: str
    inside: str
    unmended: str


class RuleAnswer(BaseModel):
    """A finding that a stage may have, with what stands behind it."""

    code: str
    title: str
    asks: str
    why: str
    limit_from: str
    worst_where: str
    severities: list[str]
    mends: str
    example: ExampleAnswer


class FindingList(BaseModel):
    """Every finding, in the order of importance."""

    findings: list[RuleAnswer]


def list_answer():
    """Return the JSON object of all findings."""
    return {"findings": [_answer(rule, EXAMPLES[code]) for code, rule in RULES.items()]}


def _answer(rule, example):
    """Return one finding."""
    told = {name: getattr(rule, name) for name in RuleAnswer.model_fields if name != "example"}
    shown = {name: getattr(example, name) for name in ExampleAnswer.model_fields}
    return told | {"severities": list(rule.severities), "example": shown}
