"""A hand-out as printed: what is the same on all of them, and its own contents."""

from dataclasses import dataclass
from urllib.parse import parse_qsl

from engine import STATES, operating_point, query_from
from webapp import __version__
from webapp.present.handouts.exercise import GivenView, answer_sheet, given_view, worksheet
from webapp.present.handouts.options import PAPERS, PARTS, SHEETS, Choice, choices
from webapp.present.handouts.report import ReportView, report_view
from webapp.present.picture import is_tall
from webapp.present.qr import QRView, qr_of
from webapp.present.results import hazardous, summary, title
from webapp.present.sharing import joined

LONGEST_LINK = 220
"""The most characters of a link at the foot of each page; a longer one is cut, as nobody types it."""


@dataclass(frozen=True, slots=True)
class PictureView:
    """A picture of the schematic.

    Attributes
    ----------
    query : str
        Query string of the picture.
    words : str
        What stands for it where it is not seen.
    """

    query: str
    words: str


@dataclass(frozen=True, slots=True)
class HandoutView:
    """A hand-out as printed.

    Attributes
    ----------
    sheet : str
        Which one.
    kind : str
        What that is called.
    heading : str
        Its title.
    stage : str
        The stage in a line.
    query : str
        Query string of the stage.
    pairs : tuple of (str, str)
        The same, for a form.
    title : str
        Title that was typed.
    sheets : tuple of (str, str, bool)
        Every hand-out: what it is called, its query string, whether it is this one.
    papers : tuple of Choice
        Papers to choose from.
    parts : tuple of Choice
        Parts of the report to choose from.
    paper : str
        The paper.
    link : str
        Address of the stage.
    foot : str
        The same as it stands at the foot, cut if it is long.
    qr : QRView or None
        The address as a code; None where it is too long, or the sheet has none.
    version : str
        Version of Lightgap.
    pictures : tuple of PictureView
        The schematic.
    tall : bool
        Whether its sides stand one below the other.
    given : GivenView or None
        What is given of the stage; not on a report.
    questions : tuple
        Questions with blanks, or with answers; not on a report.
    report : ReportView or None
        The sections of a report.
    hazardous : bool
        Whether the cautions for dangerous voltages apply.
    """

    sheet: str
    kind: str
    heading: str
    stage: str
    query: str
    pairs: tuple
    title: str
    sheets: tuple
    papers: tuple[Choice, ...]
    parts: tuple[Choice, ...]
    paper: str
    link: str
    foot: str
    qr: QRView | None
    version: str
    pictures: tuple[PictureView, ...]
    tall: bool
    given: GivenView | None
    questions: tuple
    report: ReportView | None
    hazardous: bool


def handout_view(scenario, options, link):
    """Return a hand-out of a stage whose address is `link`; raises ScenarioError if a resistor cannot be sized."""
    point, query, report = operating_point(scenario), query_from(scenario), options.sheet == "report"
    ask = {"worksheet": worksheet, "answers": answer_sheet}.get(options.sheet)
    return HandoutView(
        sheet=options.sheet,
        kind=SHEETS[options.sheet],
        heading=options.title or SHEETS[options.sheet],
        stage=title(scenario),
        query=query,
        pairs=tuple(parse_qsl(query, keep_blank_values=True)),
        title=options.title,
        sheets=tuple((text, joined(query, f"sheet={n}"), n == options.sheet) for n, text in SHEETS.items()),
        papers=choices(PAPERS, (options.paper,)),
        parts=choices(PARTS, options.parts) if report else (),
        paper=options.paper,
        link=link,
        foot=link if len(link) <= LONGEST_LINK else f"{link[:LONGEST_LINK]} …",
        qr=qr_of(link) if report else None,
        version=__version__,
        pictures=_pictures(point, options),
        tall=is_tall(point),
        given=None if report else given_view(point),
        questions=ask(point) if ask else (),
        report=report_view(point, options.parts) if report else None,
        hazardous=hazardous(point),
    )


def _pictures(point, options):
    """Return the pictures of a sheet: without figures on a worksheet, of both states in a report."""
    scenario = point.scenario
    if options.sheet == "worksheet":
        query = joined(query_from(scenario.showing("closed")), "p.figures=none&p.ink=black")
        words = "Schematic of the stage with the given values; its voltages and currents are left blank"
        return (PictureView(query, words),)
    if options.sheet == "report" and "schematic" not in options.parts:
        return ()
    shown = STATES if options.sheet == "report" else STATES[:1]
    return tuple(
        PictureView(
            joined(query_from(scenario.showing(name)), "p.ink=black"),
            f"Schematic with solved figures. {summary(point, name)}",
        )
        for name in shown
    )
