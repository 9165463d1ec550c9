"""What may be wrong with a stage: every single fault of every part, and how likely each kind of it is beforehand.

A fault is a record in words; `engine.faulty` puts it into the circuit.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.build import build_all
from engine.circuit import LightPath
from engine.inputs import AcLine
from engine.sampling import Samples
from engine.scenario import JOINED

DRIFT = 1.5
"""By how much a resistor that has drifted is off, either way [-]. Common practice, no source."""

DECADE = 10.0
"""By how much one that was taken from the wrong drawer is off, either way [-]."""

TIRED = 5.0
"""What a worn coupler's light is divided by [-]. Common practice, no source."""

LOW_SUPPLY = 0.6
"""Share of its nominal voltage that a low supply has [-]. Common practice, no source."""

BAD_CONTACT = 1e3
"""Resistance of a closed contact that is dirty [ohm]. Common practice, no source."""

LEAK = 5.0
"""Resistance of a leak across the coupler's output, over the load resistor [-]. Common practice, no source."""

FADED = 0.5
"""Share of its capacitance that a worn capacitor has. Common practice, no source."""

SOUND_SHARE = 0.2
"""How likely it is beforehand that nothing is wrong with a stage that somebody takes readings of [-]. Common practice,
no source."""

WEIGHTS = {
    "open": 3.0,
    "short": 1.5,
    "high": 1.0,
    "low": 1.0,
    "tenfold": 1.5,
    "tenth": 1.5,
    "reversed": 3.0,
    "tired": 3.0,
    "leaky": 1.0,
    "faded": 2.0,
    "exchanged": 2.0,
    "stuck-on": 2.0,
    "stuck-off": 3.0,
    "resistive": 2.0,
    "missing": 4.0,
    "sagging": 2.0,
    "polarity": 1.0,
    "pulled-low": 1.0,
    "pulled-high": 1.0,
    "bridged": 0.5,
}
"""Kind of fault to how likely it is beside the others of a stage. Wiring, solder joints and supplies come first, parts
that fail to a short after those that fail open, wrong values in between. Common practice, no source."""

