"""A stage to pass on: its text to paste, the code that shows it on a page elsewhere."""

from dataclasses import dataclass

from markupsafe import escape

from engine import STATES, findings_of, operating_point, query_from
from webapp.present.figures import figure
from webapp.present.finding_list import listed
from webapp.present.given import values_of
from webapp.present.qr import QRView, qr_of
from webapp.present.results import hazardous, title, verdicts

CAUTION = (
    "Figures are educational estimates from generic classes of couplers. Above 50 V ac or 120 V dc, isolate, lock out "
    "and prove dead. Local codes, the product's standard and a qualified person decide."
)
"""What goes with every figure that is passed on."""

SHEETS = ("worksheet", "answers", "report")
"""Names of the hand-outs."""

FRAME = (760, 640)
"""Width and height that a frame on another page is given, in pixels."""


@dataclass(frozen=True, slots=True)
class ShareView:
    """A stage to pass on, as printed.

    Attributes
    ----------
    title : str
        The stage in a line.
    query : str
        Query string of the stage.
    place : str
        Switch state that the picture shows.
    other : tuple of (str, str)
        The other one, and the query string that shows it.
    link : str
        Address of the stage.
    qr : QRView or None
        The same as a code; None where it is too long for one.
    embed : str
        What shows the stage on another page.
    text : str
        The stage in plain text.
    blank : str
        Query string of the picture without figures.
    sheets : dict of str to str
        Name of a hand-out to its query string.
    file : str
        Name of its pictures, without an ending.
    hazardous : bool
        Whether the cautions for dangerous voltages apply.
    """

    title: str
    query: str
    place: str
    other: tuple
    link: str
    qr: QRView | None
    embed: str
    text: str
    blank: str
    sheets: dict
    file: str
    hazardous: bool


def share_view(scenario, link, frame):
    """Return what is passed on of a stage; `link` and `frame` are its addresses, for people and for a frame.

    Raises ScenarioError if a resistor cannot be sized.
    """
    point, state = operating_point(scenario), scenario.conditions.switch
    other = next(name for name in STATES if name != state)
    return ShareView(
        title=title(scenario),
        query=query_from(scenario),
        place=scenario.input.states[state],
        other=(scenario.input.states[other], query_from(scenario.showing(other))),
        link=link,
        qr=qr_of(link),
        embed=embed_code(title(scenario), frame),
        text=text_of(scenario, link),
        blank=joined(query_from(scenario), "p.figures=none"),
        sheets={name: joined(query_from(scenario), f"sheet={name}") for name in SHEETS},
        file=f"stage-{scenario.input.kind}-{scenario.output.kind}-{state}",
        hazardous=hazardous(point),
    )


def joined(*queries):
    """Return query strings as one."""
    return "&".join(query for query in queries if query)


def embed_code(name, frame):
    """Return the element that shows a stage on another page."""
    width, height = FRAME
    return (
        f'<iframe src="{escape(frame)}" title="{escape(name)}" width="{width}" height="{height}" loading="lazy"'
        "></iframe>"
    )


def text_of(scenario, link):
    """Return a stage in plain text: what it is, its values, both states, what does not hold, caution, link."""
    point = operating_point(scenario)
    found = listed(scenario, findings_of(point))
    lines = [title(scenario), "", "Values: " + "; ".join(f"{name} {text}" for name, text in values_of(point)) + "."]
    lines += ["", *(_state(point, view) for view in verdicts(point, "", dict.fromkeys(STATES, ""))), ""]
    speed = [found.speed] if found.speed else []
    graver = [f for f in (*found.open_findings, *speed) if f.severity != "pass"]
    passed = [f for f in (*found.passed, *speed) if f.severity == "pass"]
    lines += [line for f in graver for line in _finding(f)]
    lines += [f"{len(passed)} checks hold at every corner.", "", CAUTION, "", link, ""]
    return "\n".join(lines)


def _state(point, view):
    """Return one state in a line."""
    found, observed = point.states[view.state].quantities, point.scenario.output.observed
    names = dict.fromkeys(name for name in ("IF", "IC", "VCE", observed) if name in found)
    figures = ", ".join(_ranged(name, figure(found[name])) for name in names)
    return f"{_capital(view.place)}: {view.verb} {view.level.upper()}, {view.remark}. {figures}."


def _ranged(name, one):
    return f"{name} {one.text}" + (f" ({one.range})" if one.range else "")


def _capital(text):
    return text[:1].upper() + text[1:]


def _finding(view):
    """Yield a finding that does not hold, and what mends it."""
    where = f" ({view.condition})" if view.condition else ""
    yield f"- {view.severity.upper()}: {view.reason}{where}"
    if view.mend:
        yield f"  Mend it: {view.mend}"
