"""One stage with other resistors in place of its own: which findings hold there, at which corners, in one batch.

The resistors go by way of values alone, so any number of pairs of R1 and RL is one batch of circuits. Findings that do
not go member by member (those over the cycle of a line) are not asked here.
"""

from dataclasses import replace

import numpy as np

from engine.build import FAINTEST, Corners, build_all, light_left
from engine.constants import ZERO_CELSIUS
from engine.findings import judged
from engine.findings.fitting import FIELDS, POWER_RATINGS
from engine.operating import observed
from engine.sizing import LEAST, MOST, size

PARTS = ("R1", "RL")
"""The resistors that may have other values."""

_AGEING = {"CTR": 1.0, "threshold": -1.0}  # what light that is lost does to a specimen, as a power of what is left


class _Sweep:
    """What makes the members of a batch: every one has a corner and resistors of its own."""

    def __init__(self, ways, corner, shares, light):
        self.members = len(corner)
        self.ways, self.corner, self.shares, self.light = ways, corner, shares, light

    def spread(self, factor, name, triples):
        """Return the values of one quantity in every circuit, as `Corners.spread`."""
        nominal, low, high = triples[0]
        way = self.ways["threshold" if name == "threshold" else factor][self.corner]
        values = np.array([nominal, high, low])[way]
        if name in self.shares:
            values = values * self.shares[name]
        if name in _AGEING and self.light is not None:
            values = np.where(way < 0, values * self.light ** _AGEING[name], values)
        return np.tile(values, 2)


