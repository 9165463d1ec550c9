"""What the settings of ruff refuse in the product; `make lint` applies them to all of it."""

import re
import subprocess
import sys

import pytest

from tests.tree import ROOT


def codes_for(body: str, path: str) -> set[str]:
    """Return the codes of ruff's complaints about a function with `body`, were it in the file `path`."""
    source = f'"""Sample."""\n\n\ndef sample():\n    """Return nothing."""\n    {body}\n'
    command = [sys.executable, "-m", "ruff", "check", "--output-format=concise", "--stdin-filename", path, "-"]
    result = subprocess.run(command, input=source, cwd=ROOT, capture_output=True, text=True)
    return set(re.findall(r"^\S+:\d+:\d+: (\w+)", result.stdout, re.MULTILINE))


@pytest.mark.parametrize("path", ["engine/sample.py", "engine/devices/sample.py", "webapp/sample.py"])
@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("assert sample", "S101"),
        ("print(sample)", "T201"),
        ("try:\n        sample()\n    except:\n        return", "E722"),
        ("try:\n        sample()\n    except Exception:\n        return", "BLE001"),
    ],
)
def test_refused_in_the_product(path, body, code):
    assert codes_for(body, path) == {code}


def test_the_command_may_print():
    assert codes_for("print(sample)", "webapp/__main__.py") == set()


@pytest.mark.parametrize("path", ["engine/sample.py", "tests/engine/test_sample.py"])
def test_trade_symbols_are_names(path):
    assert codes_for("IF = VCE_sat = 1\n    return IF + VCE_sat", path) == set()
