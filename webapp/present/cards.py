"""Couplers as their pages print them: the lines of a card beside its model, ratings, insulation, curves."""

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from engine import (
    AMPERE,
    BARRIER_LINES,
    CELSIUS,
    INPUTS,
    OHM,
    OUTPUTS,
    RATIO,
    SECOND,
    UNITS,
    VOLT,
    ConvergenceError,
    Coupling,
    Scenario,
    ScenarioError,
    as_typed,
    card_names,
    curves_of,
    lines_of,
    load_card,
    operating_point,
    pack_card,
    query_from,
    reading,
    speed_lines_of,
    unpack_card,
)
from webapp.present.card_plots import plots
from webapp.present.card_tests import card_tests
from webapp.present.card_words import FAMILY_WORDS

OWN = "own"
"""Name of a card of one's own in addresses."""

_DIGITS = 4


@dataclass(frozen=True, slots=True)
class LineView:
    """One line of a card.

    Attributes
    ----------
    name : str
        As on a data sheet.
    condition : str
        Under which it holds.
    stated : str
        What the card states.
    modelled : str
        What the model reads; empty for what only limits.
    deviation : str
        How far they differ; empty for what only limits.
    met : bool
        Whether the model meets it.
    remark : str
        What else there is to say.
    """

    name: str
    condition: str
    stated: str
    modelled: str
    deviation: str
    met: bool
    remark: str


@dataclass(frozen=True, slots=True)
class CardView:
    """One card as its page prints it.

    Attributes
    ----------
    name : str
        Name in addresses; "own" for one of one's own.
    query : str
        What follows that name in the address of a card of one's own; empty for a shipped one.
    source : str
        What a form begins with that changes the card, or makes another of it.
    title : str
        Name for people.
    summary : str
        One sentence.
    family : str
        Its family in words.
    stage : str or None
        A scenario that uses it; None where no stage takes it.
    lines : tuple of LineView
        What the model answers for.
    limits : tuple of LineView
        What only limits.
    barrier : tuple of LineView
        Figures of the insulation.
    met : str
        How many lines are met, in words.
    missed : int
        How many are not.
    plots : tuple of PlotView
        Its curves.
    tests : tuple of SheetView
        The tests of its data sheet, with their stages.
    """

    name: str
    query: str
    source: str
    title: str
    summary: str
    family: str
    stage: str | None
    lines: tuple
    limits: tuple
    barrier: tuple
    met: str
    missed: int
    plots: tuple
    tests: tuple


@dataclass(frozen=True, slots=True)
class EntryView:
    """One card in the list of all.

    Attributes
    ----------
    name : str
        Name in addresses.
    title : str
        Name for people.
    summary : str
        One sentence.
    stage : str or None
        A scenario that uses it; None where no stage takes it.
    figures : tuple of (str, str)
        The lines that one looks at first: name and value.
    """

    name: str
    title: str
    summary: str
    stage: str | None
    figures: tuple


@dataclass(frozen=True, slots=True)
class FamilyView:
    """The cards of one family.

    Attributes
    ----------
    name : str
        Name of the family in cards.
    title : str
        Name for people.
    about : str
        One sentence.
    cards : tuple of EntryView
        Its cards.
    """

    name: str
    title: str
    about: str
    cards: tuple


@cache
def families():
    """Return every shipped card by family."""
    return tuple(
        FamilyView(name, title, about, tuple(_entry(card) for card in card_names(name)))
        for name, (title, about) in FAMILY_WORDS.items()
    )


@cache
def shipped_card(name):
    """Return a shipped card; it never changes while the application runs. Raises CardError if there is none."""
    return _view(load_card(name), name, "", _stage_of_shipped(name))


@lru_cache(maxsize=32)
def own_card(packed):
    """Return a card of one's own. Raises CardError if its text is damaged or its lines cannot be met."""
    card = unpack_card(OWN, packed)
    lines_of(card)  # refuses a card that no model meets
    canonical = pack_card(card)
    return _view(card, OWN, f"card={canonical}", _stage(Coupling(card=OWN, own=canonical)))


def _stage(coupling):
    """Return the query string of the first stage that takes a coupler, or None where none does."""
    for load in OUTPUTS.values():
        for side in INPUTS.values():
            try:
                scenario = Scenario(input=side(), coupling=coupling, output=load())
                operating_point(scenario)
            except (ScenarioError, ConvergenceError):
                continue
            return query_from(scenario)
    return None


@cache
def _stage_of_shipped(name):
    """Return the same as `_stage`, for a shipped card."""
    return _stage(Coupling(card=name))


def file_name(title):
    """Return a name for the file of a card: letters, digits and hyphens, whatever its title."""
    plain_title = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:40].strip("-")
    return f"{plain_title or 'card'}.toml"


