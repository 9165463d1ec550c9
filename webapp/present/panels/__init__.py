"""Panels: what is asked of a stage beside its live picture. One is open at a time, and worked out once the hand rests.

A panel is a name, a title, a template below `templates/panels` and a function from a scenario and the panel's own
values (text, by key) to a record that the template prints as `panel`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from engine import Scenario
from webapp.present.panels.bag import bag_panel
from webapp.present.panels.before import before_panel
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
    terms : tuple of str
        Symbols of the terms that it speaks of.
    """

    name: str
    title: str
    template: str
    view: Callable[[Scenario, dict[str, str]], object]
    terms: tuple[str, ...] = ()


def _listed(*panels: Panel) -> dict[str, Panel]:
    return {panel.name: panel for panel in panels}


PANELS = _listed(
    Panel(
        "life", "Will it still work?", "panels/_life.html", life_panel, ("overdrive", "Ageing", "corner", "worst case")
    ),
    Panel(
        "window", "What fits", "panels/_window.html", window_panel, ("corner", "preferred value", "overdrive", "rating")
    ),
    Panel(
        "timing",
        "How fast",
        "panels/_timing.html",
        timing_panel,
        ("delay", "transition", "storage time", "pulse distortion", "signal rate"),
    ),
    Panel(
        "tradeoff",
        "Speed against RL",
        "panels/_tradeoff.html",
        tradeoff_panel,
        ("pull-up", "overdrive", "transition", "signal rate"),
    ),
    Panel("bounce", "Contact bounce", "panels/_bounce.html", bounce_panel, ("bounce", "CF", "highest rate")),
    Panel("off", "Off state", "panels/_off.html", off_panel, ("leakage", "Residual current", "RB", "VF")),
    Panel("step", "Common-mode step", "panels/_step.html", step_panel, ("slope", "C(io)", "CMTI", "barrier")),
    Panel("spread", "Spread", "panels/_spread.html", spread_panel, ("yield", "corner", "tolerance", "bin")),
    Panel("bag", "A bag of couplers", "panels/_bag.html", bag_panel, ("bin", "CTR", "worst case")),
    Panel("curves", "Curves", "panels/_curves.html", curves_panel, ("load line", "knee", "saturation", "margin")),
    Panel("before", "Before and after", "panels/_before.html", before_panel, ("corner", "worst case", "margin")),
)
"""Name to panel, the one that opens by itself first."""
