"""Which families of couplers go with which output side, and for every other pair why they do not go together."""

from engine.coupler import card_names, load_card
from engine.errors import Problem
from engine.outputs import OUTPUTS

_TRANSISTORS = "phototransistor", "photodarlington"

ACCEPTED = {
    "pull-up": (*_TRANSISTORS, "logic-gate", "mosfet-relay"),
    "pull-down": (*_TRANSISTORS, "mosfet-relay"),
    "indicator": (*_TRANSISTORS, "logic-gate", "mosfet-relay"),
    "controller": (*_TRANSISTORS, "mosfet-relay"),
    "relay": (*_TRANSISTORS, "mosfet-relay"),
    "gate": ("gate-driver",),
    "dc-load": ("mosfet-relay",),
    "ac-load": ("opto-triac",),
    "ac-triac": ("opto-triac",),
}
"""Kind of output side to the families that it takes, the usual one first."""

_TRIAC = "a triac, once lit, stays on until its current ends, and on direct current it never does"
_DRIVER = "a gate driver pushes its own output up and down by itself, and leaves nothing for a load of another supply"
_OPEN_COLLECTOR = "a logic-output coupler can only pull its output down to its own ground"
_ONE_WAY = "carries current one way only, and the line's turns round twice in every cycle"

_GATE = "a gate needs a gate-driver coupler, because amperes must charge and discharge it:"
_DC = "a dc load needs a relay coupler, because"
_AC = "an ac load needs a triac coupler, because"

WHY = {
    ("pull-up", "gate-driver"): f"a pull-up has nothing to do here: {_DRIVER}",
    ("pull-up", "opto-triac"): f"a logic level cannot come from a triac coupler: {_TRIAC}",
    ("pull-down", "logic-gate"): f"a pull-down needs current from the supply, and {_OPEN_COLLECTOR}",
    ("pull-down", "gate-driver"): f"a pull-down has nothing to do here: {_DRIVER}",
    ("pull-down", "opto-triac"): f"a logic level cannot come from a triac coupler: {_TRIAC}",
    ("indicator", "gate-driver"): f"an indicator does not go with a gate driver: {_DRIVER}",
    ("indicator", "opto-triac"): f"an indicator on direct current does not go with a triac coupler: {_TRIAC}",
    ("controller", "logic-gate"): "a 24 V controller input is too much for a logic-output coupler, which stands 7 V",
    ("controller", "gate-driver"): f"a controller input does not go with a gate driver: {_DRIVER}",
    ("controller", "opto-triac"): f"a dc controller input does not go with a triac coupler: {_TRIAC}",
    ("relay", "logic-gate"): f"the relay's transistor needs current from the supply, and {_OPEN_COLLECTOR}",
    ("relay", "gate-driver"): f"the relay's transistor does not go with a gate driver: {_DRIVER}",
    ("relay", "opto-triac"): f"a relay on direct current would never release behind a triac coupler: {_TRIAC}",
    ("gate", "phototransistor"): f"{_GATE} a phototransistor gives milliamperes, in one direction only",
    ("gate", "photodarlington"): f"{_GATE} a photodarlington gives a few tens of milliamperes, slowly and one way only",
    ("gate", "logic-gate"): f"{_GATE} a logic-output coupler only pulls down, with milliamperes",
    ("gate", "mosfet-relay"): f"{_GATE} a relay coupler takes most of a millisecond to switch and only connects",
    ("gate", "opto-triac"): f"{_GATE} a triac coupler cannot be turned off on direct current",
    ("dc-load", "phototransistor"): f"{_DC} a phototransistor saturates with milliamperes only; for a small load take"
    " a pull-down or an indicator",
    ("dc-load", "photodarlington"): f"{_DC} a photodarlington keeps most of a volt and carries tens of milliamperes at"
    " the most",
    ("dc-load", "logic-gate"): f"{_DC} a logic-output coupler is made for its own 5 V supply",
    ("dc-load", "gate-driver"): f"{_DC} a gate driver gives its amperes for a moment only, into a gate",
    ("dc-load", "opto-triac"): f"{_DC} {_TRIAC}",
    ("ac-load", "phototransistor"): f"{_AC} a phototransistor {_ONE_WAY}",
    ("ac-load", "photodarlington"): f"{_AC} a photodarlington {_ONE_WAY}",
    ("ac-load", "logic-gate"): f"{_AC} a logic-output coupler {_ONE_WAY}",
    ("ac-load", "gate-driver"): f"{_AC} a gate driver {_ONE_WAY}",
    ("ac-load", "mosfet-relay"): f"{_AC} what is worked out here is a triac that turns off by itself at the end of"
    " every half cycle, which a relay coupler does not",
    ("ac-triac", "phototransistor"): f"{_AC} a triac's gate is triggered both ways and a phototransistor {_ONE_WAY}",
    ("ac-triac", "photodarlington"): f"{_AC} a triac's gate is triggered both ways and a photodarlington {_ONE_WAY}",
    ("ac-triac", "logic-gate"): f"{_AC} a triac's gate is triggered both ways and a logic-output coupler {_ONE_WAY}",
    ("ac-triac", "gate-driver"): f"{_AC} a triac's gate is triggered both ways and a gate driver {_ONE_WAY}",
    ("ac-triac", "mosfet-relay"): f"{_AC} a triac's gate takes surges of an ampere, far beyond a relay coupler",
}  # fmt: skip
"""Kind of output side and family that do not go together, to why."""


def sentence(kind, family):
    """Return why an output side and a family of couplers do not go together.

    Parameters
    ----------
    kind : str
        Kind of output side.
    family : str
        Family of couplers.

    Returns
    -------
    str
        One sentence without its full stop; empty where they go together.
    """
    return "" if family in ACCEPTED[kind] else WHY[kind, family]


def cards_for(kind):
    """Return the shipped cards that go with an output side.

    Parameters
    ----------
    kind : str
        Kind of output side.

    Returns
    -------
    tuple of str
        Their names, the usual one first.
    """
    usual = OUTPUTS[kind].usual_coupler
    others = (name for name in card_names() if name != usual and load_card(name).family in ACCEPTED[kind])
    return usual, *others


def output_for(family):
    """Return the usual output side of a family of couplers.

    Parameters
    ----------
    family : str
        The family.

    Returns
    -------
    type
        The first kind whose usual family it is, else the first that takes it.
    """
    usual = [kind for kind, families in ACCEPTED.items() if families[0] == family]
    others = [kind for kind, families in ACCEPTED.items() if family in families]
    return OUTPUTS[(usual or others)[0]]


def mismatches(coupling, output):
    """Yield what is wrong with a coupler and an output side together.

    Parameters
    ----------
    coupling : Coupling
        The coupler, without contradictions of its own.
    output : Load
        The output side.

    Yields
    ------
    Problem
        At the coupler where they do not go together; at what the coupler's output cannot have.
    """
    family = coupling.data.family
    if reason := sentence(output.kind, family):
        yield Problem("coupler", coupling.card, f"one of {', '.join(cards_for(output.kind))}", reason)
    elif getattr(output, "swap", "no") == "yes" and family not in _TRANSISTORS:
        yield Problem("swap", "yes", "no", "there is no collector and no emitter in this coupler to exchange")
    elif getattr(output, "swap", "no") == "yes" and coupling.RBE != "none":
        yield Problem("swap", "yes", "no", "the base resistor lies at the emitter; leave it out to exchange the leads")
