"""What is written beside the parts of output sides."""

from engine import FARAD, OHM, VOLT, as_typed

_VALUES = (
    ("RIN", "R_in", OHM),
    ("R3", "R_base", OHM),
    ("K1", "R_coil", OHM),
    ("RGE", "R_GE", OHM),
    ("VEE", "VEE", VOLT),
    ("RGK", "R_GK", OHM),
    ("RSN", "R_snubber", OHM),
    ("CSN", "C_snubber", FARAD),
)
"""Part, field of its value, unit; the label stands beside the part in two lines."""


def short(value, unit):
    """Return a typed value in four figures at most, as there is no room for more; its control has all of them."""
    return as_typed(float(f"{value:.4g}"), unit)


def output_labels(load, level):
    """Return part to the lines of its label, for what only some output sides have, at what is read."""
    labels = {part: (part, short(getattr(load, field), unit)) for part, field, unit in _values(load)}
    own = {"indicator": _indicator, "pull-up": _port, "controller": _controller, "relay": _relay, "ac-triac": _triac}
    labels["Q3"] = ("Q3", level if load.kind == "gate" else "triac")
    return labels | own.get(load.kind, lambda load, level: {})(load, level)


def _values(load):
    """Yield the parts that a side has, with their fields and units."""
    for part, field, unit in _VALUES:
        if isinstance(getattr(load, field, None), float):
            yield part, field, unit


def _indicator(load, level):
    return {"D1": (f"D1 {load.colour}",)}


def _port(load, level):
    if not load.has_port_resistor:
        return {}
    return {"RPU": (f"RPU {short(load.R_port_min, OHM)} – {short(load.R_port_max, OHM)}",)}


def _controller(load, level):
    return {"A1": (f"type {load.input_type}", level if level != "undefined" else "neither")}


def _relay(load, level):
    clamps = {"diode": "diode", "zener": f"+ {short(load.V_clamp, VOLT)}", "resistor": short(load.R_clamp, OHM)}
    return {"D6": ("D6", clamps.get(load.clamp, "")), "Q2": ("Q2", load.transistor)}


def _triac(load, level):
    return {"RLOAD": (f"RLOAD {short(load.R_load, OHM)}",), "Q3": ("Q3", "triac")}
