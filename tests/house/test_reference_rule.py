"""The rule of `tests/reference`: no expected value without an origin."""

import pytest

from tests.tree import ROOT

pytest_plugins = ["pytester"]


@pytest.fixture
def collect(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch):
    """Collect one test of a reference folder, marked as given."""
    monkeypatch.setenv("PYTEST_DISABLE_PLUGIN_AUTOLOAD", "1")
    folder = pytester.mkdir("reference")
    (folder / "conftest.py").write_text((ROOT / "tests/reference/conftest.py").read_text())

    def collect_marked(mark: str) -> pytest.RunResult:
        (folder / "test_value.py").write_text(f"import pytest\n\n{mark}\ndef test_value():\n    assert True\n")
        return pytester.runpytest_inprocess("--collect-only", "-W", "ignore::pytest.PytestUnknownMarkWarning")

    return collect_marked


@pytest.mark.parametrize(
    "mark",
    [
        '@pytest.mark.source("A. Author, A title, 1999, table 3")',
        '@pytest.mark.no_source("common practice")',
        "@pytest.mark.from_memory",
    ],
)
def test_origin_is_accepted(collect, mark):
    assert collect(mark).ret == pytest.ExitCode.OK


@pytest.mark.parametrize(
    ("mark", "complaint"),
    [
        ("", "*test_value is marked with none of source, no_source, from_memory"),
        ("@pytest.mark.regression", "*test_value is marked with none of source, no_source, from_memory"),
        ("@pytest.mark.source", "*test_value has an empty mark source"),
        ('@pytest.mark.source(" ")', "*test_value has an empty mark source"),
        ("@pytest.mark.no_source()", "*test_value has an empty mark no_source"),
    ],
)
def test_missing_origin_stops_collection(collect, mark, complaint):
    result = collect(mark)

    assert result.ret == pytest.ExitCode.USAGE_ERROR
    result.stderr.fnmatch_lines([complaint])
