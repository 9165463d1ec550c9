"""Panels: what is asked of a stage beside its live picture. One is open at a time, and worked out once the hand rests.

A panel is a name, a title, a template below `templates/panels` and a function from a scenario and the panel's own
values (text, by key) to a record that the template prints as `panel`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from engine import Scenario
from webapp.present.panels.life import life_panel


@dataclass(frozen=True, slots=True)
class Panel:
    """One panel.

    Attributes
    ----------
    name : str
        Name in addresses.
    title : str
        What its tab says.
    template : str
        What prints it.
    view : callable
        From a scenario and the panel's own values to the record that is printed.
    """

    name: str
    title: str
    template: str
    view: Callable[[Scenario, dict[str, str]], object]


def _listed(*panels: Panel) -> dict[str, Panel]:
    return {panel.name: panel for panel in panels}


PANELS = _listed(
    Panel("life", "Will it still work?", "panels/_life.html", life_panel),
)
"""Name to panel, the one that opens by itself first."""
