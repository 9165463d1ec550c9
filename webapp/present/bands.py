"""Feasible bands under the sliders: where each lies on its track, and what breaks beyond its ends."""

from bisect import bisect_right
from dataclasses import dataclass

from engine import IMPOSSIBLE, NO_RATE, RULES, UNSIZED, as_typed, bands_of, declared

_BY_RATIO = frozenset({"r1", "rl", "if", "il", "ctr"})
"""Keys of what is looked at by ratio; the rest evenly."""

_NAMES = {
    "level-lit": "lit level",
    "level-dark": "dark level",
    "receiver-supply": "receiver",
    "coupler-supply": "coupler",
    "relay-operate": "operating",
    "relay-release": "releasing",
    UNSIZED: "no resistor fits",
    IMPOSSIBLE: "no such stage",
}
"""Codes to a word or two, where the title of the finding does not do."""

_MOST_NAMED = 3
WIDTH = 1000
"""Width of the drawing of a band."""


@dataclass(frozen=True, slots=True)
class BandView:
    """A band as printed.

    Attributes
    ----------
    key : str
        Key of the parameter.
    drawn : bool
        Whether it was looked for.
    start : float
        Where it begins in its drawing, 0 to `WIDTH`.
    length : float
        How long it is there; 0 where nothing holds.
    below : str
        What breaks below it; empty at the end of the slider.
    above : str
        What breaks above it.
    text : str
        The stretch, or that there is none and why.
    here : bool
        Whether the slider stands within.
    story : str
        All of it in a sentence.
    """

    key: str
    drawn: bool
    start: float
    length: float
    below: str
    above: str
    text: str
    here: bool
    story: str


def bands_for(scenario, sliders):
    """Return key to the engine's band over the span of each slider, from key to the values of its stops."""
    spans = {key: (values[0], values[-1], "log" if key in _BY_RATIO else "linear") for key, values in sliders.items()}
    return bands_of(scenario, spans)


def units_of(scenario):
    """Return key to the unit of every quantity of a scenario."""
    return {p.key: p.unit for part in scenario.parts() for p in declared(part).values() if p.unit}


def band_views(scenario, sliders):
    """Return what is printed under every slider; raises ScenarioError if a resistor cannot be sized."""
    bands, units = bands_for(scenario, sliders), units_of(scenario)
    aside = "" if scenario.conditions.rate == NO_RATE else ", speed aside"
    return tuple(_view(key, values, bands.get(key), units[key], aside) for key, values in sliders.items())


def _view(key, stops, band, unit, aside=""):
    """Return one band as printed; `aside` tells what was not asked of it."""
    if band is None:
        return BandView(key, False, 0.0, 0.0, "", "", "", True, "")
    if band.low is None:
        text = f"no value holds: {_listed(band.conflict)}"
        return BandView(key, True, 0.0, 0.0, "", "", text, False, f"{text}.")
    start, end = (_place(stops, value) for value in (band.low, band.high))
    below, above = (name_of(code) if code else "" for code in (band.low_set_by, band.high_set_by))
    text = _held(band, unit) + aside
    causes = [f"{where}: {name}" for where, name in (("below", below), ("above", above)) if name]
    story = "; ".join((text, *causes)) + "."
    return BandView(key, True, start, max(round(end - start, 1), 0.1), below, above, text, band.here, story)


def _held(band, unit):
    """Return the stretch in words."""
    low, high = (as_typed(float(f"{value:.3g}"), unit) for value in (band.low, band.high))
    verb, where = "holds" if band.here else "needs", ", at the crest" if band.instant else ""
    if not (band.low_set_by or band.high_set_by):
        stretch = "all along"
    elif not band.high_set_by:
        stretch = f"from {low}"
    elif not band.low_set_by:
        stretch = f"up to {high}"
    elif low == high:
        stretch = f"at {low}"
    else:
        number, _, prefixed = low.rpartition(" ")
        stretch = f"{number if prefixed == high.rpartition(' ')[2] else low} – {high}"
    return f"{verb} {stretch}{where}"


def name_of(code):
    """Return what a finding is called within a sentence."""
    title = _NAMES.get(code) or RULES[code].title
    return title if title[1:2].isupper() or title[1:2].isdigit() else title[0].lower() + title[1:]


def _listed(codes):
    """Return the names of some findings, the gravest ones only where there are many."""
    names = [name_of(code) for code in codes[:_MOST_NAMED]]
    return ", ".join(names) + (" and more" if len(codes) > _MOST_NAMED else "")


def _place(stops, value):
    """Return where a value stands on the track of a slider, 0 to `WIDTH`."""
    last = len(stops) - 1
    k = min(max(bisect_right(stops, value) - 1, 0), last - 1)
    share = min(max((value - stops[k]) / (stops[k + 1] - stops[k]), 0.0), 1.0)
    return round((k + share) * WIDTH / last, 1)
