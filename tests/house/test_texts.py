"""What no file of the project says."""

import re

import pytest

from tests.tree import ROOT, project_files

# Written in pieces, so that this file does not hold what it looks for.
FOREIGN = re.compile("seed" r"\s+document|trans" "cript", re.IGNORECASE)
SET_UP = re.compile(r"Makefile|\.ci/.*|\.npmrc|package(-lock)?\.json|pyproject\.toml|requirements.*\.(lock|txt|in)")
ADDRESS = re.compile(r"\w+://|^--?(index|extra-index|find-links|registry)", re.MULTILINE)


def text_of(path) -> str:
    return path.read_text(encoding="utf-8", errors="replace")


def test_texts_speak_of_the_product_alone():
    assert [path for path in project_files() if FOREIGN.search(text_of(path))] == []


def test_set_up_files_name_no_address():
    set_up = [path for path in project_files() if SET_UP.fullmatch(path.relative_to(ROOT).as_posix())]

    assert set_up
    assert [path for path in set_up if ADDRESS.search(text_of(path))] == []


@pytest.mark.parametrize("text", ["index = https://example.org/simple", "--find-links wheels"])
def test_addresses_are_recognised(text):
    assert ADDRESS.search(text)
