"""Feasible bands: over which stretch of every parameter all findings pass, and what breaks beyond its ends.

Every parameter is looked at by itself, the others as they stand. All of them are searched together, in a few batches:
a coarse grid, then what lies between a value that passes and one that does not. The search reckons with the corners
alone that are the worst of some finding; its ends are then tried at all corners, and what proves worse there joins in.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from engine.errors import ScenarioError
from engine.findings import FAILING, judged
from engine.parameter import declared
from engine.several import UNSIZED, solved
from engine.sizing import LEAST, MOST, size
from engine.track import Track, jumps, lattice, rounding_ends

IMPOSSIBLE = "impossible"
"""Stands for the code of a finding where a value contradicts the others, so that there is no such stage."""

_AUTO = {"if": "R1", "il": "RL"}
"""Key of a current to the field of the resistor that is sized from it."""

_FOLLOWING = {
    "vs": (("input", "R1"),),
    "vcc": (("output", "RL"),),
    "ta": (("input", "R1"), ("output", "RL")),
}
"""Key to the part and the name of each "auto" resistor that follows a parameter to and fro, step by step."""

_WINDOWS = frozenset({"receiver-supply", "coupler-supply"})
"""Codes that fail on both sides of a window of the output supply, which may be narrower than a coarse grid."""

_SWEEPS = 4  # of search and trial, before the search goes on with all corners
_ROUNDS = 8  # of one search, of which each leaves a quarter of what is open
_FED = ("vac", "r1", "if", "ta")  # of an alternating line, with capacitors: each value takes a solved cycle of its own


@dataclass(frozen=True, slots=True)
class Band:
    """The stretch of one parameter in which every finding passes.

    Attributes
    ----------
    value : float
        Where the parameter stands [unit].
    low : float or None
        Lower end of the stretch around that value, or else of the nearest one; None if there is none [unit].
    high : float or None
        Upper end [unit].
    low_set_by : str
        Code of the gravest finding that breaks just below; empty where the stretch reaches the end of the span.
    high_set_by : str
        The same just above.
    below : float or None
        The value next to the lower end at which it breaks; None at the end of the span [unit].
    above : float or None
        The same above the upper end [unit].
    here : bool
        Whether the value lies within.
    conflict : tuple of str
        Where there is no stretch: codes of the findings that break where fewest do.
    instant : bool
        Whether findings over the cycle of a line are left out.
    """

    value: float
    low: float | None
    high: float | None
    low_set_by: str
    high_set_by: str
    below: float | None
    above: float | None
    here: bool
    conflict: tuple
    instant: bool


def bands_of(scenario, spans):
    """Return the feasible band of several parameters, each by itself with the others as they stand.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    spans : dict of str to tuple of (float, float, str)
        Key of a parameter to both ends of what is looked at and "linear" or "log" [unit, unit, -].

    Returns
    -------
    dict of str to Band
        By key, in the order of `spans`, without those that would take too long on an alternating line. Ends are found
        to a hundredth of the span or the next value of E24. A moved `if` or `il` sizes its resistor again.

    Raises
    ------
    ScenarioError
        If an "auto" resistor of the stage itself cannot be sized.
    """
    return dict(_bands(scenario, tuple((key, *span) for key, span in spans.items())))


@lru_cache(maxsize=64)
def _bands(scenario, spans):
    """Return key and band of every parameter."""
    side, capacitors = scenario.input, False
    if side.kind == "ac":
        capacitors = side.capacitive or side.CS != "none"
    search = _Search(scenario, [span for span in spans if not (capacitors and span[0] in _FED)])
    search.run()
    return tuple((track.key, search.band(track)) for track in search.tracks)


def _place(scenario, key):
    """Return which part of a scenario has a parameter, under which name, and the parameter itself."""
    for part in ("input", "coupling", "output", "conditions"):
        for name, parameter in declared(getattr(scenario, part)).items():
            if parameter.key == key:
                return part, name, parameter
    raise KeyError(key)


class _Search:
    """The bands of one scenario on their way."""

    def __init__(self, scenario, spans):
        self.scenario, self.instant = scenario, scenario.input.kind == "ac"
        self.sized = size(scenario)
        ((_, seen),) = solved([scenario])
        point = seen.point()
        found = judged(point)
        self.members = seen.stage.members
        self.chosen = {0} | {finding.worst for finding in found if finding.worst is not None}
        self.codes = tuple(f.code for f in found if self._counts(f) and f.severity in FAILING)
        values = self._values(point)
        self.tracks = []
        for key, low, high, scale in spans:
            part, name, parameter = _place(scenario, key)
            stops = lattice(low, high, scale, parameter.unit)
            value = min(max(values[key], parameter.low), parameter.high)
            track = Track(key, (part, name), stops, value, frozenset((UNSIZED, IMPOSSIBLE)))
            if key == "vcc" and not _WINDOWS.isdisjoint(self.codes):
                track.refine()
            if self._as_it_is(key):
                track.note(track.value, self.codes, True)
            self.tracks.append(track)

    def _counts(self, finding):
        """Return whether a finding is looked at: over the cycle of a line it would take a cycle for every value."""
        return finding.holds is not None or not self.instant

    def _as_it_is(self, key):
        """Return whether a parameter's value makes the scenario at hand."""
        return key not in _AUTO or self.sized[_AUTO[key]].automatic

    def _values(self, point):
        """Return key to the value at which each parameter that may be asked for stands."""
        scenario, closed = self.scenario, point.states["closed"].quantities
        found = {p.key: getattr(part, n) for part in scenario.parts() for n, p in declared(part).items()}
        found |= {"r1": self.sized["R1"].chosen, "rl": self.sized["RL"].chosen}
        for key, field in _AUTO.items():
            if not self.sized[field].automatic:
                found[key] = max(closed[key.upper()].value, 0.0)
        return found | ({"ctr": scenario.coupling.ratios()[0]} if scenario.coupling.has_ratio else {})

    def scenario_at(self, track, value):
        """Return the scenario with another value of one parameter; None where it contradicts the others."""
        part, name = track.place
        freed = {_AUTO[track.key]: "auto"} if track.key in _AUTO else {}
        try:
            moved = replace(getattr(self.scenario, part), **{name: value}, **freed)
            return replace(self.scenario, **{part: moved})
        except ScenarioError:
            return None

    # ------------------------------------------------------------ the search

    def run(self):
        """Search with few corners, try the ends at all of them, and take in what proves worse there."""
        for _ in range(_SWEEPS):
            self._narrow(self.chosen)
            ends = [(track, value) for track in self.tracks for value in track.decisive() if value not in track.whole]
            if not ends:
                return
            before = frozenset(self.chosen)
            self._judge(ends, None)
            if new := self.chosen - before:
                self._judge([(track, value) for track in self.tracks for value in track.trusted()], {0} | new)
        self._narrow(None)

    def _narrow(self, corners):
        """Judge what each parameter wants to know next, all of them at once, until none does."""
        for _ in range(_ROUNDS):
            asked = [(track, value) for track in self.tracks for value in track.wanted()]
            asked = asked or self._beside_jumps(corners)
            if not asked:
                return
            self._judge(asked, corners)

    def _judge(self, asked, corners):
        """Note which findings fail at some values of some parameters, at some corners or at all (None)."""
        failing = self._failing([self.scenario_at(*one) for one in asked], corners)
        for (track, value), codes in zip(asked, failing, strict=True):
            track.note(value, codes, corners is None)

    def _failing(self, scenarios, corners):
        """Return the codes of what fails in several scenarios, at some corners or at all (None)."""
        chosen = None if corners is None else {self.members: np.array(sorted(corners))}
        there = [k for k, scenario in enumerate(scenarios) if scenario is not None]
        failing = [[] if scenario is not None else [IMPOSSIBLE] for scenario in scenarios]
        for places, seen in solved([scenarios[k] for k in there], chosen):
            if seen is None:
                failing[there[places[0]]].append(UNSIZED)
                continue
            for finding in judged(seen.point()):
                if self._counts(finding):
                    self._spread_out(finding, [failing[there[k]] for k in places], seen.stage.members)
        return [tuple(codes) for codes in failing]

    # ------------------------------------------------------------ rounded resistors

    def _beside_jumps(self, corners):
        """Return values beside those at which an "auto" resistor jumps, where its rounding may break a finding.

        A resistor that follows a supply or the temperature from one preferred value to the next lets the current go up
        and down. Where all holds with the exact resistance off by as much as rounding may, there is no need to look.
        """
        tried = [
            (track, value, scenario)
            for track in self.tracks
            for following in [self._following(track)]
            for value in (track.unrounded() if following else ())
            for scenario in self._rounded(track, value, following)
        ]
        failing = self._failing([scenario for *_, scenario in tried], corners) if tried else []
        doubtful = {(track, value) for (track, value, _), codes in zip(tried, failing, strict=True) if codes}
        asked = []
        for track, value in doubtful:
            stretch = track.beside(value)
            asked += [(track, at) for at in jumps(track.stops, stretch, lambda at, t=track: self._sizes(t, at))]
        return [(track, at) for track, at in dict.fromkeys(asked) if at not in track.seen]

    def _following(self, track):
        """Return part and name of each "auto" resistor that is another one at the other end of the run."""
        names = () if self.instant else _FOLLOWING.get(track.key, ())
        ends = [self._sizes(track, value) for value in track.decisive()] if names else []
        return [
            (part, name)
            for part, name in names
            if all(ends) and ends[0][name].automatic and ends[0][name].chosen != ends[-1][name].chosen
        ]

    def _rounded(self, track, value, following):
        """Yield the scenario at a value with each resistor that follows as far off as rounding puts it."""
        scenario, sized = self.scenario_at(track, value), self._sizes(track, value)
        for part, name in following if sized else ():
            if sized[name].exact:
                for share in rounding_ends(sized[name].series, sized[name].rounding):
                    R = min(max(sized[name].exact * share, LEAST), MOST)
                    yield replace(scenario, **{part: replace(getattr(scenario, part), **{name: R})})

    def _sizes(self, track, value):
        """Return the resistors at a value; None where they cannot be sized."""
        scenario = self.scenario_at(track, value)
        try:
            return scenario and size(scenario)
        except ScenarioError:
            return None

    def _spread_out(self, finding, lists, members):
        """Add the code of a finding where it fails, and take in the corners at which it does."""
        if finding.holds is None:
            fails = np.full(len(lists), finding.severity in FAILING)
        else:
            holds = finding.holds.reshape(len(lists), members)
            fails = ~holds.all(axis=1)
            if members == self.members and fails.any():
                self._take_in(~holds[fails])
        for codes, fail in zip(lists, fails, strict=True):
            if fail:
                codes.append(finding.code)

    def _take_in(self, fails):
        """Add corners that fail where none of those that are reckoned with does: the one that fails most often."""
        unseen = fails[~fails[:, sorted(self.chosen)].any(axis=1)]
        while len(unseen):
            worst = int(unseen.sum(axis=0).argmax())
            self.chosen.add(worst)
            unseen = unseen[~unseen[:, worst]]

    def band(self, track):
        """Return the band of a parameter that has been searched."""
        run = track.run()
        if run is None:
            conflict = track.seen[track.least()[0]]
            return Band(track.value, None, None, "", "", None, None, False, conflict, self.instant)
        low, high, *beyond = run
        set_by = [track.seen[value][0] if value is not None else "" for value in beyond]
        return Band(track.value, low, high, *set_by, *beyond, low <= track.value <= high, (), self.instant)
