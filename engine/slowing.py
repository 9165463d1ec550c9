"""What limits how fast a stage is: which edge, which part of it, and what takes that time, in a sentence."""

import numpy as np

from engine.coupler import TransistorCard

START, END = 0.1, 0.9
"""Shares of the swing that delay and transition go by [-]; common practice, no source."""

_WAITS = {
    "off": "is storage: the saturated detector goes on conducting until the charge of its base is used up",
    "on": "is delay: the LED and the base are charged before any collector current flows",
}
"""Edge to what goes on before the output of a transistor moves."""

_OWN_DELAY = "is the coupler's own delay"
_FILTER = "is delay: the filter capacitor across the LED is charged or discharged first"

_COIL = {
    "on": "the coil takes, whose current rises with its inductance over its resistance",
    "diode": "the coil's current takes to die away in the clamp diode, which lets hardly any voltage come up; a zener"
    " diode or a resistor there is quicker",
    "zener": "the coil's current takes to die away against the zener voltage; a higher one is quicker",
    "resistor": "the coil's current takes to die away in the clamp resistor; a larger one is quicker",
}
"""Edge, or clamp while switching off, to what takes the time while a coil's current moves."""


def limited_by(scenario, times, edges):
    """Return which edge limits the rate and which part of it, of the nominal stage.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    times : dict of str to dict
        "on" and "off" to their times by name, the nominal one first [s].
    edges : Edges
        Their courses.

    Returns
    -------
    str
        A sentence.
    """
    valid = {name: times[name]["valid"][0] for name in ("on", "off")}
    never = [name for name, time in valid.items() if not np.isfinite(time)]
    if never:
        return f"With the LED {'lit' if 'on' in never else 'dark'} the level is not surely read, however long it takes."
    if max(valid.values()) <= 0.0:
        return "The output hardly moves, so that there is no edge to wait for."
    name = max(valid, key=valid.get)
    whole, delay = valid[name], min(times[name]["delay"][0], valid[name])
    if delay > 0.5 * whole:
        share, what = delay / whole, _waiting(scenario, name, delay)
    else:
        share, what = 1.0 - delay / whole, _moving(scenario, times[name], edges, name)
    edge = "Switching off" if name == "off" else "Switching on"
    told = f"{edge} limits it; {share:.0%} of its time {what}.".replace("%", "\u00a0%")
    lost = [name for name in ("on", "off") if not np.isfinite(times[name]["valid"]).all()]
    if not lost:
        return told
    return f"{told} At worst the level with the LED {'lit' if 'on' in lost else 'dark'} is not surely read at all."


def _waiting(scenario, name, delay):
    """Return what takes the time before the output moves."""
    C = getattr(scenario.input, "C_filter", 0.0) or 0.0
    if not isinstance(scenario.coupling.model.card, TransistorCard):
        return _OWN_DELAY if not C else f"{_OWN_DELAY}, or the filter capacitor's across the LED"
    return _FILTER if C and name == "on" else _WAITS[name]


def _moving(scenario, found, edges, name):
    """Return what slows the output while it moves: the load, or the detector's own capacitance."""
    load = scenario.output
    if load.kind == "relay":
        return _COIL[name if name == "on" else load.clamp]
    bare = edges.bare[0 if name == "on" else 1]
    without = bare.reached(END) - bare.reached(START)
    if np.isfinite(without) and without < 0.5 * found["transition"][0]:
        if load.kind == "gate":
            return "the gate's charge takes, which flows through RL and the driver's output"
        return "the load capacitance takes, charged through RL or discharged by the coupler"
    if not isinstance(scenario.coupling.model.card, TransistorCard):
        return "the output takes through RL"
    if name == "on":
        return "the photocurrent takes to charge the collector junction's capacitance"
    return "RL takes with the collector junction's capacitance, which the current gain multiplies"
