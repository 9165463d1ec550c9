"""The diagnosis under the bench sheet as printed: what fits the readings, what is ruled out, what to read next."""

from dataclasses import dataclass

from engine import (
    METERS,
    VOLT,
    Problem,
    QuantityError,
    ScenarioError,
    diagnose,
    left_aside,
    parse,
    probes_of,
    reading,
)

MOST_TYPED = 200
"""The most readings of one request; a sheet has far fewer blanks."""

ASIDE = "Readings of the output side, but for its supply, say nothing here."
"""What stands before the reason why."""

_FITS = 0.01  # [-], probability from which a fault is told of as one that fits
_MOST_FIT = 8
_COUNTLESS = 1000  # standard deviations from which it does not matter how many
_FIELD = "r."
_WORDS = ((0.95, "almost certain"), (0.7, "very likely"), (0.3, "likely"), (0.05, "possible"), (0.0, "unlikely"))


@dataclass(frozen=True, slots=True)
class FitView:
    """What fits the readings.

    Attributes
    ----------
    text : str
        The fault in words.
    words : str
        How likely it is, in words.
    percent : str
        The same as a figure.
    same : tuple of str
        Faults that no reading of the sheet tells from it.
    """

    text: str
    words: str
    percent: str
    same: tuple


@dataclass(frozen=True, slots=True)
class RuledOutView:
    """What one reading rules out.

    Attributes
    ----------
    reading : str
        The reading: where, in which state, what was read.
    faults : tuple of str
        Faults with what they would have made it, the most clearly ruled out first.
    """

    reading: str
    faults: tuple


@dataclass(frozen=True, slots=True)
class DiagnosisView:
    """What the readings say.

    Attributes
    ----------
    aside : str
        Which readings say nothing, and why; empty where all do.
    asked : bool
        Whether readings were sent, be they empty.
    taken : int
        How many were read.
    explained : bool
        Whether any one fault, or none, explains them.
    fits : tuple of FitView
        The likeliest first.
    so_far : tuple of str
        What fits first and these readings do not tell from each other, though others may.
    ruled_out : tuple of RuledOutView
        What is ruled out, by the reading that speaks most against it.
    next : str
        What to read next; empty where no reading tells more.
    gain : str
        What that is expected to tell.
    errors : dict of str to str
        Name of a blank to what is wrong with what stands in it.
    """

    aside: str = ""
    asked: bool = False
    taken: int = 0
    explained: bool = True
    fits: tuple = ()
    so_far: tuple = ()
    ruled_out: tuple = ()
    next: str = ""
    gain: str = ""
    errors: dict | None = None


def readings_of(typed):
    """Return the readings that texts by name stand for, as point, state and value.

    Names are "r.", the point, a dot and the state; what is empty is no reading. Raises `engine.ScenarioError` with
    every text that cannot be read.
    """
    found, problems = [], []
    for name, text in [(name, text) for name, text in typed.items() if text.strip()][:MOST_TYPED]:
        point, _, state = name.removeprefix(_FIELD).rpartition(".")
        try:
            found.append((point, state, parse(text, VOLT)))
        except QuantityError as error:
            problems.append(Problem(name, error.given, error.accepted, error.reason))
    if problems:
        raise ScenarioError(problems)
    return found


def diagnosis_view(scenario, typed):
    """Return what the readings typed into a sheet say of the stage; raises as `engine.diagnose` where that does."""
    points, because = left_aside(scenario)
    aside = f"{ASIDE} {because}" if points else ""
    if not typed:
        return DiagnosisView(aside=aside, errors={})
    try:
        found = diagnose(scenario, [one for one in readings_of(typed) if one[0] not in points])
    except ScenarioError as error:
        wrong = {p.field: f"{p.reason}; accepted: {p.accepted}" for p in error.problems}
        return DiagnosisView(aside=aside, asked=True, errors=wrong)
    words = _Words(scenario)
    return DiagnosisView(
        aside=aside,
        asked=True,
        taken=len(found.readings),
        explained=found.explained,
        fits=tuple(_fit(one) for one in found.ranking[:_MOST_FIT] if one.probability >= _FITS),
        so_far=_so_far(found.ranking[0]) if found.readings else (),
        ruled_out=words.ruled_out(found),
        next=words.place(found.next) if found.next else "",
        gain=f"{found.next.gain:.1f} bit" if found.next else "",
        errors={},
    )


def _fit(one):
    """Return one fault that fits."""
    words = next(words for least, words in _WORDS if one.probability >= least)
    share = one.probability
    percent = f"{100 * share:.0f} %" if 0.01 <= share <= 0.99 else "over 99 %" if share > 0.5 else "under 1 %"
    return FitView(one.fault.text, words, percent, tuple(fault.text for fault in one.same_readings_as))


def _so_far(first):
    """Return what fits first with what other readings would tell from it."""
    return tuple(fault.text for fault in (first.fault, *first.same_so_far_as)) if first.same_so_far_as else ()


class _Words:
    """Readings of a stage in words."""

    def __init__(self, scenario):
        self.points = {probe.id: probe for probe in probes_of(scenario)}
        self.states = scenario.input.states
        self.floor = METERS[scenario.conditions.meter].floor

    def place(self, one):
        """Return where a reading is taken."""
        probe = self.points[one.point]
        return f"{probe.words} ({probe.red} against {probe.black}), {self.states[one.state]}"

    def ruled_out(self, found):
        """Return what is ruled out, reading by reading."""
        by_reading = {}
        for one in found.ruled_out:
            by_reading.setdefault((one.point, one.state), []).append(one)
        read = {(one.point, one.state): one for one in found.readings}
        return tuple(
            RuledOutView(f"{self.place(read[key])}: {self.volts(read[key].value)}", tuple(map(self.against, some)))
            for key, some in by_reading.items()
        )

    def against(self, one):
        """Return a fault with what it would have made a reading."""
        given = ", by the other readings" if one.together else ""
        off = f"{one.sigmas:.0f}" if one.sigmas < _COUNTLESS else f"over {_COUNTLESS}"
        return f"{one.fault.text.rstrip('.')} ({self.volts(one.expected)}{given}; {off} deviations off)"

    def volts(self, value):
        """Return a voltage as text; what the meter cannot tell from nothing is nothing."""
        return "0 V" if abs(value) < self.floor else " ".join(reading(value, VOLT))
