"""Every test in this folder tells where its expected value comes from, or collection fails."""

from pathlib import Path

import pytest

ORIGINS = ("source", "no_source", "from_memory")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Stop before the first test when one of this folder has no origin."""
    here = [item for item in items if item.path.is_relative_to(Path(__file__).parent)]
    complaints = [f"{item.nodeid} {complaint}" for item in here if (complaint := _complaint(item))]
    if complaints:
        raise pytest.UsageError(*complaints)


def _complaint(item: pytest.Item) -> str | None:
    """Return what is wrong with the origin of `item`, if anything."""
    marks = [mark for mark in item.iter_markers() if mark.name in ORIGINS]
    if not marks:
        return f"is marked with none of {', '.join(ORIGINS)}"
    for mark in marks:
        text = "".join(argument for argument in mark.args if isinstance(argument, str))
        if mark.name != "from_memory" and not text.strip():
            return f"has an empty mark {mark.name}"
    return None
