"""The docstrings of the engine, and the checker that reads them."""

import ast

import pytest

from tests.house.docstrings import complaints, names_a_source
from tests.tree import ROOT, project_files

ENGINE = ROOT / "engine"
MODULES = [path for path in project_files() if path.is_relative_to(ENGINE) and path.suffix == ".py"]
FORMULAS = (
    "constants.py",
    "numerics.py",
    "preferred.py",
    "ageing.py",
    "thermal.py",
    "devices/*.py",
    "coupler/led.py",
    "coupler/transistor.py",
)

GOOD = '''"""Drops over resistors."""


@dataclass(frozen=True)
class Resistor:
    """A resistor.

    Attributes
    ----------
    name : str
        Its reference.
    R : float
        Resistance [ohm].
    """

    name: str
    R: float
    _cache: dict
    COUNT: ClassVar[int] = 0

    @property
    def conductance(self):
        """Conductance [S]."""
        return 1 / self.R


def drop(I, *, R=1.0):
    """Return the drop over a resistor.

    Parameters
    ----------
    I : ndarray, shape (batch,)
        Current, positive into
        the first terminal [A].
    R : float or ndarray
        Resistance [ohm].

    Returns
    -------
    V : ndarray, shape (batch,)
        Drop [V].
    positive : ndarray of bool
        Where it is positive.

    Raises
    ------
    ScenarioError
        When the resistance is negative.
    """
    if R < 0:
        raise ScenarioError(R)
    return I * R, I > 0


def _private(a, b):
    return a + b
'''

SHAPE_SECTIONS = """
        Parameters
        ----------
        scale : float
            Factor on each side [-].

        Returns
        -------
        float
            Area [m^2].
"""

SHAPE = f'''

class Shape:
    """Something flat."""

    def area(self, scale):
        """Return its area.
{SHAPE_SECTIONS}
        """
        return scale**2
'''


def engine_errors() -> frozenset[str]:
    """Return the names of the classes in `engine/errors.py`."""
    path = ENGINE / "errors.py"
    tree = ast.parse(path.read_text() if path.is_file() else "")
    return frozenset(node.name for node in tree.body if isinstance(node, ast.ClassDef))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_docstrings_are_complete(path):
    found = complaints(path.read_text(), engine_errors())

    assert not found, "\n".join(found)


@pytest.mark.parametrize("pattern", FORMULAS)
def test_formulas_have_a_source(pattern):
    modules = [path for path in ENGINE.glob(pattern) if path.name != "__init__.py"]

    assert [path.name for path in modules if not names_a_source(path.read_text())] == []


def test_a_complete_module_passes():
    assert complaints(GOOD, frozenset({"ScenarioError"})) == []


def test_a_method_is_documented_in_full_once():
    brief = SHAPE.replace("Shape", "Square").replace(SHAPE_SECTIONS, "")

    assert complaints(f'"""Shapes."""\n{SHAPE}{brief}') == []
    assert complaints(f'"""Shapes."""\n{brief}{SHAPE}') == [
        "Square.area: arguments are (scale), documented are ()",
        "Square.area: no section Returns",
    ]


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ('"""Drops over resistors."""', "", "module: no docstring"),
        ('    """Conductance [S]."""\n', "", "Resistor.conductance: no docstring"),
        ("    R: float\n", "", "Resistor: fields are (name), documented are (name, R)"),
        (
            "    name: str\n    R: float\n",
            "    R: float\n    name: str\n",
            "Resistor: fields are (R, name), documented are (name, R)",
        ),
        ('Resistance [ohm].\n    """', 'Resistance.\n    """', "Resistor: 'R : float' ends without a unit"),
        ("*, R=1.0", "*, R=1.0, T", "drop: arguments are (I, R, T), documented are (I, R)"),
        ("the first terminal [A].", "the first terminal.", "drop: 'I : ndarray, shape (batch,)' ends without a unit"),
        ("Drop [V].", "Drop [V] over it.", "drop: 'V : ndarray, shape (batch,)' ends without a unit"),
        ("Returns\n    -------", "Results\n    -------", "drop: no section Returns"),
        ("Raises\n    ------", "Errors\n    ------", "drop: ScenarioError is not in section Raises"),
        ("def _private", "def public", "public: no docstring"),
    ],
)
def test_what_is_missing_is_named(old, new, complaint):
    source = GOOD.replace(old, new, 1)

    assert source != GOOD
    assert complaints(source, frozenset({"ScenarioError"})) == [complaint]


@pytest.mark.parametrize("text", ["derived here", "Common practice, no source", "References\n----------\nA book."])
def test_a_source_is_recognised(text):
    assert names_a_source(f'"""Formulas.\n\n{text}\n"""')


def test_no_source_is_recognised():
    assert not names_a_source('"""Formulas of high reference."""')
