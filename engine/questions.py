"""Questions that a stage answers: what is asked, what is to be found, the window of every good unit, the steps by hand.

What is asked gives no answer away, nor that of another question. Nothing is solved here but what a question asks to
be changed.
"""

from dataclasses import dataclass, replace

from engine.cycling import over_cycle
from engine.errors import ScenarioError
from engine.findings import findings_of
from engine.operating import operating_point
from engine.quantity import AMPERE, FARAD, OHM, RATIO, VOLT, as_typed, reading
from engine.sizing import size
from engine.worked import Comparison, needed_by_hand, reasoning_of, typical_VF

_YES_NO = ("yes", "no")
_ROUNDED = {"nearest": "lies nearest to it", "up": "is the next one above it", "down": "is the next one below it"}
_LOWERED, _WEAKENED = 0.8, 0.5  # [-], what is left of a supply, and of a coupler's light, where that is asked


@dataclass(frozen=True, slots=True)
class Blank:
    """One thing to be found: a figure, or a word.

    Attributes
    ----------
    name : str
        What it is called.
    unit : str
        Name of the SI unit; empty where a word is asked for.
    words : tuple of str
        Words to choose from; empty where a figure is asked for.
    value : float
        The figure of the nominal stage; 0 where a word is asked for [unit].
    low : float
        The least that a good unit may have [unit].
    high : float
        The most [unit].
    word : str
        The word; empty where a figure is asked for.
    """

    name: str
    unit: str
    words: tuple
    value: float
    low: float
    high: float
    word: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes
    ----------
    code : str
        Stable name.
    asks : str
        The question.
    blanks : tuple of Blank
        What is to be found.
    steps : tuple of Comparison
        How it is worked out by hand, beside the full solve.
    told : str
        What else explains the answer; empty where the steps do.
    """

    code: str
    asks: str
    blanks: tuple
    steps: tuple
    told: str


def questions_of(point):
    """Return the questions that a stage answers, in the order in which one works.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.

    Returns
    -------
    tuple of Question
        Those that the kinds of its sides and its coupler have an answer to.

    Raises
    ------
    ConvergenceError
        If a changed stage cannot be solved, which is a defect.
    """
    lit, dark = ({one.symbol: one for one in reasoning_of(point, state).comparisons} for state in ("closed", "open"))
    stage = _Asked(point, point.states["closed"].quantities, lit, dark)
    return tuple(question for ask in _ORDER if (question := ask(stage)) is not None)


@dataclass(frozen=True, slots=True)
class _Asked:
    """A stage as questions see it: solved, its quantities while lit, by hand beside solved in both states."""

    point: object
    found: dict
    lit: dict
    dark: dict

    @property
    def scenario(self):
        return self.point.scenario

    @property
    def on(self):
        """Return the state that lights the LED in words."""
        return self.scenario.input.states["closed"]

    @property
    def observed(self):
        return self.scenario.output.observed


def _print(value, unit):
    return " ".join(reading(value, unit))


def _figure(name, found, unit=None):
    """Return the blank for a figure with its range."""
    return Blank(name, unit or found.unit, (), found.value, found.low, found.high, "")


def _exactly(name, unit, value):
    """Return the blank for a figure that has no range."""
    return Blank(name, unit, (), value, value, value, "")


def _word(name, words, word):
    """Return the blank for a word."""
    return Blank(name, "", tuple(words), 0.0, 0.0, 0.0, word)


def _yes(name, held):
    """Return the blank for a yes or a no."""
    return _word(name, _YES_NO, _YES_NO[0 if held else 1])


# ---------------------------------------------------------------- the input side


def _forward_voltage(stage):
    card, VF = stage.scenario.coupling.data, stage.found["VF"]
    stated = _print(typical_VF(card), VOLT)
    if stated == _print(VF.value, VOLT):  # the card tells it
        return None
    asks = (
        f"Which voltage do you expect across the LED of the coupler, {stage.on}? Its card states typically {stated} at "
        f"{_print(card.VF_IF, AMPERE)} and 25 °C."
    )
    if stage.scenario.input.kind == "ac":
        asks += " Take the crest of the LED current."
    points = ", ".join(f"{_print(V, VOLT)} at {_print(IF, AMPERE)}" for IF, V in card.VF_points)
    told = f"The curve of the card goes through {points}; {stage.lit['IF'].why}"
    return Question("forward-voltage", asks, (_figure("VF", VF),), (), told)


def _wanted_resistor(stage):
    """Ask for the resistor that is sized here."""
    sized, scenario = stage.point.sized["R1"], stage.scenario
    if not sized.automatic or scenario.input.capacitive or sized.exact is None:
        return None
    return _resistor("size-r1", "The LED is to get", scenario, sized)


def _other_resistor(stage):
    """Ask for the resistor that another current would take, where one is fitted."""
    side, fitted = stage.scenario.input, stage.point.sized["R1"]
    if fitted.automatic or side.capacitive or side.kind == "limited" or not stage.found["IF"].value > 0:
        return None
    for times in (2.0, 0.5):
        current = float(f"{times * stage.found['IF'].value:.1g}")
        try:
            other = replace(stage.scenario, input=replace(side, R1="auto", IF=current))
            sized = size(other)["R1"]
        except ScenarioError:
            continue
        if sized.exact is not None:
            return _resistor("other-r1", "Suppose that the LED were to get", other, sized)
    return None


def _resistor(code, begins, scenario, sized):
    """Return the question for R1 from a wanted current."""
    side, card, IF = scenario.input, scenario.coupling.data, scenario.input.IF
    mean = " on the average over the cycle" if side.kind == "ac" else ""
    asks = (
        f"{begins} IF = {as_typed(IF, AMPERE)}{mean}. Which R1 would give that exactly, and which value of the series "
        f"{sized.series} {_ROUNDED[sized.rounding]}?"
    )
    VF = typical_VF(card)
    ends = sized.exact - (card.VF_max - VF) / IF, sized.exact + (VF - card.VF_min) / IF
    exact = Blank("R1, exactly", "ohm", (), sized.exact, min(ends[0], sized.exact), max(ends[1], sized.exact), "")
    steps = () if side.kind in ("ac", "limited") else (_resistor_by_hand(scenario, VF, sized),)
    told = "The window of the exact value is what the least and the largest VF of the card make of it."
    return Question(code, asks, (exact, _exactly(f"R1, of {sized.series}", "ohm", sized.chosen)), steps, told)


def _resistor_by_hand(scenario, VF, sized):
    """Return R1 by hand: what is left of the supply, over the current."""
    side, drop, past = scenario.input, scenario.input.drop_by_hand, scenario.input.past_led_by_hand(VF)
    top = f"{_print(side.VS, VOLT)} - VF" + (f" - {_print(drop, VOLT)}" if drop else "")
    below = f"(IF + {_print(past, AMPERE)} past the LED)" if past else "IF"
    by_hand = (side.VS - VF - drop) / (side.IF + past)
    return Comparison(
        "R1", f"({top}) / {below}", by_hand, sized.exact, "ohm",
        f"VF was taken as {_print(VF, VOLT)}, and all that is in series as constant.",
    )  # fmt: skip


def _capacitor(stage):
    sized = stage.point.sized.get("CD")
    if sized is None or not sized.automatic or sized.exact is None:
        return None
    asks = (
        f"The LED is to get IF = {as_typed(stage.scenario.input.IF, AMPERE)} on the average over the cycle. Which CD "
        f"would give that exactly, and which value of the series {sized.series} lies nearest to it?"
    )
    blanks = _exactly("CD, exactly", "F", sized.exact), _exactly(f"CD, of {sized.series}", "F", sized.chosen)
    told = f"Its reactance at the line's frequency drops nearly all of the line voltage: {_print(sized.exact, FARAD)}."
    return Question("size-cd", asks, blanks, (), told)


def _drive(stage):
    where = " at its crest" if stage.scenario.input.kind == "ac" else ""
    fitted = stage.point.sized["R1"]
    chosen = f"the R1 of {fitted.series} from before" if fitted.automatic else "the R1 that is fitted"
    chosen = "the parts that are fitted" if stage.scenario.input.capacitive else chosen
    asks = f"Which current IF flows through the LED{where}, {stage.on}, with {chosen}?"
    return Question("drive", asks, (_figure("IF", stage.found["IF"]),), (stage.lit["IF"],), "")


# ---------------------------------------------------------------- the coupler and its load


def _load_resistor(stage):
    sized, load = stage.point.sized["RL"], stage.scenario.output
    if not sized.automatic or sized.exact is None:
        return None
    asks = (
        f"RL is to let IL = {as_typed(load.IL, AMPERE)} flow. Which RL would give that exactly, and which value of the "
        f"series {sized.series} {_ROUNDED[sized.rounding]}?"
    )
    blanks = _exactly("RL, exactly", "ohm", sized.exact), _exactly(f"RL, of {sized.series}", "ohm", sized.chosen)
    told = (
        f"{_print(load.V_for_RL, VOLT)} less what the coupler's output and the parts beside RL keep, over IL: "
        f"{_print(sized.exact, OHM)}."
    )
    return Question("size-rl", asks, blanks, (), told)


def _load_current(stage):
    if "IC_needed" not in stage.found:
        return None
    asks = (
        "Which collector current IC do the load and the receiver take while the detector keeps its typical VCE(sat), "
        f"{_print(stage.scenario.coupling.data.VCE_sat, VOLT)}?"
    )
    blank = _figure("IC needed", stage.found["IC_needed"])
    return Question("load-current", asks, (blank,), (needed_by_hand(stage.point),), "")


def _needed_ratio(stage):
    if "CTR_needed" not in stage.found:
        return None
    asks = "Which current transfer ratio CTR does the coupler need at the least for that, at the IF that flows?"
    IC, IF = needed_by_hand(stage.point).by_hand, stage.lit["IF"].by_hand
    step = Comparison(
        "CTR needed", "IC needed / IF", IC / IF if IF > 0 else 0.0, stage.found["CTR_needed"].value, "1",
        f"Here the coupler has {_print(stage.found['CTR_available'].value, RATIO)}.",
    )  # fmt: skip
    return Question("needed-ratio", asks, (_figure("CTR needed", stage.found["CTR_needed"]),), (step,), "")


def _saturated(stage):
    if "IC_available" not in stage.found or "overdrive" not in stage.found:
        return None
    over, available = stage.found["overdrive"], stage.found["IC_available"]
    asks = (
        "How many times over can the coupler give the collector current that the load takes? Is the detector "
        "saturated with it, and would it still be with the weakest coupler of the bin, at the worst corner?"
    )
    blanks = (
        _figure("IC available / IC needed", over, "count"),
        _yes("saturated", over.value >= 1.0),
        _yes("at worst too", over.low >= 1.0),
    )
    told = (
        f"IC available, {_print(available.value, AMPERE)}, over IC needed is {over.value:.3g}. At worst it is "
        f"{over.low:.3g}; from 1 on the detector is saturated."
    )
    return Question("saturated", asks, blanks, (stage.lit["IC available"],), told)


def _switches(stage):
    if "IF_needed" not in stage.found:
        return None
    over = stage.found["overdrive"]
    asks = (
        "How many times its threshold does the LED current reach? Does the coupler switch with it, and does the one "
        "that asks for most still, at the worst corner?"
    )
    blanks = (
        _figure("IF / IF needed", over, "count"),
        _yes("switches", over.value >= 1.0),
        _yes("at worst too", over.low >= 1.0),
    )
    told = f"IF over IF needed is {over.value:.3g}, at worst {over.low:.3g}; from 1 on it switches."
    return Question("switches", asks, blanks, (stage.lit["IF needed"],), told)


def _kept_voltage(stage):
    if "VCE" not in stage.lit or "VCE" not in stage.found:
        return None
    across = "from collector to emitter" if stage.scenario.coupling.has_ratio else "across the coupler's output"
    asks = f"Which voltage VCE is left {across}, {stage.on}?"
    return Question("kept-voltage", asks, (_figure("VCE", stage.found["VCE"]),), (stage.lit["VCE"],), "")


# ---------------------------------------------------------------- what is read


def _limits(stage):
    """Return what is read as what, in words."""
    load, verdict = stage.scenario.output, stage.point.states["closed"].verdict
    low, high = (as_typed(float(f"{end:.3g}"), _unit(stage)) for end in (verdict.low_limit, verdict.high_limit))
    return f"It is {load.words[0]} up to {low}, and {load.words[-1]} from {high}."


def _unit(stage):
    return VOLT if stage.found[stage.observed].unit == "V" else AMPERE


def _level(stage):
    load, verdict = stage.scenario.output, stage.point.states["closed"].verdict
    asks = f"Which {stage.observed} is there, {stage.on}, and what is read? {_limits(stage)}"
    blanks = _figure(stage.observed, stage.found[stage.observed]), _word("read", load.words, verdict.level)
    return Question("level", asks, blanks, (), "Follows from the answers before; the solver heeds what is beside RL.")


def _worst(stage):
    found, verdict = stage.found[stage.observed], stage.point.states["closed"].verdict
    asks = (
        f"Take every tolerance at its worst, any coupler of the bin, and every temperature that is asked for. Between "
        f"which ends may {stage.observed} lie, {stage.on}? Is what is read then still sure at every corner?"
    )
    blanks = (
        _exactly(f"{stage.observed}, least", found.unit, found.low),
        _exactly(f"{stage.observed}, most", found.unit, found.high),
        _yes("sure", verdict.sure),
    )
    return Question("worst", asks, blanks, (), _tightest(stage.point))


def _tightest(point):
    """Return the gravest finding, or the one that is nearest to its limit."""
    found = findings_of(point, remedies=False, slow=False)
    failing = [one for one in found if one.severity in ("stop", "caution")]
    one = failing[0] if failing else min((f for f in found if f.margin > 0.0), key=lambda f: f.margin, default=None)
    if one is None:
        return ""
    return ("What fails first: " if failing else "Nearest to its limit: ") + one.reason


def _dark(stage):
    state, load = stage.point.states["open"], stage.scenario.output
    off = stage.scenario.input.states["open"]
    through = "IC" if "IC" in stage.dark else "IL"
    asks = (
        f"Now {off}: how much current leaks through the coupler's output at worst, which {stage.observed} is there, "
        f"and what is read?"
    )
    leak = state.quantities[through]
    blanks = (
        _exactly(f"{through}, at worst", "A", max(abs(leak.low), abs(leak.high))),
        _figure(stage.observed, state.quantities[stage.observed]),
        _word("read", load.words, state.verdict.level),
    )
    return Question("dark", asks, blanks, tuple(stage.dark.values()), "")


def _gap(stage):
    if stage.scenario.input.kind != "ac":
        return None
    unlit = over_cycle(stage.scenario).figures.get("unlit")
    if unlit is None:
        return None
    asks = "For how long in a row, over one cycle of the line, is the output not surely read as lit?"
    told = "A program that reads the output has to wait for longer than the largest of these."
    return Question("gap", asks, (_figure("gap", unlit),), (), told)


# ---------------------------------------------------------------- what if


def _what_if(stage):
    """Ask what a weaker coupler, or a lower supply, makes of the stage."""
    scenario, side = stage.scenario, stage.scenario.input
    changes = []
    if scenario.coupling.has_ratio:
        ratio = _WEAKENED * scenario.coupling.ratios()[0]
        changes.append(("What if the coupler had lost half of its light", {"coupling": ("CTR", ratio)}))
    supply = "V_line" if side.kind == "ac" else "VS"
    changes.append(("What if the input supply were 20 % lower", {"input": (supply, _LOWERED * side.V_named)}))
    for words, change in changes:
        try:
            ((part, (field, value)),) = change.items()
            changed = replace(scenario, **{part: replace(getattr(scenario, part), **{field: value})})
            other = operating_point(_as_fitted(changed, stage.point.sized))
        except (ScenarioError, TypeError):
            continue
        return _changed(stage, words, other)
    return None


def _as_fitted(scenario, sized):
    """Return a changed stage with the parts that were fitted before, instead of sized anew."""
    side = replace(scenario.input, R1=sized["R1"].chosen)
    if "CD" in sized:
        side = replace(side, CD=sized["CD"].chosen)
    return replace(scenario, input=side, output=replace(scenario.output, RL=sized["RL"].chosen))


def _changed(stage, words, other):
    """Return the question about a changed stage."""
    state, load = other.states["closed"], stage.scenario.output
    found = state.quantities
    asks = f"{words}, all parts fitted as before: which {stage.observed} would there be, {stage.on}, and what is read?"
    blanks = [_figure(stage.observed, found[stage.observed]), _word("read", load.words, state.verdict.level)]
    told = f"IF would be {_print(found['IF'].value, AMPERE)}"
    if "overdrive" in found:
        before = stage.found["overdrive"].value
        blanks.insert(0, _figure("times over", found["overdrive"], "count"))
        asks = asks.replace("which", "how many times over is there what it takes, which", 1)
        told += f"; there would be {found['overdrive'].value:.3g} times what it takes, instead of {before:.3g} times"
    sure = "surely read at every corner" if state.verdict.sure else "not sure at every corner"
    return Question("what-if", asks, tuple(blanks), (), f"{told}. The level would be {sure}.")


_ORDER = (
    _forward_voltage,
    _wanted_resistor,
    _capacitor,
    _drive,
    _other_resistor,
    _load_resistor,
    _load_current,
    _needed_ratio,
    _saturated,
    _switches,
    _kept_voltage,
    _level,
    _worst,
    _dark,
    _gap,
    _what_if,
)
"""Questions in the order in which one works."""
