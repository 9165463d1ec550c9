"""The controls of the explorer: one field for each parameter, with label, help, slider and, where one is due, an error.

Limits and units belong to the engine; here are only words, the stops of the sliders and what was typed.
"""

from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache

from engine import (
    AMPERE,
    CELSIUS,
    FAMILIES,
    INPUTS,
    OHM,
    OUTPUTS,
    RATIO,
    VOLT,
    Conditions,
    Coupling,
    as_typed,
    card_names,
    declared,
    ladder,
    load_card,
    pairs_from,
)


@dataclass(frozen=True, slots=True)
class Words:
    """What a field is called and what it means.

    Attributes
    ----------
    label : str
        Name for people.
    help : str
        One sentence.
    more : bool
        Whether it stands among the further fields.
    resets : str
        Key of the field that goes back to "auto" when this one is moved.
    """

    label: str
    help: str
    more: bool = False
    resets: str = ""


WORDS = {
    "vs": Words("Supply voltage", "Voltage that drives the LED's loop."),
    "vstol": Words("Supply tolerance", "How far the supply may be off, either way.", more=True),
    "vsmin": Words("Supply, lowest", "Lowest supply that must still hold, or tol.", more=True),
    "vsmax": Words("Supply, highest", "Highest supply that must still hold, or tol.", more=True),
    "vi": Words(
        "V-I table", "Pairs of voltage and current, from no load to a short."
    ),
    "r1": Words("Series resistor", "Limits the LED's current; auto sizes it from the drive current."),
    "if": Words(
        "Drive current", "LED current to size the series resistor for; moving it sets R1 to auto.", resets="r1"
    ),
    "r1w": Words("R1 rating", "Power that the series resistor may take.", more=True),
    "rb": Words(
        "Bypass resistor", "Leads current past the LED, so that leakage does not light it, or none.", more=True
    ),
    "rbat": Words("Bypass across", "What it lies across: the LED, the whole input, or the switch.", more=True),
    "rbw": Words("Bypass rating", "Power that the bypass resistor may take.", more=True),
    "nd": Words(
        "Diodes in series", "Silicon diodes in series with the LED: protection, or a higher threshold.", more=True
    ),
    "ap": Words("Antiparallel diode", "Silicon diode across the LED that takes reverse voltage, or none.", more=True),
    "vz": Words("Zener in series", "Raises the voltage at which the LED begins to light, or none.", more=True),
    "lamp": Words("Input indicator", "Colour of an indicator LED on the input side, or none.", more=True),
    "lampat": Words(
        "Indicator in", "In series with the LED, or parallel to the input with its own resistor.", more=True
    ),
    "rh": Words("Indicator resistor", "Resistor of an indicator that is parallel to the input.", more=True),
    "ri": Words("Inside resistor", "Resistor within the coupler's input, or none.", more=True),
    "cf": Words(
        "Filter capacitor", "Capacitor across the LED; no direct current flows through it, or none.", more=True
    ),
    "rc": Words("Contact, closed", "Resistance of the closed contact.", more=True),
    "line": Words("Line", "Resistance of the line to the contact and back.", more=True),
    "leak": Words("Contact, open", "Leakage resistance of the open contact and its cable, or none.", more=True),
    "ires": Words("Residual current", "What the open contact lets through whatever the voltage.", more=True),
    "von": Words("Drop while on", "Voltage that the sensor keeps while it is on, at the drive current.", more=True),
    "ioff": Words("Leakage while off", "Largest current that the sensor lets through while it is off.", more=True),
    "imin": Words("Least load current", "Current that the sensor lives on while it is on.", more=True),
    "place": Words("Sensor at", "Whether it stands at the supply or at the return.", more=True),
    "voh": Words("Port high level", "High level at the drive current, or rail for the LED's supply.", more=True),
    "pins": Words("Pins lit at once", "Pins of the package that carry as much at the same time.", more=True),
    "ipack": Words("Package limit", "Current that all pins together may carry, or none.", more=True),
    "q": Words("Transistor", "Bipolar npn, or n-channel MOSFET."),
    "qat": Words("Transistor lies", "In series with the LED, or across it, where it lights the LED by blocking."),
    "vd": Words("Drive level", "High level of the logic that drives the transistor.", more=True),
    "r2": Words("Base resistor", "Resistor in the base or gate lead.", more=True),
    "hfe": Words("Current gain", "Current gain of the npn transistor; 100 % is 1.", more=True),
    "vth": Words("Gate threshold", "Threshold voltage of the MOSFET.", more=True),
    "ron": Words("On-resistance", "On-resistance of the MOSFET at the drive level.", more=True),
    "vdo": Words("Dropout voltage", "Voltage that the limiter needs for 95 % of its set current.", more=True),
    "limtol": Words("Set current tolerance", "How far the set current may be off, either way.", more=True),
    "limw": Words("Limiter rating", "Power that the limiter may take.", more=True),
    "rport": Words("Port resistance", "Output resistance of the port in either state.", more=True),
    "iport": Words("Port current limit", "Current that the port may carry.", more=True),
    "active": Words("Lit when the port is", "Whether the port lights the LED by going high or low.", more=True),
    "coupler": Words("Class", "Class of coupler: a card with the lines of a data sheet."),
    "card": Words("Own card", "Packed text of a card of your own, used where the class is own.", more=True),
    "ctr": Words(
        "Transfer ratio",
        "Collector current over LED current of this specimen at the card's test point: a percentage, or typ, min, max.",
    ),
    "ctrmin": Words("Bin, lowest", "Smallest transfer ratio of the bin, or card.", more=True),
    "ctrmax": Words("Bin, highest", "Largest transfer ratio of the bin, or card.", more=True),
    "rbe": Words("Base resistor", "Resistor from base to emitter, where the base is brought out, or none.", more=True),
    "vcc": Words("Output supply", "Voltage of the output side."),
    "vcctol": Words("Supply tolerance", "How far the output supply may be off, either way.", more=True),
    "vccmin": Words("Supply, lowest", "Lowest output supply that must still hold, or tol.", more=True),
    "vccmax": Words("Supply, highest", "Highest output supply that must still hold, or tol.", more=True),
    "rl": Words("Load resistor", "Turns the collector current into a voltage; auto sizes it from the load current."),
    "il": Words("Load current", "Current to size the load resistor for; moving it sets RL to auto.", resets="rl"),
    "rlw": Words("RL rating", "Power that the load resistor may take.", more=True),
    "logic": Words("Receiver", "Logic family that reads the output."),
    "vil": Words("Reads low up to", "Largest voltage that surely reads low, or family.", more=True),
    "vih": Words("Reads high from", "Smallest voltage that surely reads high, or family.", more=True),
    "iin": Words("Input leakage", "Largest leakage of the receiver's input, or family.", more=True),
    "colour": Words("Indicator", "Colour of the indicator LED."),
    "ilit": Words("Lit from", "Current from which the indicator counts as lit.", more=True),
    "idark": Words("Dark up to", "Current up to which the indicator counts as dark.", more=True),
    "ta": Words("Ambient", "Temperature around the coupler."),
    "tol": Words("Resistors", "Tolerance of both resistors."),
    "round": Words("Rounding", "Direction in which an auto resistor is rounded."),
    "series": Words("Series", "Preferred series that auto resistors are taken from."),
    "vb": Words("Across the barrier", "Working voltage between the sides, rms or direct, or none.", more=True),
    "pd": Words("Pollution degree", "1 dry or sealed, 2 indoors, 3 where dust or moisture conducts.", more=True),
    "ins": Words("Insulation grade", "Grade of insulation that is asked of the coupler.", more=True),
    "sw": Words("Switch", "State that the schematic shows; both are always solved."),
}
"""Key to words; a house test compares the keys with the engine's."""

