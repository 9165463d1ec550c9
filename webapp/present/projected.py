"""What a projected stage shows beside its drawing: which panel, which three sliders, what is held to compare with."""

from dataclasses import dataclass

from webapp.present.panels import PANELS

NOTHING, VERDICT, FINDINGS = "nothing", "verdict", "findings"
OWN = {VERDICT: "Verdict", FINDINGS: "Findings", NOTHING: "Schematic alone"}
"""What can be shown that is no panel of the explorer: name to title."""

SHOWN = OWN | {name: panel.title for name, panel in PANELS.items()}
"""Everything that can be shown beside the drawing: name to title."""

_COUNT = 3
_USUAL = ("vs", "vac", "rl", "ctr", "r1", "vcc", "if", "ta", "il")


@dataclass(frozen=True, slots=True)
class Projected:
    """What is shown, and what moves it.

    Attributes
    ----------
    shown : str
        Name of what is shown beside the drawing.
    choices : tuple of (str, str)
        Name and title of everything that can be shown.
    sliders : tuple of FieldView
        The chosen sliders, in their order.
    others : tuple of FieldView
        Those that could be chosen.
    names : tuple of (str, str)
        Key and name of every slider, in the order of the form.
    chosen : str
        Keys of the chosen ones as the address has them.
    usual : str
        Keys that are chosen where the address has none.
    kept : tuple of FieldView
        All other fields of the form.
    held : str or None
        Query string of the stage that is held; None where none is.
    holding : str
        What the address calls it: "before", or "after" while the one before is shown.
    """

    shown: str
    choices: tuple[tuple[str, str], ...]
    sliders: tuple
    others: tuple
    names: tuple[tuple[str, str], ...]
    chosen: str
    usual: str
    kept: tuple
    held: str | None
    holding: str

    @property
    def way(self):
        """Return how both sides are arranged."""
        return "beside" if self.shown == NOTHING else "stacked"


def shown_of(name):
    """Return the name of what is shown for what an address asks for: the verdict where it names nothing."""
    return name if name in SHOWN else VERDICT


def projected(groups, shown, wanted="", held=None, holding="before"):
    """Return what is shown, and what moves it.

    Parameters
    ----------
    groups : tuple of GroupView
        The controls of the explorer.
    shown : str
        Name of what is shown beside the drawing.
    wanted : str
        Keys of the chosen sliders with commas between; what the stage has no slider for is passed over.
    held : str or None
        Query string of the stage that is held.
    holding : str
        What the address calls it.

    Returns
    -------
    Projected
        The record.
    """
    fields = [field for group in groups for field in _fields_of(group)]
    having = {field.key: field for field in fields if field.slider}
    usual = [key for key in (*_USUAL, *having) if key in having]
    chosen = list(dict.fromkeys([key for key in wanted.split(",") if key in having] + usual))[:_COUNT]
    return Projected(
        shown=shown,
        choices=tuple(SHOWN.items()),
        sliders=tuple(having[key] for key in chosen),
        others=tuple(field for key, field in having.items() if key not in chosen),
        names=tuple((key, f"{field.label} {field.symbol}") for key, field in having.items()),
        chosen=",".join(chosen),
        usual=",".join(list(dict.fromkeys(usual))[:_COUNT]),
        kept=tuple(field for field in fields if not field.slider),
        held=held,
        holding=holding,
    )


def _fields_of(group):
    """Return all fields of a group."""
    return (*((group.kind,) if group.kind else ()), *group.fields, *group.more, *group.around)
