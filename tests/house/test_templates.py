"""Templates print what they are given: no arithmetic, no script or style of their own, nothing from elsewhere."""

import re

import pytest
from jinja2 import nodes

from tests.tree import ROOT, project_files
from webapp.assets import load_assets
from webapp.render import make_templates

TEMPLATES = ROOT / "templates"
NAMES = [p.relative_to(TEMPLATES).as_posix() for p in project_files() if p.is_relative_to(TEMPLATES)]
SENT = [p for p in project_files() if p.is_relative_to(TEMPLATES) or p.is_relative_to(ROOT / "static")]
TEXTS = [p for p in SENT if p.suffix in {".html", ".css", ".js", ".svg"}]

ARITHMETIC = (nodes.Add, nodes.Sub, nodes.Mul, nodes.Div, nodes.FloorDiv, nodes.Mod, nodes.Pow)
NUMBER_FILTERS = {"abs", "filesizeformat", "format", "round", "sum"}
JINJA = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
INLINE = re.compile(r"\s(?:style|on\w+|hx-on[\w:.-]*)\s*=|<style\b|<script\b(?![^>]*\ssrc\s*=)", re.IGNORECASE)
ELSEWHERE = re.compile(r"""https?://(?!www\.w3\.org/)[^\s"')]+|["'(]//\w""", re.IGNORECASE)


@pytest.fixture(scope="module")
def environment():
    return make_templates(load_assets()).env


def computing(environment, source: str) -> list[str]:
    """Return what `source` works out instead of printing."""
    tree = environment.parse(source)
    found = [f"line {node.lineno}: {type(node).__name__}" for node in tree.find_all(ARITHMETIC)]
    filters = [node for node in tree.find_all(nodes.Filter) if node.name in NUMBER_FILTERS]
    return found + [f"line {node.lineno}: |{node.name}" for node in filters]


@pytest.mark.parametrize("name", NAMES)
def test_template_compiles(environment, name):
    assert environment.get_template(name)


@pytest.mark.parametrize("name", [name for name in NAMES if not name.startswith("macros/")])
def test_template_computes_nothing(environment, name):
    assert computing(environment, (TEMPLATES / name).read_text()) == []


@pytest.mark.parametrize("name", NAMES)
def test_template_has_no_inline_style_or_script(name):
    assert INLINE.findall(JINJA.sub("", (TEMPLATES / name).read_text())) == []


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_nothing_comes_from_elsewhere(path):
    assert ELSEWHERE.findall(path.read_text()) == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("{{ a + 1 }}", ["line 1: Add"]),
        ("\n{% set b = a / 2 %}", ["line 2: Div"]),
        ("{{ a|round(2) }}", ["line 1: |round"]),
        ("{{ '%.2f'|format(a) }}", ["line 1: |format"]),
        ("{{ a ~ ' ' ~ b|upper }}", []),
    ],
)
def test_computing_is_recognised(environment, source, found):
    assert computing(environment, source) == found


@pytest.mark.parametrize("source", ['<p style="x">', '<b onclick="x">', '<b hx-on:click="x">', "<style>", "<script>"])
def test_inline_is_recognised(source):
    assert INLINE.search(source)


@pytest.mark.parametrize("source", ['<script type="module" src="x">', '<b data-on="x">', '<svg font-style="x">'])
def test_other_markup_is_not_inline(source):
    assert not INLINE.search(source)


@pytest.mark.parametrize("source", ["url(https://example.org/a.css)", 'src="//example.org/a.js"'])
def test_elsewhere_is_recognised(source):
    assert ELSEWHERE.search(source)
