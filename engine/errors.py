"""Errors of the engine: data as attributes, the sentence in ``__str__``.

Lowest layer: imports nothing of ours. Each error also is the builtin it refines.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One rejected field of a scenario.

    Attributes
    ----------
    field : str
        Key of the field as it stands in the query string.
    given : str
        What was given, shortened when it is very long.
    accepted : str
        What the field accepts, for people to read.
    reason : str
        One sentence that says what is wrong.
    """

    field: str
    given: str
    accepted: str
    reason: str

    def __str__(self):
        return f"{self.field}: {self.reason}; {self.accepted}"


class EngineError(Exception):
    """Common ancestor of every error that the engine raises on purpose."""


class QuantityError(EngineError, ValueError):
    """Text that cannot be read as the wanted quantity.

    Parameters
    ----------
    given : str
        The text, fit to be shown.
    reason : str
        What is wrong with it.
    accepted : str
        What could be written instead.
    """

    def __init__(self, given, reason, accepted):
        super().__init__(given, reason, accepted)
        self.given = given
        self.reason = reason
        self.accepted = accepted

    def __str__(self):
        return f"{self.reason}; {self.accepted}"


class ScenarioError(EngineError, ValueError):
    """A scenario that cannot be: carries every rejected field at once.

    Parameters
    ----------
    problems : iterable of Problem
        The rejected fields.
    """

    def __init__(self, problems):
        super().__init__(problems)
        self.problems = tuple(problems)

    def __str__(self):
        return "; ".join(str(problem) for problem in self.problems)


class CardError(EngineError, ValueError):
    """A coupler card with a line that cannot be read or cannot be true.

    Parameters
    ----------
    card : str
        Name of the card.
    line : str
        The line.
    reason : str
        What is wrong with it.
    """

    def __init__(self, card, line, reason):
        super().__init__(card, line, reason)
        self.card = card
        self.line = line
        self.reason = reason

    def __str__(self):
        return f"card {self.card}, {self.line}: {self.reason}"


class ConvergenceError(EngineError, ArithmeticError):
    """An operating point that was not found: a defect of the solver, never of the user's input.

    Parameters
    ----------
    iterations : int
        Iterations that were made.
    residual : float
        What Kirchhoff's current law leaves over [A].
    node : str
        The node where it does.
    scenario : str
        Query string that reproduces it, where it is known.
    """

    def __init__(self, iterations, residual, node, scenario=""):
        super().__init__(iterations, residual, node, scenario)
        self.iterations = iterations
        self.residual = residual
        self.node = node
        self.scenario = scenario

    def __str__(self):
        where = f" for {self.scenario}" if self.scenario else ""
        return (
            f"no operating point after {self.iterations} iterations{where}: {self.residual:.3g} A left at {self.node}"
        )
