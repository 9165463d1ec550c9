"""The tour: twelve experiments on real stages, every figure of which is worked out when it is shown.

Texts and stages stand in `tour.toml`; `webapp.present.tour_figures` reads what they name.
"""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from urllib.parse import urlencode

from engine import Scenario, pairs_from, query_from, scenario_from, scenario_from_query
from webapp.present.tour_figures import figure_texts


@dataclass(frozen=True, slots=True)
class Experiment:
    """One experiment, as written.

    Attributes
    ----------
    number : int
        Place in the tour, from 1 on.
    title : str
        Its name.
    stage : str
        Query string of the stage that opens.
    about : str
        What is set up.
    predict : str
        What to foretell.
    drag : str
        What to do.
    notice : str
        What to look at.
    now : str
        What it comes to.
    read : dict of str to dict
        Name of a figure in the texts to what it is.
    tries : tuple of (str, str)
        What else to open: words, and what differs from the stage.
    shows : str
        Panel that is open, with its values, as a query string; empty for the usual one.
    readings : tuple of (str, str, float)
        What a meter shows: point, state, value [V].
    """

    number: int
    title: str
    stage: str
    about: str
    predict: str
    drag: str
    notice: str
    now: str
    read: dict
    tries: tuple = ()
    shows: str = ""
    readings: tuple = ()

    @property
    def scenario(self) -> Scenario:
        """Return the stage that opens."""
        return scenario_from_query(self.stage)

    def changed(self, query: str) -> Scenario:
        """Return the stage with what differs from it."""
        return changed(self.stage, query)


@dataclass(frozen=True, slots=True)
class ExperimentView:
    """One experiment as printed.

    Attributes
    ----------
    number : int
        Place in the tour, from 1 on.
    title : str
        Its name.
    query : str
        Query string of the stage.
    about : str
        What is set up.
    predict : str
        What to foretell.
    drag : str
        What to do.
    notice : str
        What to look at.
    now : str
        What it comes to.
    tries : tuple of (str, str)
        What else to open: words and query string, with the panel.
    bench : str
        Query string of the bench sheet with its readings; empty where it has none.
    before : Experiment or None
        The one before.
    after : Experiment or None
        The one after.
    """

    number: int
    title: str
    query: str
    about: str
    predict: str
    drag: str
    notice: str
    now: str
    tries: tuple
    bench: str
    before: Experiment | None
    after: Experiment | None


def changed(stage: str, query: str) -> Scenario:
    """Return the stage of a query string with the pairs of another one in place of its own."""
    return scenario_from(list((dict(pairs_from(scenario_from_query(stage))) | _pairs(query)).items()))


def _pairs(query):
    """Return what a query string of plain words says."""
    return dict(pair.split("=", 1) for pair in query.split("&")) if query else {}


def _joined(*queries):
    """Return query strings as one."""
    return "&".join(filter(None, queries))


def _read():
    """Return the experiments of the file."""
    listed = tomllib.loads((Path(__file__).parent / "tour.toml").read_text(encoding="utf-8"))["experiments"]
    lists = ("tries", "readings")
    return tuple(
        Experiment(number, **{key: tuple(map(tuple, value)) if key in lists else value for key, value in one.items()})
        for number, one in enumerate(listed, 1)
    )


EXPERIMENTS = _read()
"""The tour."""


@lru_cache(maxsize=len(EXPERIMENTS))
def experiment_view(number: int) -> ExperimentView:
    """Return one experiment as printed, every figure worked out; raises IndexError where the tour has none of it."""
    one = EXPERIMENTS[number - 1]
    figures = figure_texts(one)
    query = query_from(one.scenario)
    readings = [(f"r.{point}.{state}", f"{value:g}V") for point, state, value in one.readings]
    return ExperimentView(
        number=number,
        title=one.title,
        query=query,
        about=one.about.format_map(figures),
        predict=one.predict,
        drag=one.drag,
        notice=one.notice,
        now=one.now.format_map(figures),
        tries=tuple((words, _joined(query_from(one.changed(differs)), one.shows)) for words, differs in one.tries),
        bench=_joined(query, urlencode(readings)) if readings else "",
        before=EXPERIMENTS[number - 2] if number > 1 else None,
        after=EXPERIMENTS[number] if number < len(EXPERIMENTS) else None,
    )