_RESISTORS = (
    "R1", "RB", "RH", "RI", "RW", "R2", "RL", "RIN", "RPU", "R3", "RGE", "RBE", "K1", "RBD", "RF", "RGK", "RSN", "RLOAD"
)  # fmt: skip
_INSIDE = ("RI", "RIN", "RPU", "K1", "RLOAD")  # within another part, whose value nobody picks from a drawer
_DIODES = ("D2", "D3", "Z1", "H1", "D1", "D6", "D4", "D5")
_SUPPLIES = ("VS", "VCC", "VEE")
_NOT_ON_LINE = {("VS", "polarity"), ("VCC", "polarity"), ("RL", "short"), ("RLOAD", "short")}
# A line has no polarity, and a load that is shorted takes the fuse with it: nobody measures then.
_SWAPPED = 120.0  # [V], supply up to which somebody may connect it the wrong way round; common practice, no source
_NAMES = {
    "D2": "series diode D2", "D3": "antiparallel diode D3", "Z1": "zener diode Z1", "H1": "indicator H1",
    "D1": "indicator D1", "D6": "clamp D6", "K1": "coil K1", "RW": "line to the contact",
    "RIN": "input resistance of the receiver", "RPU": "pull-up of the receiver's port",
    "D4": "diode D4 of the bridge", "D5": "diode D5 of the bridge", "CD": "dropper capacitor CD",
    "CS": "smoothing capacitor CS", "RLOAD": "load RLOAD", "Q3": "triac Q3",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    id : str
        Its name in answers: part and kind, or "good".
    part : str
        The part; empty where nothing is wrong.
    kind : str
        Key of `WEIGHTS`, or "good".
    text : str
        The fault in words.
    """

    id: str
    part: str
    kind: str
    text: str


GOOD = Fault("good", "", "good", "Nothing is wrong.")
"""The stage as it is drawn."""


@lru_cache(maxsize=256)
def faults_of(scenario):
    """Return everything that may be wrong with a stage, one fault at a time.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    tuple of Fault
        In the order of the parts, input side first; without `GOOD`.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    netlist = build_all((scenario,), draw=Samples(scenario, 0).take(0)).netlist
    return tuple(
        Fault(f"{part.lower()}-{kind}", part, kind, text[0].upper() + text[1:] + ".")
        for part, kind, text in (
            *_of_input(scenario, netlist),
            *_of_coupler(scenario, netlist),
            *_of_output(scenario, netlist),
        )
    )


def prior_of(faults):
    """Return how likely each is beforehand.

    Parameters
    ----------
    faults : sequence of Fault
        What may be, `GOOD` among it.

    Returns
    -------
    list of float
        Probabilities, which add up to 1 [-].
    """
    whole = sum(WEIGHTS[fault.kind] for fault in faults if fault.kind != "good")
    if not whole:
        return [1.0] * len(faults)
    return [
        SOUND_SHARE if fault.kind == "good" else (1.0 - SOUND_SHARE) * WEIGHTS[fault.kind] / whole for fault in faults
    ]


def _parts(netlist, side):
    """Return the parts of one side in the order in which they were placed."""
    sides = netlist.nodes | {node: at for at, node in netlist.references.items()}
    placed = [(part, node) for part, (node, _) in netlist.sources.items()]
    placed += [(resistor.part, resistor.a) for resistor in netlist.resistors]
    placed += [(device.part, device.branches[0][0]) for device in netlist.devices]
    return tuple(dict.fromkeys(part for part, node in placed if sides[node] == side))


def _of_input(scenario, netlist):
    """Yield part, kind and text of what may be wrong with the drive."""
    side, parts = scenario.input, _parts(netlist, "input")
    for part in parts:
        if part != side.switch_part or part == "VS":
            of_part = _of_part(netlist, part)
            yield from (one for one in of_part if not (isinstance(side, AcLine) and one[:2] in _NOT_ON_LINE))
    switch = side.switch_part
    yield switch, "stuck-on", f"stuck: {side.states['closed']} all the time"
    if switch != "VS":
        yield switch, "stuck-off", f"stuck: {side.states['open']} all the time"
    if switch == "S1":
        yield switch, "resistive", "contact S1 has 1 kohm while it is closed"
    if switch == "Q1":
        yield switch, "short", "transistor Q1 shorted from one end to the other"
        yield switch, "open", "transistor Q1 open"


def _of_coupler(scenario, netlist):
    """Yield part, kind and text of what may be wrong with the coupler, and with the barrier beside it."""
    coupling = scenario.coupling
    yield "LED", "open", "the coupler's LED open"
    yield "LED", "short", "the coupler's LED shorted"
    if coupling.data.input != "pair":
        yield "LED", "reversed", "the coupler's LED the wrong way round, anode and cathode exchanged"
    light = "light" if coupling.has_ratio else "sensitivity"
    yield "U1", "tired", f"tired coupler U1, a fifth of its {light} left"
    yield "U1", "open", "output of the coupler U1 open"
    yield "U1", "short", "output of the coupler U1 shorted"
    yield "U1", "leaky", "output of the coupler U1 leaks: five times RL lies across it"
    if any(isinstance(device, LightPath) for device in netlist.devices):
        yield "U1", "exchanged", "collector and emitter of the coupler U1 exchanged"
    if scenario.conditions.joined != JOINED:
        yield "barrier", "bridged", "a conductor bridges the barrier and joins both returns"


def _of_output(scenario, netlist):
    """Yield part, kind and text of what may be wrong with the output side."""
    for part in _parts(netlist, "output"):
        for of_part in _of_part(netlist, part):
            if not (scenario.output.on_line and of_part[:2] in _NOT_ON_LINE):
                yield of_part
    if scenario.output.kind == "gate":
        yield "Q3", "short", "gate of Q3 shorted to its emitter"
    if scenario.output.kind == "ac-triac":
        yield "Q3", "open", "triac Q3 open, never triggered"
        yield "Q3", "short", "triac Q3 shorted"
    if hasattr(scenario.output, "family"):
        yield "RX", "pulled-low", "input of the receiver shorted to common"
        yield "RX", "pulled-high", "input of the receiver shorted to the supply"


def _of_part(netlist, part):
    """Yield what may be wrong with a part that is not the coupler or a switch."""
    name = _NAMES.get(part, part)
    if part in _SUPPLIES:
        yield from _of_supply(netlist, part)
    elif part in _RESISTORS:
        yield from _of_resistor(part, name)
    elif part in _DIODES:
        yield part, "open", f"{name} open"
        yield part, "short", f"{name} shorted"
        yield part, "reversed", f"{name} the wrong way round"
    elif part == "VD":
        yield part, "short", "driving logic VD stuck low, at 0 V"
    elif part == "CF":
        yield part, "short", "filter capacitor CF shorted"
    elif part in ("CD", "CS"):
        yield part, "open", f"{name} open"
        yield part, "short", f"{name} shorted"
        yield part, "faded", f"{name} worn, half of its capacitance left"
    elif part == "CSN":
        yield part, "short", "snubber capacitor CSN shorted"
    elif part in ("A1", "B2", "Q2"):
        name = {"A1": "input A1 of the controller", "B2": "current limiter B2", "Q2": "transistor Q2"}[part]
        yield part, "open", f"{name} open"
        yield part, "short", f"{name} shorted"


def _of_supply(netlist, part):
    """Yield what may be wrong with a supply."""
    yield part, "missing", f"supply {part} missing, at 0 V"
    yield part, "sagging", f"supply {part} low, at 60 %"
    if part in netlist.sources and np.abs(netlist.sources[part][1]).max() <= _SWAPPED:
        yield part, "polarity", f"supply {part} with its polarity swapped"


def _of_resistor(part, name):
    """Yield what may be wrong with a resistor."""
    yield part, "open", f"{name} open"
    yield part, "short", f"{name} shorted"
    if part != "RW":
        yield part, "high", f"{name} drifted to 1.5 times its value"
        yield part, "low", f"{name} drifted to its value over 1.5"
    if part not in (*_INSIDE, "RW"):
        yield part, "tenfold", f"{name} ten times its value"
        yield part, "tenth", f"{name} a tenth of its value"
