"""The page of findings: what is asked of every stage, why, by what limit, and a stage that raises it."""

from dataclasses import dataclass

from engine import EXAMPLES, RULES
from webapp.present.results import SIGNS
from webapp.terms import terms_said


@dataclass(frozen=True, slots=True)
class RuleView:
    """A finding as documented.

    Attributes
    ----------
    code : str
        Stable name.
    title : str
        Name for people.
    asks : str
        The question.
    severities : tuple of (str, str)
        Sign and word of each severity that it may have beside pass.
    rows : tuple of (str, str)
        What else is to be known of it: heading and text.
    raises : str
        Query string of a stage that raises it.
    severity : str
        The severity that it has there.
    inside : str
        Query string of a stage just inside.
    terms : tuple of str
        Symbols of the terms that it speaks of.
    """

    code: str
    title: str
    asks: str
    severities: tuple
    rows: tuple
    raises: str
    severity: str
    inside: str
    terms: tuple


def rule_views():
    """Return every finding as documented, in the order of importance."""
    return tuple(_view(rule, EXAMPLES[code]) for code, rule in RULES.items())


def _view(rule, example):
    """Return one finding as documented."""
    rows = (
        ("If not", rule.why),
        ("Limit", rule.limit_from),
        ("Worst", rule.worst_where),
        ("Mended by", rule.mends),
    )
    severities = tuple((SIGNS[severity], severity) for severity in rule.severities)
    said = terms_said(" ".join((rule.title.lower(), rule.asks, *(text for _, text in rows))))
    return RuleView(
        rule.code, rule.title, rule.asks, severities, rows, example.raises, example.severity, example.inside,
        tuple(term.symbol for term in said),
    )  # fmt: skip
