"""What is given of a stage, in words: its parts and conditions, what its card states, what its receiver asks."""

from engine import CELSIUS, OHM, RATIO, UNITS, VOLT, as_typed, declared, reading
from webapp.words import CHOICES, WORDS

_MAIN = ("vac", "vs", "r1", "vcc", "rl", "ta")
_SIZED = {"r1": ("R1", OHM), "rl": ("RL", OHM), "cd": ("CD", UNITS["F"])}
_SIZES = frozenset({"if", "il"})  # currents that matter where a resistor is sized for them
_UNSAID = frozenset({"card", "sw", "meter", "coupler"})


def values_of(point, *, sized=True):
    """Return symbol and text of what makes a stage: what is always asked for, and all that is not as usual.

    Parts that were sized are told with their values, or are left out; with them the current they are sized for.
    """
    scenario = point.scenario
    rows = [("U1", scenario.coupling.data.title)]
    wanted = {key for key, R in (("if", scenario.input.R1), ("il", scenario.output.RL)) if R == "auto"}
    wanted |= {"if"} if scenario.input.kind == "limited" else set()  # a limiter sets it
    for part in scenario.parts():
        usual = type(part)()
        for name, parameter in declared(part).items():
            value, key = getattr(part, name), parameter.key
            asked = key in _MAIN or key in wanted or value != getattr(usual, name)
            if key in _UNSAID or not asked or (key in _SIZES and key not in wanted):
                continue
            text = _sized(point, key, sized) if value == "auto" else _text(value, parameter)
            if text:
                rows.append((_called(parameter), text))
    return tuple(rows)


def _called(parameter):
    """Return what a parameter is called: its symbol, or its label where that is more than one word."""
    return parameter.symbol if " " not in parameter.symbol else WORDS[parameter.key].label


def _sized(point, key, told):
    """Return the value of a part that was sized; nothing where that is to be found."""
    part, unit = _SIZED.get(key, ("", OHM))
    found = point.sized.get(part)
    return as_typed(found.chosen, unit) + ", sized" if told and found else ""


def _text(value, parameter):
    """Return a value as it is printed."""
    return CHOICES.get(value, value) if isinstance(value, str) else as_typed(value, parameter.unit)


def card_lines(scenario):
    """Return what the card of the coupler states, as far as one reckons with it by hand: line and text."""
    card = scenario.coupling.data
    typical = dict(card.VF_points).get(card.VF_IF, (card.VF_min + card.VF_max) / 2)
    rows = [("VF", f"typically {_read(typical, 'V')} at {_read(card.VF_IF, 'A')} and 25 °C")]
    if scenario.coupling.has_ratio:
        nominal, low, high = (" ".join(reading(ratio, RATIO)) for ratio in scenario.coupling.ratios())
        rows.append(("CTR", f"{nominal}, bin {low} to {high}, at {_read(card.CTR_IF, 'A')} and 25 °C"))
        rows.append(("VCE(sat)", f"typically {_read(card.VCE_sat, 'V')}"))
    else:
        rows.append(("Threshold", f"typically {_read(card.IF_typ, 'A')}, at most {_read(card.IF_on, 'A')}, at 25 °C"))
    return tuple(rows)


def receiver_line(point):
    """Return what the output side reads as what: symbol and text."""
    load, verdict = point.scenario.output, point.states["closed"].verdict
    unit = point.states["closed"].quantities[load.observed].unit
    low, high = (_read(limit, unit) for limit in (verdict.low_limit, verdict.high_limit))
    return load.observed, f"{load.words[0]} up to {low}, {load.words[-1]} from {high}"


def surroundings(scenario):
    """Return tolerances and temperatures: name and text."""
    conditions, side, load = scenario.conditions, scenario.input, scenario.output
    low, high = (as_typed(degrees, CELSIUS) for degrees in conditions.TA_ends)
    rows = [("Resistors", f"± {as_typed(conditions.tolerance, RATIO)}")]
    ends = side.line_ends if side.kind == "ac" else side.VS_ends
    for name, both in (("Input supply", ends), ("Output supply", load.VCC_ends)):
        least, most = (as_typed(float(f"{volts:.4g}"), VOLT) for volts in both)
        rows.append((name, f"{least} to {most}"))
    rows.append(("Ambient", low if low == high else f"{low} to {high}"))
    return tuple(rows)


def _read(value, unit):
    return " ".join(reading(value, UNITS[unit]))
