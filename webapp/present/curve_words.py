"""What the results of a stage are called in lists and on axes."""

import re

from webapp.present.load_figures import NAMES
from webapp.present.names import NODE_NAMES, PART_NAMES

QUANTITIES = {
    "IF": "LED current",
    "VF": "forward voltage of the LED",
    "IC": "current of the detector",
    "VCE": "voltage across the detector",
    "IL": "current of the load resistor",
    "VOUT": "output",
    "IC_available": "current that the detector could give",
    "IC_needed": "current that the output side needs",
    "IF_needed": "LED current that turns it on",
    "CTR_available": "transfer ratio that there is",
    "CTR_needed": "transfer ratio that is needed",
    "CTR_forced": "transfer ratio that flows",
    "overdrive": "available over needed",
}
"""Symbol to what it is."""

_OF = re.compile(r"([VIP])\((.+)\)")
_KINDS = {"V": NODE_NAMES, "I": PART_NAMES, "P": PART_NAMES}
_WHAT = {"V": "voltage", "I": "current", "P": "power"}


def result_name(name: str) -> str:
    """Return what a result is called: its symbol, then what it is."""
    if found := _OF.fullmatch(name):
        kind, of = found.groups()
        return f"{name} – {_WHAT[kind]}, {_KINDS[kind].get(of, of)}"
    told = QUANTITIES.get(name) or NAMES.get(name, "")
    symbol = name.replace("_", " ")
    return f"{symbol} – {told}" if told else symbol


def short_name(name: str) -> str:
    """Return the symbol of a result."""
    return name.replace("_", " ")