def _view(card, name, query, stage):
    """Return the record of a card."""
    found = (*lines_of(card), *speed_lines_of(card))
    held = tuple(_line(line) for line in found if line.modelled is not None)
    limits = tuple(_line(line) for line in found if line.modelled is None and line.name not in BARRIER_LINES)
    missed = sum(not line.met for line in held)
    met = (
        f"The model meets all {len(held)} lines." if not missed else f"The model misses {missed} of {len(held)} lines."
    )
    return CardView(
        name=name,
        query=query,
        source=query or f"from={name}",
        title=card.title,
        summary=card.summary,
        family=FAMILY_WORDS[card.family][0],
        stage=stage,
        lines=held,
        limits=limits,
        barrier=(*(_line(line) for line in found if line.name in BARRIER_LINES), *_material(card)),
        met=met,
        missed=missed,
        plots=plots(curves_of(card)),
        tests=card_tests(card, held),
    )


def _material(card):
    """Yield the material group, which is no number."""
    if group := card.group():
        yield LineView("Material group", "", group, "", "", True, "of the body, after IEC 60664-1")


def _line(line):
    """Return one line as printed."""
    unit = UNITS[line.unit]
    condition, stated = (_printed(text) for text in (line.condition, as_typed(line.stated, unit)))
    if line.modelled is None:
        return LineView(line.name, condition, stated, "", "", True, line.remark)
    remark = line.remark
    if not line.met and not remark:
        within = {VOLT.name: "20 mV", SECOND.name: "10 %"}.get(line.unit, "5 %")
        remark = f"not within {within}; the model cannot meet all lines of this card, so reckon with the card's value"
    modelled = _printed(" ".join(reading(line.modelled, unit, _DIGITS)))
    return LineView(line.name, condition, stated, modelled, _deviation(line), line.met, remark)


def _deviation(line):
    """Return how far model and card differ: volts in millivolts, others in per cent."""
    scale, sign = (1e3, "mV") if line.unit == VOLT.name else (100.0, "%")
    text = f"{line.deviation * scale:+.1f} {sign}"
    return f"0 {sign}" if text[1:].startswith("0.0") else _printed(text)


def _printed(text):
    """Return numbers with the minus sign of print."""
    return text.replace("-", "−")


# ---------------------------------------------------------------- the list of all


@cache
def _entry(name):
    """Return a card of the list."""
    card = load_card(name)
    figures = (*_signal(card), *_diode(card), *_FIGURES[card.family](card), *_barrier(card))
    return EntryView(name, card.title, card.summary, _stage_of_shipped(name), figures)


def _signal(card):
    """Yield what makes the output turn on."""
    if hasattr(card, "CTR_typ"):
        low, typical, high = (as_typed(ratio, RATIO) for ratio in (card.CTR_min, card.CTR_typ, card.CTR_max))
        test = f"at IF = {as_typed(card.CTR_IF, AMPERE)}, VCE = {as_typed(card.CTR_VCE, VOLT)}"
        yield "CTR", f"{low.removesuffix(' %')} – {high}, typically {typical}, {test}"
    else:
        yield "On from IF", f"{as_typed(card.IF_on, AMPERE)}, typically {as_typed(card.IF_typ, AMPERE)}"


def _diode(card):
    """Yield the lines of the LED."""
    ends = f"{as_typed(card.VF_min, VOLT)} – {as_typed(card.VF_max, VOLT)} at IF = {as_typed(card.VF_IF, AMPERE)}"
    yield "VF", ends
    rating = card.IF_rating
    yield "IF, largest", f"{as_typed(rating.limit, AMPERE)} up to {as_typed(rating.knee_degC, CELSIUS)}"


def _barrier(card):
    """Yield the insulation's test voltage."""
    if card.VISO is not None:
        yield "VISO", f"{as_typed(card.VISO, VOLT)} rms for a minute: a test, not a working voltage"


def _transistor(card):
    yield "VCEO · IC, largest", f"{as_typed(card.VCEO, VOLT)} · {as_typed(card.IC_max, AMPERE)}"


def _supplied(card):
    low, high = (as_typed(end, VOLT) for end in card.supply)
    yield "Supply", f"{low} – {high}"


def _gate(card):
    yield from _supplied(card)
    yield "Output, largest", f"{as_typed(card.VO_rating, VOLT)} · {as_typed(card.IOL_rating, AMPERE)}"


def _driver(card):
    yield from _supplied(card)
    yield "Peak current", " out, ".join(as_typed(peak, AMPERE) for peak in card.peak) + " in"


def _relay(card):
    typical, largest = as_typed(card.R_on, OHM), as_typed(card.R_on_max, OHM)
    yield "R(on)", f"{typical}, at most {largest}"
    yield "VL · IL, largest", f"{as_typed(card.VL_rating, VOLT)} · {as_typed(card.IL_rating.limit, AMPERE)}"


def _triac(card):
    yield "VDRM · IT, largest", f"{as_typed(card.VDRM, VOLT)} · {as_typed(card.IT_rating.limit, AMPERE)} rms"
    yield "Turns on", "at any phase" if card.inhibit is None else f"below {as_typed(card.inhibit, VOLT)} only"


_FIGURES = {
    "phototransistor": _transistor,
    "photodarlington": _transistor,
    "logic-gate": _gate,
    "gate-driver": _driver,
    "mosfet-relay": _relay,
    "opto-triac": _triac,
}
