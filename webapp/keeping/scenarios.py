"""Scenarios as they are kept: what was typed is tried out by the engine, and written as one documented shape."""

import json
import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime

from engine import ConvergenceError, Scenario, ScenarioError, operating_point, query_from, scenario_from_query
from webapp.keeping.documents import DocumentError, Revision, titled
from webapp.keeping.notes import LONGEST_NOTES
from webapp.store.hunts import LONGEST_SCENARIO

KIND = "scenario"
"""What these documents are."""

FORMAT = "lightgap-scenario"
"""What a file says that it is."""

VERSION = 1
"""Which shape a file has."""

_TEXTS = ("title", "notes", "scenario")
_ASIDE = ("id", "revision", "at")
"""Members that a file tells of where it came from; they are left aside when it is read."""

UNSOLVED = "This stage cannot be solved."


@dataclass(frozen=True, slots=True)
class Written:
    """A scenario that may be kept.

    Attributes
    ----------
    title : str
        What it is called.
    notes : str
        What there is to say, in simple Markdown.
    query : str
        Canonical query string.
    """

    title: str
    notes: str
    query: str

    @property
    def body(self) -> dict:
        """What is kept beside the title."""
        return {"notes": self.notes, "scenario": self.query}


def written(title: str, notes: str, query: str) -> Written:
    """Return what may be kept of what was typed, the scenario tried out and in its canonical form.

    Raises DocumentError with every field that cannot be.
    """
    found, wrong = {}, {}
    for field, read, text in (("title", titled, title), ("notes", _noted, notes), ("scenario", _canonical, query)):
        try:
            found[field] = read(text)
        except DocumentError as error:
            wrong[field] = " ".join(error.wrong.values())
    if wrong:
        raise DocumentError(wrong)
    return Written(found["title"], found["notes"], found["scenario"])


def _noted(text):
    """Return notes with plain ends of lines."""
    found = text.replace("\r\n", "\n").replace("\r", "\n").strip()
    if len(found) > LONGEST_NOTES:
        raise DocumentError({"notes": f"This is longer than {LONGEST_NOTES} characters."})
    if any(unicodedata.category(c) in ("Cc", "Cs", "Cn", "Co") for c in found if c not in "\n\t"):
        raise DocumentError({"notes": "There is a character that cannot be shown."})
    return found


def _canonical(text):
    """Return the canonical query string of a scenario that can be solved."""
    text = text.strip()
    if len(text) > LONGEST_SCENARIO:
        raise DocumentError({"scenario": f"This is longer than {LONGEST_SCENARIO} characters."})
    try:
        scenario = scenario_from_query(text)
        operating_point(scenario)
    except ScenarioError as error:
        told = " ".join(f"{p.field or 'address'}: {p.reason}; accepted: {p.accepted}." for p in error.problems)
        raise DocumentError({"scenario": told[:1000]}) from error
    except ConvergenceError as error:
        raise DocumentError({"scenario": UNSOLVED}) from error
    query = query_from(scenario)
    if len(query) > LONGEST_SCENARIO:
        raise DocumentError({"scenario": f"This is longer than {LONGEST_SCENARIO} characters."})
    return query


def held(revision: Revision) -> Written:
    """Return the scenario of a revision as it was kept."""
    return Written(revision.title, revision.body["notes"], revision.body["scenario"])


def scenario_of(revision: Revision) -> Scenario:
    """Return the scenario of a revision; raises ScenarioError where this version cannot read it."""
    return scenario_from_query(revision.body["scenario"])


def exported(revision: Revision) -> dict:
    """Return a revision in the shape of a file."""
    kept = held(revision)
    return {
        "format": FORMAT,
        "version": VERSION,
        "title": kept.title,
        "notes": kept.notes,
        "scenario": kept.query,
        "id": revision.document,
        "revision": revision.number,
        "at": datetime.fromtimestamp(revision.at, UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
    }


def read_text(text: str, whole: bool = True) -> Written:
    """Return the scenario in the text of a file.

    Parameters
    ----------
    text : str
        The text, JSON.
    whole : bool
        Whether it must say its format and version.

    Raises
    ------
    DocumentError
        With every member that is missing, unknown or wrong; the field "" is the text as a whole.
    """
    try:
        sent = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise DocumentError({"": "This is no JSON."}) from error
    if not isinstance(sent, dict):
        raise DocumentError({"": "This is not one JSON object."})
    wrong = _misshapen(sent, whole)
    if wrong:
        raise DocumentError(wrong)
    return written(sent["title"], sent.get("notes", ""), sent["scenario"])


def _misshapen(sent, whole):
    """Return member of an object to what is wrong with it, whatever it says."""
    wrong = {}
    if whole or "format" in sent:
        if sent.get("format") != FORMAT:
            wrong["format"] = f'It is not "{FORMAT}".'
        elif type(sent.get("version")) is not int or sent["version"] != VERSION:
            wrong["version"] = f"It is not {VERSION}, the one version that is read."
    for name in _TEXTS:
        if name not in sent and name != "notes":
            wrong[name] = "It is missing."
        elif not isinstance(sent.get(name, ""), str):
            wrong[name] = "It is not a text."
    for name in sent.keys() - {"format", "version", *_TEXTS, *_ASIDE}:
        wrong[_plain(name)] = "There is no such member."
    return wrong


def _plain(name):
    """Return the name of a member as it can be shown."""
    return "".join(c if c.isprintable() else "?" for c in name[:40]) or "?"
