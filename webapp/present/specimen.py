"""Every drawing, verdict and finding once, to look at after a change of style."""

from itertools import cycle

from engine import INPUTS, OUTPUTS, scenario_from_query
from webapp.present.explorer import explore

_PAIRS = zip(INPUTS, cycle(OUTPUTS), strict=False)
_QUERIES = (
    *(f"in={side}&out={load}" for side, load in _PAIRS),
    "in=contact-high&line=33R&leak=1M&vs=400V&r1=1M5&r1w=50mW&out=pull-down&sw=open&rl=1M05",
    "in=logic&active=low&iport=1mA&out=pull-up&rl=1k&ctr=30%25",
    "rin=10k&rpumin=20k&rpumax=60k",
    "out=pull-down&rin=10k&swap=yes",
    "in=ac&form=bare&bridge=returns&vb=230V",
    "out=controller&flow=sourcing&itype=1",
    "out=relay&clamp=zener&r3=1M&ta=85C",
    "out=relay&clamp=resistor&kq=mosfet",
    "out=gate&if=10mA&vcc=15V&vee=-8V",
    "out=dc-load&if=10mA",
    "out=ac-load&if=20mA&csn=10nF",
    "out=ac-triac&if=20mA&csn=10nF&coupler=triac-zero",
    "line=100R&r1=100R&vs=1000V&ta=150C&vcc=1000V&out=pull-up&rl=100R",
)


def specimen():
    """Return explorers of stages that between them show everything."""
    return tuple(explore(scenario_from_query(query)) for query in _QUERIES)
