"""Reads the docstrings of a module and tells what the house style misses in them.

Asked of every public function and class: a docstring whose sections name the arguments, fields and errors as the
code does, in its order; and behind everything numeric a unit in brackets, such as [V], or [-] for a pure number.
A method that a class further up documents in full, with the same arguments, needs no more than a sentence.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass

FUNCTION = ast.FunctionDef | ast.AsyncFunctionDef
DEFINITION = FUNCTION | ast.ClassDef
HEADING = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)
SOURCE = re.compile(r"^References\n-{3,}$|[Dd]erived here|[Cc]ommon practice", re.MULTILINE)
NUMERIC = re.compile(r"\b(?:float|ndarray|array)\b")
NOT_NUMERIC = re.compile(r"\b(?:bool|int|str|dict|mapping|callable|object)\b", re.IGNORECASE)
UNIT_AT_END = re.compile(r"\[[^\[\]]+\]\.?$")


def complaints(source: str, own_errors: frozenset[str] = frozenset()) -> list[str]:
    """Return one line for each thing that the docstrings of the module `source` miss."""
    tree = ast.parse(source)
    in_full: set[str] = set()  # methods that a class further up documents in full
    found = [] if ast.get_docstring(tree) else ["module: no docstring"]
    for node in _public(tree.body):
        found += _named(node.name, _in_definition(node, own_errors))
        for method in _public(node.body) if isinstance(node, ast.ClassDef) else ():
            signature = f"{method.name}({ast.unparse(method.args)})"
            missing = list(_in_definition(method, own_errors, bound=True))
            if signature not in in_full or ast.get_docstring(method) is None:
                found += _named(f"{node.name}.{method.name}", missing)
            if not missing:
                in_full.add(signature)
    return found


def names_a_source(source: str) -> bool:
    """Return whether some docstring of the module `source` says where its formulas come from."""
    nodes = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Module | DEFINITION)]
    return any(SOURCE.search(ast.get_docstring(node) or "") for node in nodes)


def _public(body: list[ast.stmt]) -> list[DEFINITION]:
    """Return the functions and classes in `body` whose names have no leading underscore."""
    return [node for node in body if isinstance(node, DEFINITION) and not node.name.startswith("_")]


def _named(name: str, missing: Iterator[str]) -> list[str]:
    return [f"{name}: {what}" for what in missing]


# ---------------------------------------------------------------- what the docstring of one definition misses


def _in_definition(node: DEFINITION, own_errors: frozenset[str], bound: bool = False) -> Iterator[str]:
    """Yield what the docstring of a definition misses; `bound` is a function whose first argument is its instance."""
    docstring = ast.get_docstring(node)
    if docstring is None:
        yield "no docstring"
    elif isinstance(node, ast.ClassDef):
        yield from _in_class(node, sections(docstring))
    else:
        yield from _in_function(node, sections(docstring), own_errors, bound)


def _in_class(node: ast.ClassDef, documented: "Sections") -> Iterator[str]:
    """Yield what is missed of the fields, or of the arguments of an initialiser where the class writes one."""
    initialisers = [n for n in node.body if isinstance(n, FUNCTION) and n.name == "__init__"]
    wanted = _arguments(initialisers[0], bound=True) if initialisers else _fields(node)
    entries = documented.get("Attributes", []) + documented.get("Parameters", [])
    yield from _wrong_names("fields", wanted, entries)
    yield from _missing_units(entries)


def _in_function(node: FUNCTION, documented: "Sections", own_errors: frozenset[str], bound: bool) -> Iterator[str]:
    """Yield what is missed of the arguments, the result and the errors raised."""
    decorators = {ast.unparse(decorator) for decorator in node.decorator_list}
    statements = list(_own_statements(node))
    arguments = documented.get("Parameters", [])
    results = documented.get("Returns", []) + documented.get("Yields", [])
    yield from _wrong_names("arguments", _arguments(node, bound and "staticmethod" not in decorators), arguments)
    if not results and any(map(_gives_result, statements)) and not decorators & {"property", "cached_property"}:
        yield "no section Returns"
    yield from _missing_units(arguments + results)
    raised = {_called_name(statement.exc) for statement in statements if isinstance(statement, ast.Raise)}
    told = {name for entry in documented.get("Raises", []) for name in entry.names}
    yield from (f"{error} is not in section Raises" for error in sorted((raised & own_errors) - told))


def _wrong_names(what: str, wanted: list[str], entries: list["Entry"]) -> Iterator[str]:
    names = [name for entry in entries for name in entry.names]
    if names != wanted:
        yield f"{what} are ({', '.join(wanted)}), documented are ({', '.join(names)})"


def _missing_units(entries: list["Entry"]) -> Iterator[str]:
    return (f"'{entry.head}' ends without a unit" for entry in entries if entry.misses_unit)


# ---------------------------------------------------------------- what the code has


def _arguments(node: FUNCTION, bound: bool) -> list[str]:
    """Return the names of the arguments in their order, without the first of a `bound` function."""
    spec = node.args
    positional = [*spec.posonlyargs, *spec.args]
    rest = [spec.vararg, *spec.kwonlyargs, spec.kwarg]
    return [argument.arg for argument in [*positional[bound:], *rest] if argument]


def _fields(node: ast.ClassDef) -> list[str]:
    """Return the public annotated names in the body of a class."""
    annotated = [n for n in node.body if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name)]
    fields = [n.target.id for n in annotated if "ClassVar" not in ast.unparse(n.annotation)]
    return [name for name in fields if not name.startswith("_")]


def _own_statements(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what stands in a function, without what stands in functions inside it."""
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, DEFINITION | ast.Lambda):
            yield child
            yield from _own_statements(child)


def _gives_result(statement: ast.AST) -> bool:
    if isinstance(statement, ast.Return):
        return statement.value is not None and ast.unparse(statement.value) != "None"
    return isinstance(statement, ast.Yield | ast.YieldFrom)


def _called_name(expression: ast.expr | None) -> str:
    """Return "E" for `E(...)`, `E` and `module.E(...)`, and "" for nothing."""
    function = expression.func if isinstance(expression, ast.Call) else expression
    return ast.unparse(function).rpartition(".")[2] if function else ""


# ---------------------------------------------------------------- what the docstring says


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a section: its first line, and the indented text below it."""

    head: str
    text: str

    @property
    def names(self) -> list[str]:
        """What the entry documents."""
        return [name.strip().lstrip("*") for name in self.head.partition(" :")[0].split(",")]

    @property
    def misses_unit(self) -> bool:
        """Whether the type, which in a result may stand without a name, wants a unit that is not there."""
        kind = self.head.rpartition(" : ")[2]
        numeric = NUMERIC.search(kind) and not NOT_NUMERIC.search(kind)
        return bool(numeric) and not UNIT_AT_END.search(self.text)


Sections = dict[str, list[Entry]]


def sections(docstring: str) -> Sections:
    """Return the entries of each section."""
    _, *parts = HEADING.split(docstring)
    return {heading: _entries(text) for heading, text in zip(parts[::2], parts[1::2], strict=True)}


def _entries(text: str) -> list[Entry]:
    """Return the entries in the `text` of a section: unindented heads, indented texts."""
    heads = list(re.finditer(r"^\S.*$", text, re.MULTILINE))
    ends = [head.start() for head in heads[1:]] + [len(text)]
    return [Entry(head[0].strip(), text[head.end() : end].strip()) for head, end in zip(heads, ends, strict=True)]
