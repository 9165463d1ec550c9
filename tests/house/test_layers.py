"""The import contracts of `pyproject.toml`."""

import subprocess
import sys
from pathlib import Path

from tests.tree import ROOT


def test_contracts_are_kept():
    lint_imports = Path(sys.executable).with_name("lint-imports")
    result = subprocess.run([lint_imports, "--no-cache", "--no-logo"], cwd=ROOT, capture_output=True, text=True)

    assert result.returncode == 0, result.stdout + result.stderr
