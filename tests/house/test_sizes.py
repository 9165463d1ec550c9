"""How large a file may grow before it is split."""

import ast
import io
import tokenize

import pytest

from tests.tree import ROOT, project_files

NOT_CODE = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENDMARKER,
}


def code_lines(source: str) -> int:
    """Return how many lines of Python `source` are neither blank, comment nor docstring."""
    tokens = tokenize.generate_tokens(io.StringIO(source).readline)
    code = {line for t in tokens if t.type not in NOT_CODE for line in range(t.start[0], t.end[0] + 1)}
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if ast.get_docstring(node, clean=False) is not None else None
            code -= set(range(first.lineno, first.end_lineno + 1)) if first else set()
    return len(code)


def all_lines(source: str) -> int:
    """Return how many lines `source` has."""
    return len(source.splitlines())


@pytest.mark.parametrize(
    ("folder", "suffix", "count", "limit"),
    [
        ("engine", ".py", code_lines, 400),
        ("webapp", ".py", code_lines, 250),
        ("templates", ".html", all_lines, 120),
        ("static", ".css", all_lines, 400),
        ("static", ".js", all_lines, 150),
    ],
)
def test_no_file_outgrows_its_limit(folder, suffix, count, limit, capsys):
    paths = [path for path in project_files() if path.is_relative_to(ROOT / folder) and path.suffix == suffix]
    sizes = sorted(((count(path.read_text()), path.relative_to(ROOT)) for path in paths), reverse=True)

    with capsys.disabled():
        print(f"\n{folder}/**{suffix}, at most {limit}:", *(f"{path} {size}," for size, path in sizes[:5]))
    assert [path for size, path in sizes if size > limit] == []


def test_code_lines_leave_out_blanks_comments_and_docstrings():
    source = '"""Two\nlines."""\n\n# why\nA = (\n    1,\n)\n\n\ndef f():\n    """Doc."""\n    return A  # note\n'

    assert code_lines(source) == 5
