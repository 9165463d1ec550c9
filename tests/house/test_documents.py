"""The documents name what there is: fields, quantities, kinds, findings, routes, commands."""

import re

import pytest

from engine import (
    EXAMPLES,
    INPUTS,
    KEYS,
    OUTPUTS,
    card_names,
    findings_of,
    operating_point,
    scenario_from_query,
)
from engine.findings import RULES
from tests.tree import ROOT
from webapp.app import create_app
from webapp.settings import Settings
from webapp.words import WORDS

GUIDE = (ROOT / "DEVELOPERS.md").read_text()
CODES = set(re.findall(r"`([^`\n]+)`", GUIDE))


@pytest.mark.parametrize("key", sorted(KEYS))
def test_every_field_is_in_the_glossary(key):
    rows = re.findall(r"^\| (`[^|]+`) \|", GUIDE, flags=re.MULTILINE)
    assert any(f"`{key}`" in row for row in rows)


def test_every_field_of_the_glossary_exists():
    table = GUIDE.split("| field | symbol |")[1].split("\n\n")[0]
    rows = [re.findall(r"`([^`]+)`", row.split("|")[1]) for row in table.splitlines()[2:]]
    assert {key for row in rows for key in row} == set(KEYS)


def test_every_field_has_words_in_the_form():
    assert set(WORDS) == set(KEYS) - {"in", "out"}


@pytest.mark.parametrize("query", ["", "in=logic&out=indicator"])
def test_every_quantity_is_in_the_glossary(query):
    point = operating_point(scenario_from_query(query))
    assert {name for state in point.states.values() for name in state.quantities} <= CODES


def test_every_kind_and_card_is_named():
    assert {*INPUTS, *OUTPUTS, *card_names()} <= CODES


def test_every_finding_is_documented_in_data_and_made_under_its_name():
    assert list(EXAMPLES) == list(RULES)
    texts = ("title", "asks", "why", "limit_from", "worst_where", "mends")
    assert [c for c, r in RULES.items() if c != r.code or not all(getattr(r, text).strip() for text in texts)] == []
    made = {
        f.code
        for example in EXAMPLES.values()
        for f in findings_of(operating_point(scenario_from_query(example.raises)), remedies=False)
    }
    assert made == set(RULES)
    assert "the page `/findings`" in GUIDE


def test_every_route_is_listed():
    app = create_app(Settings())
    listed = dict(re.findall(r"^\| `(/[^`]*)` \| (\w+) \|", GUIDE, flags=re.MULTILINE))
    paths = {path for path in _paths(app.routes) if not path.startswith(("/openapi", "/static"))}
    assert paths == set(listed)


def _paths(routes):
    for route in routes:
        if hasattr(route, "path"):
            yield route.path
        else:
            yield from _paths(route.original_router.routes)


def test_readme_names_the_two_commands_and_opens_with_the_job():
    text = (ROOT / "README.md").read_text()
    assert "```\nmake run\n```" in text
    assert "```\nmake test\n```" in text
    first = text.split("\n\n")[1]
    assert first.startswith("Someone has to carry a signal across a voltage boundary")
