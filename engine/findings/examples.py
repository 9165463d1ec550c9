"""For every finding a stage that raises it and one just inside: for the page of findings, and for its tests."""

from dataclasses import dataclass, replace

from engine.coupler import load_card, pack_card

NEAR = 0.05
"""How close to its limit a stage just inside comes, relative to the limit, where nothing else is said [-]."""


@dataclass(frozen=True, slots=True)
class Example:
    """A stage that raises a finding, and one that just does not.

    Attributes
    ----------
    raises : str
        Query string of the stage that raises it.
    severity : str
        The severity that it has there.
    inside : str
        Query string of the stage just inside.
    near : float or None
        How close to the limit that one comes, relative to it; None where there is no way to come close, because it
        is a matter of yes and no, or of the steps of a table [-].
    unmended : str
        Why no remedy is offered; empty where one is.
    """

    raises: str
    severity: str
    inside: str
    near: float | None = NEAR
    unmended: str = ""


_DRIVE = "if=10mA&r1w=1W"
_LINE = "if=20mA&r1w=2W"
_SUPPLY = "what drives it belongs to the stage's surroundings"
_CARD = "another coupler is a choice, not a fitting"
_REMARK = "a note is a remark, nothing to be mended"


def _own(card):
    """Return the fields of a card of one's own."""
    return f"coupler=own&card={pack_card(card)}"


def _misfit():
    """Return a card whose line at the knee its transfer ratio contradicts."""
    return replace(load_card("general"), knee=(10e-3, 1.0, 2e-3))


