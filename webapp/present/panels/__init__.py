"""Panels: what is asked of a stage beside its live picture. One is open at a time, and worked out once the hand rests.

A panel is a name, a title, a template below `templates/panels` and a function from a scenario and the panel's own
values (text, by key) to a record that the template prints as `panel`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from engine import Scenario
from webapp.present.panels.bag import bag_panel
from webapp.present.panels.bounce import bounce_panel
from webapp.present.panels.curves import curves_panel
from webapp.present.panels.life import life_panel
from webapp.present.panels.off import off_panel
from webapp.present.panels.spread import spread_panel
from webapp.present.panels.step import step_panel
from webapp.present.panels.timing import timing_panel
from webapp.present.panels.tradeoff import tradeoff_panel
from webapp.present.panels.window import window_panel


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
    Panel("window", "What fits", "panels/_window.html", window_panel),
    Panel("timing", "How fast", "panels/_timing.html", timing_panel),
    Panel("tradeoff", "Speed against RL", "panels/_tradeoff.html", tradeoff_panel),
    Panel("bounce", "Contact bounce", "panels/_bounce.html", bounce_panel),
    Panel("off", "Off state", "panels/_off.html", off_panel),
    Panel("step", "Common-mode step", "panels/_step.html", step_panel),
    Panel("spread", "Spread", "panels/_spread.html", spread_panel),
    Panel("bag", "A bag of couplers", "panels/_bag.html", bag_panel),
    Panel("curves", "Curves", "panels/_curves.html", curves_panel),
)
"""Name to panel, the one that opens by itself first."""
