"""What is typed into panels: whole numbers, quantities, choices; every problem at once."""

from engine import (
    DISTRIBUTIONS,
    LEAST_SAMPLES,
    MOST_SEED,
    UNITS,
    Plan,
    Problem,
    QuantityError,
    Scenario,
    ScenarioError,
    as_typed,
    most_samples,
    parse,
    quick_samples,
    shown,
)


class Typed:
    """Reads texts by their keys, and collects what is wrong with them.

    Parameters
    ----------
    texts : dict of str to str
        What was typed, by key.
    """

    def __init__(self, texts: dict[str, str]) -> None:
        self._texts = texts
        self.problems: list[Problem] = []

    def whole(self, key: str, usual: int, low: int, high: int) -> int:
        """Return a whole number, the usual one where nothing usable was typed."""
        value = self.quantity(key, "count", float(usual), (float(low), float(high)))
        if value == int(value):
            return int(value)
        self._refuse(key, self._texts[key], f"a whole number from {low} to {high}", "it is no whole number")
        return usual

    def quantity(self, key: str, unit: str, usual: float | None, bounds: tuple[float, float]) -> float | None:
        """Return a quantity, the usual one where nothing usable was typed."""
        text = self._texts.get(key, "").strip()
        if not text:
            return usual
        low, high = (as_typed(end, UNITS[unit]) if unit != "count" else f"{end:.0f}" for end in bounds)
        try:
            value = parse(text, UNITS[unit])
        except QuantityError as error:
            self._refuse(key, error.given, f"{low} to {high}", error.reason)
            return usual
        if bounds[0] <= value <= bounds[1]:
            return value
        self._refuse(key, text, f"{low} to {high}", f"{shown(text)} is out of range")
        return usual

    def choice(self, key: str, words: tuple[str, ...]) -> str:
        """Return a word, the first where nothing usable was typed."""
        text = self._texts.get(key, "").strip() or words[0]
        if text in words:
            return text
        self._refuse(key, text, f"one of {', '.join(words)}", f"'{shown(text)}' is not a choice")
        return words[0]

    def _refuse(self, key, given, accepted, reason):
        self.problems.append(Problem(key, shown(given), accepted, reason))


def plan_asked(typed: Typed, scenario: Scenario, usual: int | None = None) -> Plan:
    """Return the plan that is typed; what is wrong with it is left with `typed`."""
    most = most_samples(scenario)
    samples = typed.whole("samples", quick_samples(scenario) if usual is None else usual, LEAST_SAMPLES, most)
    return Plan(samples, typed.whole("seed", 1, 0, MOST_SEED), typed.choice("dist", DISTRIBUTIONS))


def plan_for(texts: dict[str, str], scenario: Scenario, usual: int | None = None) -> Plan:
    """Return the plan that is typed; raise ScenarioError with all that is wrong with it."""
    typed = Typed(texts)
    plan = plan_asked(typed, scenario, usual)
    if typed.problems:
        raise ScenarioError(typed.problems)
    return plan


def told(problems) -> str:
    """Return problems in a sentence or more; empty if there are none."""
    return " ".join(f"{_LABELS.get(p.field, p.field)}: {p.reason}; accepted: {p.accepted}." for p in problems)


_LABELS = {
    "samples": "Samples",
    "seed": "Draw",
    "dist": "Tolerances",
    "q": "Quantity",
    "count": "Couplers",
    "at": "Surroundings",
    "by": "Readings",
    "vr1": "Across R1",
    "vrl": "Across RL",
    "if": "IF",
    "ic": "IC",
    "vce": "VCE",
    "acc": "Accuracy",
    "tb": "Time of bouncing",
    "bounces": "Bounces",
    "square": "Rate",
    "dv": "Step",
    "slope": "Slope",
}
"""Key of a panel's own value to its label."""
