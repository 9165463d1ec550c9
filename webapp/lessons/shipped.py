"""Lessons that come with Lightgap: TOML files in the folder `ready`, read once."""

import tomllib
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from webapp.lessons.lesson import Lesson, lesson_from

FOLDER = Path(__file__).with_name("ready")


@lru_cache(maxsize=1)
def shipped_lessons() -> MappingProxyType:
    """Return name, as its address has it, to lesson."""
    read = ((path.stem, tomllib.loads(path.read_text(encoding="utf-8"))) for path in sorted(FOLDER.glob("*.toml")))
    return MappingProxyType({name: lesson_from(data) for name, data in read})


def shipped(name: str) -> Lesson | None:
    """Return the lesson of a name, None where there is none."""
    return shipped_lessons().get(name)