class Resized:
    """A stage whose R1 and RL may have any values.

    It knows the resistors that it has (`present`), how many corners there are (`corners`), and which of them have
    turned out worst for a finding so far (`watched`, the nominal one first).

    Parameters
    ----------
    scenario : Scenario
        The stage.
    asked : dict of str to callable or None
        What is asked beside the findings: a name to a function from a solved stage to whether it holds in every
        member.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """

    def __init__(self, scenario, asked=None):
        self.scenario, self._sizes, self._asked = scenario, size(scenario), asked or {}
        self.present = {part: self._sizes[part].chosen for part in PARTS}
        conditions = scenario.conditions
        own = (part.spreads(conditions.tolerance) for part in (scenario.input, scenario.output))
        drawn = Corners(*own, conditions.TA_ends != (conditions.TA, conditions.TA))
        self._ways, self.corners = drawn.ways, drawn.members
        self.watched, self._worst = np.array([0]), {}

    def fitted(self, R1, RL):
        """Return the scenario with other resistors, and the dropper's capacitor that was reckoned with.

        Parameters
        ----------
        R1 : float
            Series resistor [ohm].
        RL : float
            Load resistor [ohm].

        Returns
        -------
        Scenario
            The scenario.
        """
        side = {FIELDS["R1"][1]: float(R1)} | ({"CD": self._sizes["CD"].chosen} if "CD" in self._sizes else {})
        load = {FIELDS["RL"][1]: float(RL)}
        made = self.scenario
        return replace(made, input=replace(made.input, **side), output=replace(made.output, **load))

    def holds(self, R1, RL, corner):
        """Return what holds where.

        Parameters
        ----------
        R1 : ndarray, shape (members,)
            Series resistor [ohm].
        RL : ndarray, shape (members,)
            Load resistor [ohm].
        corner : ndarray of int, shape (members,)
            Corner of each member.

        Returns
        -------
        dict of str to ndarray of bool, shape (members,)
            Code of a finding, or name of what is asked beside them, to whether it holds.
        """
        resistors = (np.concatenate([R[:1], R]) for R in (R1, RL))
        point = observed(self._stage(*resistors, np.concatenate([[0], corner]))).point()
        found = {f.code: f.holds for f in judged(point) if f.holds is not None}
        found = _saturating(point) | found | {name: asked(point) for name, asked in self._asked.items()}
        return {code: holds[1:] for code, holds in found.items()}

    def table(self, R1, RL, corners=None):
        """Return what holds with which resistors, at several corners each.

        Parameters
        ----------
        R1 : ndarray, shape (pairs,)
            Series resistor [ohm].
        RL : ndarray, shape (pairs,)
            Load resistor [ohm].
        corners : ndarray of int, shape (corners,), or None
            Corners of all of them; the watched ones if None.

        Returns
        -------
        dict of str to ndarray of bool, shape (pairs, corners)
            Code to whether it holds.
        """
        corners = self.watched if corners is None else corners
        found = self.holds(np.repeat(R1, len(corners)), np.repeat(RL, len(corners)), np.tile(corners, len(R1)))
        return {code: holds.reshape(len(R1), len(corners)) for code, holds in found.items()}

    def every_corner(self):
        """Return all corners.

        Returns
        -------
        ndarray of int
            Their numbers.
        """
        return np.arange(self.corners)

    def points(self, R1, RL, corners):
        """Return solved stages with other resistors, of some of the corners.

        Parameters
        ----------
        R1 : ndarray, shape (pairs,)
            Series resistor [ohm].
        RL : ndarray, shape (pairs,)
            Load resistor [ohm].
        corners : ndarray of int, shape (corners,)
            Corners of all of them, the nominal one first.

        Returns
        -------
        list of OperatingPoint
            One for each pair; their scenario is the one at hand, their members are of the other resistors.
        """
        n = len(R1)
        stage = self._stage(np.repeat(R1, len(corners)), np.repeat(RL, len(corners)), np.tile(corners, n))
        alike = {"members": len(corners), "scenarios": (self.scenario,) * n, "sizes": (self._sizes,) * n}
        solved = observed(replace(stage, **alike))
        return [solved.point(k) for k in range(n)]

    def watch(self, R1, RL):
        """Add the corners where a finding is worst with some resistors to those that are watched.

        Parameters
        ----------
        R1 : ndarray, shape (pairs,)
            Series resistor [ohm].
        RL : ndarray, shape (pairs,)
            Load resistor [ohm].
        """
        for point in self.points(R1, RL, self.every_corner()):
            for finding in judged(point):
                if finding.worst is not None:
                    self.note(finding.code, (finding.worst,))

    def note(self, code, corners):
        """Add corners where a finding is worst to those that are watched.

        Parameters
        ----------
        code : str
            Code of the finding.
        corners : iterable of int
            Their numbers.
        """
        self._worst.setdefault(code, set()).update(int(corner) for corner in corners)
        self.watched = np.array(sorted({0}.union(*self._worst.values())))

    def worst(self, code, failing):
        """Return the corners to follow a finding by, among those where it fails.

        Parameters
        ----------
        code : str
            Code of the finding.
        failing : ndarray of int
            Corners where it fails with some resistors.

        Returns
        -------
        ndarray of int
            Those that have been worst somewhere; all that fail where none of them has.
        """
        known = np.intersect1d(failing, sorted(self._worst.get(code, ())))
        return known if len(known) else failing

    def _stage(self, R1, RL, corner):
        """Return the circuits of members, the first of which is nominal."""
        shares = {"R1": R1 / self.present["R1"], "RL": RL / self.present["RL"]}
        light = self._light(R1) if self._fades_by_current else None
        return build_all((self.scenario,), _Sweep(self._ways, corner, shares, light), (self._sizes,))

    def IF(self, R1):
        """Return the LED current of the nominal stage with the LED lit.

        Parameters
        ----------
        R1 : ndarray, shape (values,)
            Series resistor [ohm].

        Returns
        -------
        ndarray, shape (values,)
            Current [A].
        """
        new = replace(self.scenario, conditions=replace(self.scenario.conditions, years=0.0))
        shares = {"R1": R1 / self.present["R1"]}
        nominal = _Sweep(self._ways, np.zeros(len(R1), dtype=int), shares, None)
        return observed(build_all((new,), nominal, (self._sizes,))).currents["LED"][: len(R1)]

    @property
    def _fades_by_current(self):
        """Whether what is left of the light depends on R1."""
        conditions = self.scenario.conditions
        return bool(conditions.years) and conditions.ageing == "stress"

    def _light(self, R1):
        """Return the light that is left with another R1, over what is left with the present one."""
        values, where = np.unique(R1, return_inverse=True)
        conditions = self.scenario.conditions
        hottest = conditions.TA_ends[1] + ZERO_CELSIUS
        left = [conditions.light_left(conditions.years, max(float(one), 0.0), hottest) for one in self.IF(values)]
        return np.maximum(left, FAINTEST)[where] / light_left(self.scenario)


def _saturating(point):
    """Return whether the load saturates, for a batch with members too dark for a ratio to say anything."""
    closed = point.states["closed"].quantities
    if "IC_available" not in closed:
        return {}
    return {"saturation": closed["IC_available"].members >= closed["IC_needed"].members}


def within(R):
    """Return the resistances that a scenario may have.

    Parameters
    ----------
    R : ndarray
        Resistances [ohm].

    Returns
    -------
    ndarray
        Those from `LEAST` to `MOST` [ohm].
    """
    return R[(R >= LEAST) & (R <= MOST)]


def rating_for(point, part):
    """Return the standard power rating that a part needs, at every corner of both states.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage, which has the part.
    part : str
        The part, a key of `engine.findings.fitting.FIELDS`.

    Returns
    -------
    float or None
        The rating; None where it has to be larger than any that is standard, or the part may take nothing [W].
    """
    side, _, field = FIELDS[part]
    shares = []
    for state in point.states.values():
        if part in state.powers:
            power = state.powers[part]
            with np.errstate(divide="ignore", invalid="ignore"):
                shares.append(np.nan_to_num(power.members / power.ratings, nan=0.0, posinf=np.inf).max())
    watts = max(shares) * getattr(getattr(point.scenario, side), field)
    return next((rating for rating in POWER_RATINGS if rating >= watts), None)
