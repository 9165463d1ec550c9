"""Remedies tried out: what mends a finding and makes no other one graver."""

from dataclasses import replace

import numpy as np

from engine.build import build_all, wiring
from engine.errors import ScenarioError
from engine.findings.finding import FAILING, SEVERITIES, Mend
from engine.findings.fitting import FIELDS, bigger_part
from engine.joining import parted, solved
from engine.operating import Observed
from engine.sizing import size

_LOADED = {f"power-{part.lower()}": part for part in FIELDS}


class Trials:
    """Remedies of one stage, each tried out by a solve; what has been solved is kept.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    findings : list of list of Finding
        What was found on it, by each of those that are asked.
    asked : tuple of callable
        From a solved stage to its findings, what takes a while last.
    remedies : callable
        From the code of a finding and a solved stage to its possible remedies.
    """

    def __init__(self, point, findings, asked, remedies):
        self.judged, *self.later = asked
        self.before = {finding.code: finding.severity for found in findings for finding in found}
        self.circuits, self.solved, self.seen_later = _Circuits(point.scenario), {}, {}
        self.point, self.remedies = point, remedies
        failing = [finding.code for finding in findings[0] if finding.severity in FAILING]
        # What a rule offers that takes a while may take a while to find.
        self.possible = {code: [mend for mend in remedies(code, point) if mend] for code in failing}
        self.circuits.expect([mend.scenario for mends in self.possible.values() for mend in mends[:1]])

    def remedy(self, code):
        """Return the first remedy that mends a rule and makes no other worse.

        Parameters
        ----------
        code : str
            Code of a finding that fails.

        Returns
        -------
        Mend or None
            The remedy, tried out; None if there is none.
        """
        for possible in self._offered(code):
            if not self._can_be(possible.scenario):
                continue
            mend = self._strengthened(possible)
            if self._mends(code, mend.scenario):
                return mend
        return None

    def _offered(self, code):
        """Yield the possible remedies of a rule; what comes after the first one is solved together."""
        if code not in self.possible:
            yield from filter(None, self.remedies(code, self.point))
            return
        first, rest = self.possible[code][:1], self.possible[code][1:]
        yield from first
        self.circuits.expect([mend.scenario for mend in rest])
        yield from rest

    def _mends(self, code, scenario):
        """Return whether another scenario mends a rule and makes no other worse; what takes a while is asked last."""
        quick = self._tried(scenario)[1]
        if self._graver(quick) or quick.get(code, "pass") != "pass":
            return False
        if code in quick and self._nothing_to_lose(quick):
            return True
        late = self._late(scenario)
        return not self._graver(late) and (quick | late).get(code) == "pass"

    def _nothing_to_lose(self, quick):
        """Return whether what takes a while cannot be graver than it is."""
        return all(severity == SEVERITIES[0] for code, severity in self.before.items() if code not in quick)

    def _strengthened(self, mend):
        """Return a remedy with stronger resistors where their power is all that it makes worse."""
        while (worse := self._worse(mend.scenario)) and all(code in _LOADED for code in worse):
            part = next(bigger_part(self._tried(mend.scenario)[0], _LOADED[min(worse)]), None)
            if part is None or part.scenario == mend.scenario:
                break
            mend = Mend(f"{mend.text} and {part.text}", part.scenario)
        return mend

    def _worse(self, scenario):
        """Return the codes of the rules that are broken, or graver, in another scenario only; without slow ones."""
        return self._graver(self._tried(scenario)[1])

    def _graver(self, found):
        """Return the codes of findings, by code and severity, that are graver than before."""
        rank = SEVERITIES.index
        return {
            code
            for code, severity in found.items()
            if severity in FAILING and rank(severity) < rank(self.before.get(code, "pass"))
        }

    def _can_be(self, scenario):
        """Return whether a scenario can be built: with another part in the loop an "auto" resistor may have no room."""
        try:
            self._tried(scenario)
        except ScenarioError:
            return False
        return True

    def _late(self, scenario):
        """Return the severity of every finding on another scenario that takes a while, by code."""
        if scenario not in self.seen_later:
            point = self._tried(scenario)[0]
            self.seen_later[scenario] = {f.code: f.severity for ask in self.later for f in ask(point)}
        return self.seen_later[scenario]

    def _tried(self, scenario):
        """Return another scenario solved, and the severity of every finding on it by code."""
        if scenario not in self.solved:
            point = self.circuits.point(scenario)
            self.solved[scenario] = point, {finding.code: finding.severity for finding in self.judged(point)}
        return self.solved[scenario]


class _Circuits:
    """Stages that may be tried: those that are wired alike are solved together, and no circuit twice.

    Parameters
    ----------
    scenario : Scenario
        The stage at hand.
    """

    def __init__(self, scenario):
        self._scenario = scenario
        self._waiting, self._solved = {}, {}

    def expect(self, scenarios):
        """Let stages be solved together with those that are asked for.

        Parameters
        ----------
        scenarios : sequence of Scenario
            The stages.
        """
        for circuit in map(self._circuit, scenarios):
            if circuit not in self._solved:
                self._waiting.setdefault(wiring(circuit), {}).setdefault(circuit)

    def point(self, scenario):
        """Return a solved stage.

        Parameters
        ----------
        scenario : Scenario
            The stage.

        Returns
        -------
        OperatingPoint
            As of `operating_point`.

        Raises
        ------
        ScenarioError
            If an "auto" resistor cannot be sized.
        ConvergenceError
            If the solver fails, which is a defect.
        """
        circuit = self._circuit(scenario)
        size(circuit)
        if circuit not in self._solved:
            self.expect([scenario])
            self._solve(tuple(filter(_sizable, self._waiting.pop(wiring(circuit)))))
        stage, solution = self._solved[circuit]
        return Observed(replace(stage, scenarios=(scenario,)), solution).point()

    def _solve(self, circuits):
        """Solve stages that are wired alike."""
        stage = build_all(circuits)
        solution = solved(stage)
        for k, circuit in enumerate(circuits):
            self._solved[circuit] = parted(stage, solution, np.array([k])) if len(circuits) > 1 else (stage, solution)

    def _circuit(self, scenario):
        """Return a scenario of the same circuit, without what only findings ask about: ratings and joined returns."""
        changes = {"conditions": replace(scenario.conditions, joined=self._scenario.conditions.joined)}
        for part, _, field in FIELDS.values():
            present, side = getattr(self._scenario, part), changes.get(part, getattr(scenario, part))
            if hasattr(side, field) and hasattr(present, field):
                changes[part] = replace(side, **{field: getattr(present, field)})
        return replace(scenario, **changes)


def _sizable(scenario):
    """Return whether the "auto" resistors of a stage can be sized."""
    try:
        size(scenario)
    except ScenarioError:
        return False
    return True
