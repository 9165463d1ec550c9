"""The figures of the tour: what an experiment names, solved and written out.

A figure is named by what it is: a quantity of the solved stage (`VOUT`), current, voltage or power of a part (`I RB`,
`V R1`, `P R1`), a figure over the cycle (`cycle unlit`), an edge (`edge off` to 90 %, `half on` to the middle), a share
of a square wave (`share out`), the bleeder that cures, or what a diagnosis says (`suspects`, `next reading`).
"""

from engine import (
    STATES,
    UNITS,
    as_typed,
    diagnose,
    off_state_of,
    operating_point,
    over_cycle,
    probes_of,
    square,
    timing_of,
)
from webapp.present.figures import plain


def figure_texts(experiment) -> dict[str, str]:
    """Return name to text of every figure that an experiment reads."""
    return {name: _text(experiment, **asked) for name, asked in experiment.read.items()}


def _text(experiment, of, **asked):
    """Return one figure as text."""
    scenario = experiment.changed(asked.get("with", ""))
    if of in _DIAGNOSED:
        return _DIAGNOSED[of](diagnose(scenario, experiment.readings))
    kind, _, what = of.partition(" ")
    if kind in _READERS:
        return _READERS[kind](scenario, what, asked)
    found = _state(scenario, asked).quantities[of]
    value = getattr(found, asked.get("end", "value"))
    return f"{value:.3g}" if of in _COUNTED else plain(value, found.unit)


_COUNTED = {"overdrive"}  # told as so many times, not in percent


def _state(scenario, asked):
    """Return the state of the solved stage that is asked for: the LED lit, or dark."""
    return operating_point(scenario).states[STATES[asked.get("dark", False)]]


def _current(scenario, part, asked):
    """Return the current of a part."""
    return plain(_state(scenario, asked).currents[part].value, "A")


def _voltage(scenario, part, asked):
    """Return the voltage across a part."""
    return plain(_state(scenario, asked).drops[part].value, "V")


def _power(scenario, part, asked):
    """Return the power of a part."""
    return plain(_state(scenario, asked).powers[part].value, "W")


def _peak_power(scenario, part, asked):
    """Return the power of a resistor if the line stood at its peak all the time."""
    line = next(one for one in over_cycle(scenario).electrical if one.symbol == "V line")
    return plain(line.peak.value**2 / operating_point(scenario).sized[part].chosen, "W")


def _cycle(scenario, name, asked):
    """Return a figure over the cycle."""
    found = over_cycle(scenario).figures[name]
    return _share(found.value) if found.unit == "1" else plain(found.value, found.unit)


def _edge(scenario, name, asked):
    """Return how long an edge takes to 90 % of its way."""
    return plain(timing_of(scenario).edges[name].total.value, "s")


def _half(scenario, name, asked):
    """Return how long an edge takes to the middle of its way."""
    return plain(timing_of(scenario).edges[name].half.value, "s")


def _square_share(scenario, side, asked):
    """Return the share of a square wave's period that its input is lit, or its output is past the middle."""
    (wave,) = square(scenario, [asked["rate"]])
    return _share((wave.width_in if side == "in" else wave.width_out.value) * wave.rate)


def _bleeder(scenario, place, asked):
    """Return the bleeder that cures residual light."""
    return as_typed(next(cure.R for cure in off_state_of(scenario).cures if cure.place == place), UNITS["ohm"])


_READERS = {
    "I": _current, "V": _voltage, "P": _power, "peak": _peak_power, "cycle": _cycle, "edge": _edge, "half": _half,
    "share": _square_share, "bleeder": _bleeder,
}  # fmt: skip
"""First word of a figure's name to what reads it."""


def _share(value):
    """Return a share in percent."""
    return f"{100.0 * value:.0f} %"


def _suspects(found):
    """Return the faults that are left, the likeliest first, each with what reads the same."""
    likely = (ranked.fault.text.rstrip(".") for ranked in found.ranking if ranked.probability > _LEFT)
    return "; ".join(text if text[1].isupper() else text[0].lower() + text[1:] for text in likely)


def _next(found):
    """Return the reading that tells most."""
    probe = next(probe for probe in probes_of(found.scenario) if probe.id == found.next.point)
    return f"{probe.words}, {found.scenario.input.states[found.next.state]}"


_LEFT = 0.02  # probability from which a fault is still worth naming
_DIAGNOSED = {"suspects": _suspects, "next reading": _next}
