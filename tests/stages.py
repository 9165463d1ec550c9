"""Stages that many tests go through: every direct-current drive, with everything that may stand around its LED."""

from engine import INPUTS
from engine.inputs.drive import Drive

DRIVES = {
    "contact-low": "in=contact-low",
    "contact-low with line": "in=contact-low&line=33R",
    "contact-high": "in=contact-high",
    "contact-high with line": "in=contact-high&line=33R",
    "sinking": "in=sinking",
    "sourcing": "in=sourcing",
    "two-wire at the supply": "in=two-wire&rb=none",
    "two-wire at the return": "in=two-wire&rb=none&place=return",
    "port high": "in=logic&vs=12V",
    "port low": "in=logic&vs=12V&active=low",
    "port below its rail": "in=logic&vs=12V&voh=11V",
    "port of a lower supply": "in=logic&vs=12V&active=low&voh=11V",
    "npn in series": "in=transistor",
    "npn across": "in=transistor&qat=across",
    "mosfet in series": "in=transistor&q=mosfet",
    "mosfet across": "in=transistor&q=mosfet&qat=across",
    "limited": "in=limited",
    "limited with line": "in=limited&line=33R",
    "measured": "in=measured",
}
"""Every direct-current drive in each of its drawings, without any option, at a supply that leaves room for all."""

OPTIONS = {
    "bypass of the LED": "rb=2k2",
    "bypass of the input": "rb=4k7&rbat=input&rbw=2W",
    "bypass of the switch": "rb=470k&rbat=switch",
    "a diode": "nd=1",
    "three diodes": "nd=3",
    "antiparallel diode": "ap=diode",
    "zener": "vz=3V",
    "indicator in series": "lamp=red",
    "indicator beside": "lamp=green&lampat=parallel&rh=4k7",
    "inside resistor": "ri=100R",
    "filter": "cf=100nF",
}
"""Everything that may stand around the LED, one by one."""

TOGETHER = {
    "a filtered and protected LED": "rb=2k2&ap=diode&cf=100nF",
    "all in series": "nd=2&vz=3V&lamp=red&ri=100R",
    "all beside": "rb=4k7&rbat=input&rbw=2W&lamp=green&lampat=parallel&rh=4k7&ap=diode&cf=100nF",
    "everything": "rb=4k7&rbat=input&rbw=2W&nd=2&vz=3V&lamp=green&lampat=parallel&rh=4k7&ri=100R&ap=diode&cf=100nF",
}
"""Several of them at once, the most last."""


def kinds():
    """Return the kinds of direct-current drives."""
    return [kind for kind, side in INPUTS.items() if issubclass(side, Drive)]


def has_switch(drive):
    """Whether a drive has a switch for a bypass to lie across."""
    return "in=measured" not in drive


def alone():
    """Yield every drive with every option alone, where it has such a part."""
    for drive in DRIVES.values():
        for option in OPTIONS.values():
            if has_switch(drive) or "rbat=switch" not in option:
                yield with_option(drive, option)


def together():
    """Yield every drive with several options at once."""
    for drive in DRIVES.values():
        for options in TOGETHER.values():
            yield with_option(drive, options)


def with_option(drive, option):
    """Return a drive with options, each of which replaces what the drive says of the same key."""
    return "&".join(
        f"{key}={text}" for key, text in (dict(p.split("=") for p in f"{drive}&{option}".split("&"))).items()
    )
