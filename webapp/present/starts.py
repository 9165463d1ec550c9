"""Scenarios to start from, each a story with a link."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Start:
    """A scenario to start from.

    Attributes
    ----------
    title : str
        Its name.
    story : str
        What it is about.
    notice : str
        What to drag and what to notice.
    query : str
        The scenario.
    """

    title: str
    story: str
    notice: str
    query: str


STARTS = (
    Start(
        "Reservoir float switch",
        "A float switch hangs on the 48 V battery bus of a solar pump and tells a 3.3 V controller: the tank is full.",
        "Drag the supply over the battery's range, then the transfer ratio to the end of its bin: it still reads low.",
        "",
    ),
    Start(
        "Barn gate, weak pull",
        "The same controller further away, its pull-up chosen strong to be fast: it works on the bench.",
        "The typical coupler saturates, the lowest of the bin does not. Let the ambient rise, then follow the remedy.",
        "in=contact-high&vs=36V&r1=15k&line=40R&rl=1k8",
    ),
    Start(
        "Feed mill, as tried on the bench",
        "A 20 V gate contact reports to a 5 V counter; the pull-up asks for all that the weakest new coupler gives.",
        "New and at 25 °C every check holds; asked for 0 to 60 °C and 10 years it fails. Go down the steps under the "
        "controls, then take what mends it.",
        "vs=20V&r1=6k2&vcc=5V&rl=2k7&logic=hct&tamin=0C&tamax=60C&years=10",
    ),
    Start(
        "Feed mill, made to last",
        "The same counter with a lighter pull-up: hot, cold and ten years on, the weakest coupler still saturates it.",
        "See in which year it ends. Let the light fade fast, half of it in 5 years: how little of that is left.",
        "vs=20V&r1=6k2&vcc=5V&logic=hct&tamin=0C&tamax=60C&years=10",
    ),
    Start(
        "Cold-store door",
        "A door contact on a 60 V line with 300 m of cable. The 5 V logger's input must go high when the door is shut.",
        "Output from the emitter: not inverted. Let the open contact leak 47 kΩ of moisture and see what the LED does.",
        "in=contact-high&vs=60V&if=2mA&r1w=250mW&line=22R&out=pull-down&vcc=5V&rl=6k8&logic=cmos",
    ),
    Start(
        "Trailer lamp line",
        "The lamp line of a trailer, 9 V on a tired battery to 32 V on a charging lorry, read by a 5 V counter.",
        "Both ends hold at once. Raise R1 until the low end no longer saturates; lower it until R1 grows too hot.",
        "in=contact-high&vs=24V&vsmin=9V&vsmax=32V&r1=5k6&vcc=5V&rl=10k&logic=hct",
    ),
    Start(
        "Beacon from a port",
        "A 3.3 V port lights a beacon's pilot lamp at 18 V on the far side.",
        "Lower the drive current until the lamp dims: the coupler can no longer give what the lamp asks for.",
        "in=logic&if=5mA&out=indicator&vcc=18V&il=3mA&colour=yellow",
    ),
    Start(
        "Sinking port, low drive",
        "A port that may carry 2 mA only, a coupler made for little drive, a 1.8 V receiver.",
        "Swap the coupler for the unsorted class and look at the range instead of the number.",
        "in=logic&vs=5V&if=1mA&iport=2mA&active=low&coupler=low-drive&vcc=1.8V&rl=8k2&logic=lvcmos18",
    ),
    Start(
        "Silo level probe",
        "A two-wire level probe on 28 V reports to a 3.3 V gateway. It lives on 0.8 mA even while it is off.",
        "Take the bypass resistor away (around the LED): the LED never goes dark. Follow the remedy.",
        "in=two-wire",
    ),
    Start(
        "Pump room, line present",
        "Does the 230 V circuit of a pump carry voltage? A bridge and a resistor light the LED in either half cycle.",
        "Look over the cycle: it lets go around each zero crossing. Lower R1, then give the output a capacitor.",
        "in=ac",
    ),
    Start(
        "Greenhouse vent, status for a controller",
        "A vent drive's 5 V logic reports to a 24 V controller input of type 3 in the next cabinet.",
        "See where both states stand in the regions of the input; try a type 2 input, which asks for more current.",
        "in=logic&vs=5V&if=8mA&iport=12mA&out=controller",
    ),
    Start(
        "Irrigation valve relay",
        "A small transistor behind the coupler works a relay coil; what clamps the coil decides how fast it lets go.",
        "Choose another clamp: less voltage at the switch costs release time.",
        "in=logic&vs=5V&if=6mA&iport=10mA&out=relay",
    ),
    Start(
        "Inverter gate",
        "A gate driver coupler turns the switch of a small inverter on and off.",
        "Lower the gate resistor: the peak current grows, and with the frequency the driver's power.",
        "in=logic&vs=5V&if=10mA&iport=16mA&out=gate",
    ),
)
