"""Every kind of direct-current stage that the engine knows, as query strings, built from what it declares.

A new kind of side, coupler, meter or choice is in the list by itself. A new part that is left out by default is not,
so `unmeasured` names what stands in none of the stages.
"""

from dataclasses import fields
from itertools import product

from engine import INPUTS, METERS, OUTPUTS, scenario_from_query
from engine.pairing import cards_for
from engine.parameter import declared
from engine.scenario import Conditions, Coupling
from tests.stages import DRIVES, OPTIONS, TOGETHER, kinds, with_option

PARTS = {
    "rin": "rin=10k",
    "rpumin": "rpumin=20k&rpumax=50k",
    "vee": "vee=-8V",
    "leak": "leak=220k",
    "ires": "ires=50uA",
    "ineed": "ineed=100uA&rin=10k",
    "uon": "uon=11V&uoff=5V",
    "vil": "vil=0.5V&vih=2.5V",
    "iin": "iin=100uA",
    "rl": "rl=auto",
}
"""Key to what makes a part be there, or a figure be one's own, that is left out by default."""

COUPLERS = ("coupler=with-base&rbe=470k", "ctrmin=50%&ctrmax=200%", "ctr=min", "ctr=max", "coupler=wide-bin&ctr=max")
"""What may be said of a coupler beside its card."""

WIDE = "tamin=-40C&tamax=85C"
OLD = "years=20"
CONDITIONS = (WIDE, OLD, f"{WIDE}&{OLD}", "ta=-40C", "ta=85C", "tol=1%", "tol=20%", "bridge=returns", "vstol=20%")
"""What may be said of the circumstances."""

_MOST_TOGETHER = 12  # choices of one kind up to which all of them are combined
_ALONE = frozenset({"series", "round", "ageing", "pd", "ins", "oc", "sw", "meter", "coupler"})
_FIGURES = frozenset(
    {"vsmin", "vsmax", "r1", "vccmin", "vccmax", "ipack", "rate", "vb", "udrop", "uoff", "vih", "rpumax"}
)
"""Keys of figures whose words change a number alone."""


def stages():
    """Return every stage once, as query strings."""
    found = {}
    for query in (*_drives(), *_around(), *_pairs(), *_choices(), *_parts(), *_meters(), *_circumstances()):
        found.setdefault(scenario_from_query(query), query)
    return tuple(found.values())


def on_lines():
    """Return stages on alternating voltage, each form of input and load once, as query strings."""
    return LINES


LINES = (
    "in=ac",
    "in=ac&form=pair&coupler=two-way",
    "in=ac&form=diode&vac=24V",
    "in=ac&form=bare&vac=24V",
    "in=ac&form=pair&coupler=two-way&vac=24V&out=controller&if=10mA",
    "in=ac&out=indicator&if=10mA",
    "in=ac&dropper=capacitor",
    "in=ac&dropper=capacitor&form=pair&coupler=two-way",
    "in=ac&dropper=capacitor&form=diode&rbd=none",
    "in=ac&cs=10uF",
    "in=ac&dropper=capacitor&cs=10uF",
    "in=ac&co=1uF",
    "out=ac-load&coupler=triac-random&if=15mA",
    "out=ac-load&coupler=triac-zero&if=15mA&csn=10nF",
    "out=ac-triac&coupler=triac-random&if=15mA",
    "out=ac-triac&coupler=triac-zero&if=15mA&csn=47nF&vcc=115V",
    "in=ac&out=ac-load&coupler=triac-random&if=15mA",
)
"""Stages on alternating voltage."""


def unmeasured():
    """Return the keys of choices, of parts that are left out by default, and of words, that no stage has."""
    used = {pair.partition("=")[0] for query in stages() for pair in query.split("&")}
    return {
        parameter.key
        for kind in (*_inputs(), *outputs(), Coupling, Conditions)
        for name, parameter in declared(kind).items()
        if parameter.words or (parameter.unit and _default(kind, name) == 0.0)
    } - (used | _ALONE | _FIGURES)


def outputs():
    """Return the output sides on direct voltage."""
    return tuple(side for side in OUTPUTS.values() if not side.on_line)


def _inputs():
    """Return the input sides on direct voltage."""
    return tuple(INPUTS[kind] for kind in kinds())


def _drives():
    """Yield every drive, with a supply that leaves room and as it is by default."""
    yield from (f"in={kind}" for kind in kinds())
    yield from DRIVES.values()


def _around():
    """Yield everything that may stand around the LED: on one drive, and going through the drives."""
    drives = list(DRIVES.values())
    for k, option in enumerate((*OPTIONS.values(), *TOGETHER.values())):
        yield with_option("in=contact-low", option)
        turn = drives[(k + 3) % len(drives)]
        if "rbat=switch" not in option or "measured" not in turn:
            yield with_option(turn, option)
    lamps = declared(_inputs()[0])["lamp"].words
    yield from (f"in=contact-low&lamp={colour}" for colour in lamps[1:])


def _pairs():
    """Yield every shipped coupler with every output side that it goes with."""
    for side in outputs():
        yield from (f"out={side.kind}&coupler={card}&if=10mA" for card in cards_for(side.kind))


def _choices():
    """Yield every output side with all that may be chosen of it."""
    for side in outputs():
        words = [[f"{p.key}={word}" for word in p.words] for p in declared(side).values() if p.unit is None and p.words]
        alone = [[one] for some in words for one in some]
        combined = list(product(*words))
        for chosen in combined if len(combined) <= _MOST_TOGETHER else alone:
            supply = f"&vcc={_SUPPLIES[chosen[0]]}" if chosen and chosen[0] in _SUPPLIES else ""
            yield "&".join((f"out={side.kind}", *chosen)) + supply + _driven(side)


_SUPPLIES = {
    "logic=lvcmos25": "2.5V", "logic=schmitt25": "2.5V", "logic=lvcmos18": "1.8V", "logic=hc": "5V",
    "logic=hct": "5V", "logic=ac": "5V", "logic=cmos": "5V", "logic=cmos4000": "12V", "logic=cmos4000ub": "12V",
    "logic=ttl": "5V", "logic=lsttl": "5V", "logic=mcu": "5V",
}  # fmt: skip


def _parts():
    """Yield every part that is left out by default, on each side that may have it."""
    for side in (*_inputs(), *outputs()):
        where = "in" if side in _inputs() else "out"
        keys = {parameter.key for parameter in declared(side).values()}
        driven = _driven(side) if where == "out" else ""
        yield from (f"{where}={side.kind}&{query}{driven}" for key, query in PARTS.items() if key in keys)
    yield from COUPLERS


def _meters():
    """Yield every meter on a few stages, of which some have large resistors."""
    some = "", "rb=2k2&ap=diode&cf=100nF", "in=two-wire&out=controller", "out=relay&kq=mosfet", "rl=470k&out=pull-down"
    yield from ("&".join(filter(None, (f"meter={kind}", stage))) for kind in METERS for stage in some)


def _circumstances():
    """Yield temperatures, tolerances and years on one stage, and the harshest on every side."""
    yield from CONDITIONS
    for side in outputs():
        yield f"out={side.kind}&{WIDE}&{OLD}{_driven(side)}"
    yield from (f"{drive}&{WIDE}" for drive in DRIVES.values())


def _driven(side):
    """Return the coupler that is usual for an output side, and a current that drives any of them."""
    return f"&coupler={side.usual_coupler}&if=10mA"


def _default(kind, name):
    """Return the default value of a parameter."""
    return next(f.default for f in fields(kind) if f.name == name)
