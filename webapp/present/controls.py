"""What the solved stage has to say about its controls: hints under the sliders, and where the sliders stand."""

from engine import AMPERE, OHM, RATIO, as_typed, declared, over_cycle, reading


def values_in_force(point):
    """Return key to the value in force, in SI units, for every control that has a slider."""
    scenario, sized = point.scenario, point.sized
    closed = point.states["closed"].quantities
    side, load = scenario.input, scenario.output
    ratio = {"ctr": scenario.coupling.ratios()[0]} if scenario.coupling.has_ratio else {}
    values = ratio | {
        "vac" if side.kind == "ac" else "vs": side.V_named,
        "r1": sized["R1"].chosen,
        "if": side.IF if sized["R1"].automatic else max(_drive(point), 0.0),
        "vcc": load.VCC,
        "rl": sized["RL"].chosen,
        "il": load.IL if sized["RL"].automatic else max(closed["IL"].value, 0.0),
        "ta": scenario.conditions.TA,
    }
    keys = {p.key for part in scenario.parts() for p in declared(part).values()}
    return {key: value for key, value in values.items() if key in keys}


def hints(point):
    """Return key to a short remark, for the controls about which the solved stage has one."""
    scenario, closed = point.scenario, point.states["closed"].quantities
    return {
        "r1": _resistor(point.sized["R1"], scenario.input.IF),
        "if": _current("solved" if scenario.input.kind != "ac" else "average solved", _drive(point)),
        "ctr": _ratio(scenario.coupling, closed.get("CTR_available")) if scenario.coupling.has_ratio else "",
        "rl": _resistor(point.sized["RL"], scenario.output.IL),
        "il": _current("solved", closed["IL"].value),
    }


def _drive(point):
    """Return the solved LED current: its average where it alternates."""
    if point.scenario.input.kind != "ac":
        return point.states["closed"].quantities["IF"].value
    return next(one for one in over_cycle(point.scenario).electrical if one.symbol == "IF").average.value


def _ratio(coupling, here):
    """Return the bin, and the transfer ratio at the current that flows or the one that it is stated at."""
    _, low, high = coupling.ratios()
    there = f"at this IF {_percent(here.value)} %" if here else f"stated at {as_typed(coupling.data.CTR_IF, AMPERE)}"
    return f"bin {_percent(low)} – {_percent(high)} %; {there}"


def _percent(ratio):
    """Return a ratio in per cent without its sign."""
    return reading(ratio, RATIO)[0].removesuffix(".0")


def _current(word, amperes):
    """Return a current with a word before it."""
    return f"{word} {' '.join(reading(amperes, AMPERE))}"


def _resistor(sized, current):
    """Return how a resistor came to be."""
    exact = " ".join(reading(sized.exact, OHM)) if sized.exact else "none"
    if sized.automatic:
        return f"exact {exact}, {sized.series} {sized.rounding}: {as_typed(sized.chosen, OHM)}"
    return f"fixed; exact for {as_typed(current, AMPERE)}: {exact}"