EXAMPLES = {
    "barrier-bridged": Example("bridge=returns&vb=230V", "stop", "vb=230V", None),
    "saturation": Example("rl=1k", "caution", "rl=1k82"),
    "level-lit": Example("vil=150mV", "caution", "vil=165mV"),
    "level-dark": Example("rl=220k", "caution", "rl=205k"),
    "collector-current": Example(
        "coupler=wide-bin&ctr=max&vcc=24V&if=20mA&r1w=3W&rlw=5W&rl=100R", "stop",
        "coupler=wide-bin&ctr=max&vcc=24V&if=20mA&r1w=3W&rlw=5W&rl=430R",
    ),
    "collector-voltage": Example("vcc=72V&rl=100k", "stop", "vcc=66V&rl=100k", unmended=_SUPPLY),
    "detector-power": Example("vcc=24V&if=5mA&r1w=10W&rl=820R", "caution", "vcc=24V&if=5mA&r1w=10W&rl=1k1"),
    "receiver-supply": Example("vcc=5V&rl=6k8", "stop", "vcc=3.42V&rl=6k8"),
    "outside-bin": Example("ctr=79.9%25", "note", "ctr=80%25", unmended=_REMARK),
    "card-fit": Example(_own(_misfit()), "note", _own(load_card("general")), None, _REMARK),
    "turn-on": Example("out=dc-load&r1w=2W&if=2mA", "caution", "out=dc-load&r1w=2W&if=3.6mA"),
    "coupler-supply": Example(f"out=gate&vcc=15V&{_DRIVE}", "caution", f"out=gate&vcc=16V&{_DRIVE}", unmended=_SUPPLY),
    "output-current": Example(
        f"out=dc-load&vcc=48V&rlw=10W&rl=330R&{_DRIVE}", "stop", f"out=dc-load&vcc=48V&rlw=10W&rl=430R&{_DRIVE}"
    ),
    "output-voltage": Example(
        f"out=dc-load&vcc=400V&rl=100k&{_DRIVE}", "stop", f"out=dc-load&vcc=330V&rl=100k&{_DRIVE}", unmended=_CARD
    ),
    "off-delivery": Example("rl=10k&ineed=150uA", "stop", "rl=10k&ineed=105uA"),
    "swapped": Example("swap=yes", "note", "swap=no", None, _REMARK),
    "relay-operate": Example("out=relay&rl=39k", "caution", "out=relay&rl=22k2"),
    "relay-release": Example("out=relay&ta=85C&r3=1M", "caution", "out=relay&ta=85C&r3=27k", 0.08),
    "flyback-peak": Example("out=relay&clamp=none", "stop", "out=relay&clamp=zener&vclamp=30V"),
    "gate-peak": Example(f"out=gate&rl=5R1&{_DRIVE}", "stop", f"out=gate&rl=8R2&{_DRIVE}"),
    "gate-power": Example(
        f"out=gate&rl=10R&fsw=40kHz&qg=1uC&{_DRIVE}", "caution", f"out=gate&rl=10R&fsw=40kHz&qg=600nC&{_DRIVE}"
    ),
    "gate-total": Example(
        f"out=gate&rl=10R&fsw=45kHz&qg=1uC&{_DRIVE}", "caution", f"out=gate&rl=10R&fsw=45kHz&qg=600nC&{_DRIVE}"
    ),
    "surge-current": Example(f"out=ac-triac&rl=180R&{_LINE}", "stop", f"out=ac-triac&rl=270R&{_LINE}"),
    "trigger-point": Example(f"out=ac-triac&rlw=1W&rl=3k3&{_LINE}", "caution", f"out=ac-triac&rlw=1W&rl=2k5&{_LINE}"),
    "minimum-load": Example(
        f"out=ac-triac&igt=5mA&rload=20k&{_LINE}", "stop", f"out=ac-triac&igt=5mA&rload=9k5&{_LINE}",
        unmended="the load itself is too light",
    ),
    "zero-cross": Example(
        f"out=ac-load&coupler=triac-zero&rl=100k&{_LINE}", "stop", f"out=ac-load&coupler=triac-zero&rl=65k&{_LINE}",
        unmended="the load itself is too light",
    ),
    "edge-rate": Example("rate=12kHz", "caution", "rate=10.7kHz"),
    "led-current": Example("if=60mA&r1w=10W", "stop", "r1=1k12&r1w=10W"),
    "residual-light": Example("leak=100k", "caution", "leak=100k&rb=1k6"),
    "port-current": Example("in=logic&if=9mA", "stop", "in=logic&r1=280R"),
    "package-current": Example(
        "in=logic&vs=5V&if=5mA&pins=8&ipack=40mA", "caution", "in=logic&vs=5V&if=5mA&pins=8&ipack=46mA"
    ),
    "sensor-load": Example("in=two-wire&imin=6mA", "caution", "in=two-wire&imin=5.9mA"),
    "power-r1": Example("r1w=125mW", "stop", "r1w=180mW"),
    "power-rb": Example("rbat=input&rb=4k7&rbw=250mW", "stop", "rbat=input&rb=12k&rbw=250mW"),
    "power-b2": Example("in=limited&if=20mA&limw=250mW", "stop", "in=limited&if=5.4mA&limw=250mW"),
    "power-rl": Example("vcc=24V&if=20mA&r1w=3W&rl=1k5", "stop", "vcc=24V&if=20mA&r1w=3W&rl=2k4"),
    "hazardous-voltage": Example("vs=110V&r1w=1W", "note", "vs=109V&r1w=1W", unmended=_REMARK),
    "led-power": Example("if=60mA&r1w=10W", "stop", "r1=1k14&r1w=10W"),
    "led-reverse": Example(
        "in=logic&vs=5V&active=low&voh=24V", "stop", "in=logic&vs=5V&active=low&voh=10.9V"
    ),
    "led-current-low": Example("if=50uA", "caution", "r1=39k"),
    "led-average": Example("in=ac&if=60mA&r1w=50W", "stop", "in=ac&r1=4k8&r1w=50W"),
    "inrush": Example("in=ac&dropper=capacitor&r1=470R", "stop", "in=ac&dropper=capacitor&r1=770R"),
    "resistor-voltage": Example("in=ac&nsplit=1&r1v=340V", "caution", "in=ac&nsplit=1&r1v=360V"),
    "zero-crossing": Example("in=ac", "caution", "in=ac&co=10uF", None),
    "left-charge": Example(
        "in=ac&dropper=capacitor&cd=1u&rbd=1M", "caution", "in=ac&dropper=capacitor&cd=1u&rbd=370k"
    ),
    "line-capacitor": Example(
        "in=ac&dropper=capacitor&vac=48V", "note", "in=ac&dropper=capacitor&vac=45V", unmended=_REMARK
    ),
    "working-voltage": Example("vb=690V", "stop", "vb=590V", unmended=_CARD),
    "creepage": Example("vb=400V&ins=reinforced", "stop", "vb=320V&ins=reinforced", None, _CARD),
    "clearance": Example("vb=300V&oc=4&ins=reinforced", "stop", "vb=300V&oc=3&ins=reinforced", None, _CARD),
    "service-life": Example("rl=2k7&if=2.6mA", "note", "rl=2k7&if=3.2mA", unmended=_REMARK),
}  # fmt: skip
"""Code of every finding to its example, in the order of the rules."""