CHOICES = {
    **{name: kind.title for name, kind in (*INPUTS.items(), *OUTPUTS.items())},
    **{name: load_card(name).title for name in card_names()},
    "own": "Own card",
    **{name: family.title for name, family in FAMILIES.items()},
    "led": "LED",
    "input": "input",
    "switch": "switch",
    "npn": "npn",
    "mosfet": "n-channel MOSFET",
    "series": "in series",
    "across": "across the LED",
    "parallel": "parallel to the input",
    "nearest": "nearest",
    "up": "next up",
    "down": "next down",
}
"""Word of the query string to words for people, where they differ."""


@dataclass(frozen=True, slots=True)
class Slider:
    """A slider that steps through values written as text.

    Attributes
    ----------
    stops : tuple of str
        The values.
    position : int
        Index of the stop nearest to the value in force.
    """

    stops: tuple
    position: int

    @property
    def last(self):
        """Return the index of the last stop."""
        return len(self.stops) - 1


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field as printed.

    Attributes
    ----------
    key : str
        Name in the query string.
    symbol : str
        Symbol of the trade.
    label : str
        Name for people.
    help : str
        One sentence.
    accepted : str
        What it accepts.
    longest : int
        The most characters that may be typed.
    text : str
        What stands in it.
    words : tuple of str
        Words it accepts beside a number.
    options : tuple of (str, str)
        Choices as word and words for people; empty for a quantity.
    slider : Slider or None
        The slider, for quantities that are often dragged.
    resets : str
        Key of the field that goes back to "auto" when this one is moved.
    hint : str
        What the solved stage has to say about it.
    error : str
        What is wrong with what stands in it; empty if nothing is.
    """

    key: str
    symbol: str
    label: str
    help: str
    accepted: str
    longest: int
    text: str
    words: tuple
    options: tuple
    slider: Slider | None
    resets: str
    hint: str
    error: str


@dataclass(frozen=True, slots=True)
class GroupView:
    """The fields of one part of the stage.

    Attributes
    ----------
    name : str
        "input", "coupler", "output" or "conditions".
    title : str
        Heading.
    kind : FieldView or None
        Choice of the kind of side or the class of coupler.
    fields : tuple of FieldView
        What is dragged.
    more : tuple of FieldView
        What is seldom changed.
    """

    name: str
    title: str
    kind: FieldView | None
    fields: tuple
    more: tuple


@lru_cache(maxsize=64)
def _stops(key, series, span):
    """Return the stops of a slider and their values, for one of the spans that it may have."""
    if key in ("r1", "rl"):
        values, unit = ladder(100.0, span, series), OHM
    elif key in ("if", "il"):
        values, unit = ladder(1e-4, span, "E24"), AMPERE
    elif key == "ctr":
        values, unit = (
            tuple(percent / 100 for percent in (*range(10, 100, 2), *range(100, 200, 5), *range(200, 605, 10))),
            RATIO,
        )
    elif key == "ta":
        values, unit = tuple(float(T) for T in range(-40, 126)), CELSIUS
    else:
        step = next(step for step in (0.05, 0.1, 0.5, 1.0, 5.0) if span / step <= 200)
        values, unit = tuple(round(k * step, 2) for k in range(round(span / step) + 1)), VOLT
    return tuple(as_typed(value, unit) for value in values), values


_SPANS = {
    "vs": dict.fromkeys(INPUTS, (72.0, 400.0, 1000.0)) | {"logic": (6.0, 30.0, 1000.0)},
    "vcc": {"indicator": (30.0, 150.0, 1000.0), "pull-up": (6.0, 30.0, 1000.0), "pull-down": (6.0, 30.0, 1000.0)},
    "r1": (1e6, 1e8),
    "rl": (1e6, 1e8),
    "if": (5e-2, 1.0),
    "il": (5e-2, 1.0),
    "ctr": (6.0,),
    "ta": (125.0,),
}
"""Key of a slider to the upper ends it may have: the first that holds the value is taken."""


def slider_for(key, kind, series, value):
    """Return the slider of a field at a value; None for fields without one."""
    if key not in _SPANS:
        return None
    spans = _SPANS[key][kind] if isinstance(_SPANS[key], dict) else _SPANS[key]
    span = next((span for span in spans if value <= span), spans[-1])
    stops, values = _stops(key, series, span)
    above = min(bisect_left(values, value), len(values) - 1)
    below = max(above - 1, 0)
    return Slider(stops, below if value - values[below] < values[above] - value else above)


def groups(scenario, values, hints, given=None, problems=()):
    """Return the controls.

    Parameters
    ----------
    scenario : Scenario
        The scenario in force: its kinds decide which fields there are.
    values : dict of str to float
        Key of a slider to the value in force, in SI units.
    hints : dict of str to str
        Key to what the solved stage has to say.
    given : dict of str to str or None
        What was typed, where it differs from the scenario because it was refused.
    problems : iterable of Problem
        What was refused.

    Returns
    -------
    tuple of GroupView
        Input side, coupler, output side, conditions.
    """
    texts = dict(pairs_from(scenario, readable=True)) | (given or {})
    errors = {}
    for view in problem_views(problems):
        errors.setdefault(view.field, view.text)
    make = _Maker(scenario, texts, values, hints, errors)
    side_in, side_out = scenario.input, scenario.output
    return (
        make.group("input", "Input side", side_in, make.kind("in", "Driven by", INPUTS)),
        make.group("coupler", "Coupler", Coupling, make.field("coupler", declared(Coupling)["card"])),
        make.group("output", "Output side", side_out, make.kind("out", "Works on", OUTPUTS)),
        make.group("conditions", "Conditions", Conditions, None),
    )


@dataclass(frozen=True, slots=True)
class _Maker:
    """Makes the fields of one form."""

    scenario: object
    texts: dict
    values: dict
    hints: dict
    errors: dict

    def group(self, name, title, record, kind):
        """Return the fields of one record."""
        keys = {p.key: p for p in declared(record).values() if p.key != "coupler"}
        made = {key: self.field(key, parameter, getattr(record, "kind", "")) for key, parameter in keys.items()}
        often = tuple(made[key] for key in sorted(keys, key=_ORDER.index) if not WORDS[key].more)
        more = tuple(made[key] for key in sorted(keys, key=_ORDER.index) if WORDS[key].more)
        return GroupView(name, title, kind, often, more)

    def kind(self, key, label, kinds):
        """Return the choice of the kind of a side."""
        options = tuple((name, kind.title) for name, kind in kinds.items())
        error = self.errors.get(key, "")
        accepted = ", ".join(name for name, _ in options)
        return FieldView(key, "", label, "", accepted, _TYPED, self.texts[key], (), options, None, "", "", error)

    def field(self, key, parameter, kind=""):
        """Return one field."""
        words = WORDS[key]
        options = tuple((word, CHOICES.get(word, word)) for word in parameter.words) if not parameter.unit else ()
        slider = slider_for(key, kind, self.scenario.conditions.series, self.values.get(key, 0.0))
        return FieldView(
            key, parameter.symbol, words.label, words.help, parameter.accepted, parameter.longest or _TYPED,
            self.texts[key], () if options else parameter.words, options, slider, words.resets,
            self.hints.get(key, ""), self.errors.get(key, ""),
        )  # fmt: skip


_ORDER = list(WORDS)
_TYPED = 60  # characters, more than any quantity needs


@dataclass(frozen=True, slots=True)
class ProblemView:
    """A refused field as printed.

    Attributes
    ----------
    field : str
        Key of the field.
    label : str
        Its name for people.
    text : str
        What is wrong, and what is accepted.
    """

    field: str
    label: str
    text: str


def problem_views(problems):
    """Return refused fields as printed, each named as its control is."""
    return tuple(ProblemView(p.field, _label(p.field), f"{p.reason}; accepted: {p.accepted}") for p in problems)


def _label(key):
    """Return what a field is called, or its key where no control has it."""
    if key in WORDS:
        return WORDS[key].label
    return {"in": "Input side", "out": "Output side", "": "Address"}.get(key, key)


@dataclass(frozen=True, slots=True)
class Follower:
    """What follows the solved stage beside a control.

    Attributes
    ----------
    key : str
        The control.
    position : int
        Where its slider stands.
    last : int
        Index of the last stop of a slider that covers the value.
    stop : str
        The value there.
    hint : str
        The remark under it.
    """

    key: str
    position: int
    last: int
    stop: str
    hint: str


def followers(scenario, values, hints):
    """Return what follows the solved stage, for every control with a slider."""
    kinds = {p.key: record.kind for record in (scenario.input, scenario.output) for p in declared(record).values()}
    made = []
    for key, value in values.items():
        slider = slider_for(key, kinds.get(key, ""), scenario.conditions.series, value)
        stop = slider.stops[slider.position]
        made.append(Follower(key, slider.position, slider.last, stop, hints.get(key, "")))
    return tuple(made)
