"""What the fields of the form are called, and what they mean: words for people, no limits and no units."""

from dataclasses import dataclass

from engine import FAMILIES, INPUTS, OUTPUTS, card_names, load_card


@dataclass(frozen=True, slots=True)
class Words:
    """What a field is called and what it means.

    Attributes
    ----------
    label : str
        Name for people.
    help : str
        One sentence.
    more : bool
        Whether it stands among the further fields.
    resets : str
        Key of the field that goes back to "auto" when this one is moved.
    around : bool
        Whether it is about a part that may stand around the LED.
    """

    label: str
    help: str
    more: bool = False
    resets: str = ""
    around: bool = False


WORDS = {
    "vs": Words("Supply voltage", "Voltage that drives the LED's loop."),
    "vstol": Words("Supply tolerance", "How far the supply may be off, either way.", more=True),
    "vsmin": Words("Supply, lowest", "Lowest supply that must still hold, or tol.", more=True),
    "vsmax": Words("Supply, highest", "Highest supply that must still hold, or tol.", more=True),
    "vi": Words("V-I table", "Pairs of voltage and current, from no load to a short."),
    "r1": Words("Series resistor", "Limits the LED's current; auto sizes it from the drive current."),
    "if": Words(
        "Drive current", "LED current to size the series resistor for; moving it sets R1 to auto.", resets="r1"
    ),
    "r1w": Words("R1 rating", "Power that the series resistor may take.", more=True),
    "rb": Words(
        "Bypass resistor", "Leads current past the LED, so that leakage does not light it, or none.", around=True
    ),
    "rbat": Words("Bypass across", "What it lies across: the LED, the whole input, or the switch.", around=True),
    "rbw": Words("Bypass rating", "Power that the bypass resistor may take.", around=True),
    "nd": Words(
        "Diodes in series", "Silicon diodes in series with the LED: protection, or a higher threshold.", around=True
    ),
    "ap": Words("Antiparallel diode", "Silicon diode across the LED that takes reverse voltage, or none.", around=True),
    "vz": Words("Zener in series", "Raises the voltage at which the LED begins to light, or none.", around=True),
    "lamp": Words("Input indicator", "Colour of an indicator LED on the input side, or none.", around=True),
    "lampat": Words(
        "Indicator in", "In series with the LED, or parallel to the input with its own resistor.", around=True
    ),
    "rh": Words("Indicator resistor", "Resistor of an indicator that is parallel to the input.", around=True),
    "ri": Words("Inside resistor", "Resistor within the coupler's input, or none.", around=True),
    "cf": Words(
        "Filter capacitor", "Capacitor across the LED; no direct current flows through it, or none.", around=True
    ),
    "vac": Words("Line voltage", "Alternating voltage of the line, rms."),
    "f": Words("Frequency", "Frequency of the line.", more=True),
    "form": Words(
        "Rectified by", "A bridge, a pair of LEDs back to back, a diode antiparallel to the LED, or a bare LED."
    ),
    "dropper": Words("Dropped by", "What drops the line voltage: a resistor, or a capacitor with one."),
    "r1v": Words("R1 voltage rating", "Peak voltage that one resistor of R1 may have across it.", more=True),
    "nsplit": Words("R1 made of", "Equal resistors in series that share R1's voltage and power.", more=True),
    "cd": Words("Dropper capacitor", "Drops the line voltage; auto sizes it from the drive current.", more=True),
    "cdtol": Words("Capacitor tolerance", "How far the dropper capacitor may be off, either way.", more=True),
    "rbd": Words("Bleeder", "Discharges the dropper capacitor once the line is off, or none.", more=True),
    "cs": Words("Smoothing capacitor", "Behind the bridge, in front of the LED, or none.", more=True),
    "rf": Words("Behind the smoothing", "Resistor between the smoothing capacitor and the LED.", more=True),
    "co": Words("Output capacitor", "Across the output; carries it over the zero crossing, or none.", more=True),
    "ileak": Words(
        "Residual current",
        "Leaks past the absent line voltage, rms, through a snubber, switch or moist cable.",
        more=True,
    ),
    "rc": Words("Contact, closed", "Resistance of the closed contact.", more=True),
    "line": Words("Line", "Resistance of the line to the contact and back.", more=True),
    "leak": Words("Contact, open", "Leakage resistance of the open contact and its cable, or none.", more=True),
    "ires": Words("Residual current", "What the open contact lets through whatever the voltage.", more=True),
    "von": Words("Drop while on", "Voltage that the sensor keeps while it is on, at the drive current.", more=True),
    "ioff": Words("Leakage while off", "Largest current that the sensor lets through while it is off.", more=True),
    "imin": Words("Least load current", "Current that the sensor lives on while it is on.", more=True),
    "place": Words("Sensor at", "Whether it stands at the supply or at the return.", more=True),
    "voh": Words("Port high level", "High level at the drive current, or rail for the LED's supply.", more=True),
    "pins": Words("Pins lit at once", "Pins of the package that carry as much at the same time.", more=True),
    "ipack": Words("Package limit", "Current that all pins together may carry, or none.", more=True),
    "q": Words("Transistor", "Bipolar npn, or n-channel MOSFET."),
    "qat": Words("Transistor lies", "In series with the LED, or across it, where it lights the LED by blocking."),
    "vd": Words("Drive level", "High level of the logic that drives the transistor.", more=True),
    "r2": Words("Base resistor", "Resistor in the base or gate lead.", more=True),
    "hfe": Words("Current gain", "Current gain of the npn transistor.", more=True),
    "vth": Words("Gate threshold", "Threshold voltage of the MOSFET.", more=True),
    "ron": Words("On-resistance", "On-resistance of the MOSFET at the drive level.", more=True),
    "vdo": Words("Dropout voltage", "Voltage that the limiter needs for 95 % of its set current.", more=True),
    "limtol": Words("Set current tolerance", "How far the set current may be off, either way.", more=True),
    "limw": Words("Limiter rating", "Power that the limiter may take.", more=True),
    "rport": Words("Port resistance", "Output resistance of the port in either state.", more=True),
    "iport": Words("Port current limit", "Current that the port may carry.", more=True),
    "active": Words("Lit when the port is", "Whether the port lights the LED by going high or low.", more=True),
    "coupler": Words("Class", "Class of coupler: a card with the lines of a data sheet."),
    "card": Words("Own card", "Packed text of a card of your own, used where the class is own.", more=True),
    "ctr": Words(
        "Transfer ratio",
        "Collector current over LED current of this specimen at the card's test point: a percentage, or typ, min, max.",
    ),
    "ctrmin": Words("Bin, lowest", "Smallest transfer ratio of the bin, or card.", more=True),
    "ctrmax": Words("Bin, highest", "Largest transfer ratio of the bin, or card.", more=True),
    "rbe": Words("Base resistor", "Resistor from base to emitter, where the base is brought out, or none.", more=True),
    "vcc": Words("Output supply", "Voltage of the output side."),
    "vcctol": Words("Supply tolerance", "How far the output supply may be off, either way.", more=True),
    "vccmin": Words("Supply, lowest", "Lowest output supply that must still hold, or tol.", more=True),
    "vccmax": Words("Supply, highest", "Highest output supply that must still hold, or tol.", more=True),
    "rl": Words("Load resistor", "Turns the collector current into a voltage; auto sizes it from the load current."),
    "il": Words("Load current", "Current to size the load resistor for; moving it sets RL to auto.", resets="rl"),
    "rlw": Words("RL rating", "Power that the load resistor may take.", more=True),
    "logic": Words("Receiver", "Logic family that reads the output."),
    "vil": Words("Reads low up to", "Largest voltage that surely reads low, or family.", more=True),
    "vih": Words("Reads high from", "Smallest voltage that surely reads high, or family.", more=True),
    "iin": Words("Input leakage", "Largest leakage of the receiver's input, or family.", more=True),
    "colour": Words("Indicator", "Colour of the indicator LED."),
    "ilit": Words("Lit from", "Current from which the indicator counts as lit.", more=True),
    "idark": Words("Dark up to", "Current up to which the indicator counts as dark.", more=True),
    "rin": Words("Input resistance", "Resistance of the receiver's own input to common, or none.", more=True),
    "ineed": Words("Current while dark", "Current that the receiver asks for with the LED dark, or none.", more=True),
    "swap": Words("Collector and emitter", "Whether they are exchanged, to see what becomes of it.", more=True),
    "cl": Words("Load capacitance", "Of wiring and receiver at the output; it slows the edges.", more=True),
    "rpumin": Words("Port pull-up, least", "Smallest pull-up within the receiver's port, or none.", more=True),
    "rpumax": Words("Port pull-up, most", "Largest pull-up within the receiver's port, or none.", more=True),
    "itype": Words("Input type", "Type of the controller's input in IEC 61131-2."),
    "flow": Words("Input is", "Sinking: it takes current from the stage. Sourcing: it gives current to it."),
    "uon": Words("On from", "Voltage from which the input is surely on, or type.", more=True),
    "uoff": Words("Off up to", "Voltage up to which the input is surely off, or type.", more=True),
    "udrop": Words("Drop-out", "Voltage at which an input that is on surely lets go, or type.", more=True),
    "uspread": Words("Input current spread", "How far the input's current may be off, either way.", more=True),
    "vk": Words("Coil voltage", "Nominal voltage of the coil."),
    "rk": Words("Coil resistance", "Resistance of the coil at 20 °C."),
    "rktol": Words("Coil tolerance", "How far the coil's resistance may be off, either way.", more=True),
    "lk": Words("Coil inductance", "Inductance of the coil, which sets how fast it lets go.", more=True),
    "kop": Words("Operates from", "Share of the nominal voltage at which it surely operates, at 20 °C.", more=True),
    "krel": Words("Releases at", "Share of the nominal voltage at which it surely releases, at 20 °C.", more=True),
    "clamp": Words("Clamp", "What takes the coil's current over when it is switched off."),
    "vclamp": Words("Clamp zener", "Zener voltage of the clamp.", more=True),
    "rclamp": Words("Clamp resistor", "Resistor of the clamp.", more=True),
    "kq": Words("Coil transistor", "Bipolar npn, or n-channel MOSFET.", more=True),
    "khmin": Words("Gain, lowest", "Smallest current gain of the npn transistor.", more=True),
    "khmax": Words("Gain, highest", "Largest current gain; it amplifies what leaks through the detector.", more=True),
    "kvth": Words("Gate threshold", "Threshold voltage of the MOSFET.", more=True),
    "kron": Words("On-resistance", "On-resistance of the MOSFET at 10 V.", more=True),
    "kvmax": Words("Transistor voltage", "Voltage that the transistor withstands.", more=True),
    "r3": Words("Base to common", "Resistor that keeps the transistor off while the detector leaks.", more=True),
    "vee": Words("Negative rail", "Negative rail against emitter or source; 0 V for none."),
    "qg": Words("Gate charge", "Charge of the gate over its whole swing."),
    "fsw": Words("Switching frequency", "How often the gate is charged and discharged in a second."),
    "dsw": Words("Duty", "Share of the time in which the LED is lit.", more=True),
    "rge": Words("Gate to emitter", "Resistor that keeps the gate off without a supply.", more=True),
    "vgon": Words("Gate on from", "Gate voltage from which the transistor is fully on.", more=True),
    "vgoff": Words("Gate off up to", "Gate voltage up to which the transistor is surely off.", more=True),
    "lon": Words("Works from", "Share of the nominal supply from which the load works.", more=True),
    "loff": Words("Off up to", "Share of the nominal supply up to which the load is off.", more=True),
    "rload": Words("Load", "Resistance of the load."),
    "fline": Words("Line frequency", "Frequency of the line.", more=True),
    "csn": Words("Snubber capacitor", "Capacitor across what switches, or none; it leaks while off.", more=True),
    "rsn": Words("Snubber resistor", "Resistor in series with the snubber's capacitor.", more=True),
    "igt": Words("Trigger current", "Gate trigger current of the larger triac.", more=True),
    "vgt": Words("Trigger voltage", "Gate trigger voltage of the larger triac.", more=True),
    "rgk": Words("Gate to terminal", "Resistor from the triac's gate to its first main terminal.", more=True),
    "ihold": Words("Holding current", "Current below which the larger triac lets go.", more=True),
    "vton": Words("On-state voltage", "Voltage that the larger triac keeps while on.", more=True),
    "ta": Words("Ambient", "Temperature around the coupler."),
    "tamin": Words("Coldest", "Lowest ambient temperature that it must work at, or ta for the one above."),
    "tamax": Words("Hottest", "Highest ambient temperature that it must work at, or ta for the one above."),
    "years": Words("Years", "Years of service for which it must work; 0 looks at new parts."),
    "rate": Words("Rate", "Signal rate: square wave that it must follow at its slowest corner, or none."),
    "ageing": Words(
        "Light is lost", "How the LED ages: a planning figure, one of your own, or a stress test.", more=True
    ),
    "loss": Words("Share lost", "Share of the light that is lost over the years below.", more=True),
    "lossyears": Words("Over years", "Years over which that share is lost.", more=True),
    "stloss": Words("Lost in the test", "Share of the light that the stress test lost.", more=True),
    "sthours": Words("Test hours", "How long the stress test took.", more=True),
    "stif": Words("Test current", "LED current in the stress test.", more=True),
    "stta": Words("Test temperature", "Temperature in the stress test.", more=True),
    "stpower": Words("Power of current", "The ageing goes with the current to this power.", more=True),
    "stenergy": Words("Activation energy", "Of the ageing, in electronvolts.", more=True),
    "duty": Words("Share lit", "Share of its service in which the LED is lit, for a stress test.", more=True),
    "tol": Words("Resistors", "Tolerance of both resistors."),
    "round": Words("Rounding", "Direction in which an auto resistor is rounded.", more=True),
    "series": Words("Series", "Preferred series that auto resistors are taken from."),
    "vb": Words("Across the barrier", "Working voltage between the sides, rms or direct, or none.", more=True),
    "pd": Words("Pollution degree", "1 dry or sealed, 2 indoors, 3 where dust or moisture conducts.", more=True),
    "ins": Words("Insulation grade", "Grade of insulation that is asked of the coupler.", more=True),
    "oc": Words(
        "Overvoltage category",
        "1 protected circuits, 2 what is plugged in, 3 fixed installation, 4 its origin; counts with VB.",
        more=True,
    ),
    "bridge": Words("Returns joined", "Whether a conductor joins the returns, to see what becomes of it.", more=True),
    "meter": Words("Meter", "What the stage is measured with on the bench; it loads what it measures.", more=True),
    "sw": Words("Switch", "State that the schematic shows; both are always solved."),
}
"""Key to words; a house test compares the keys with the engine's."""

KIND_WORDS = {
    ("controller", "rl"): Words("Series resistor", "Between detector and input; auto sizes it from the current."),
    ("controller", "il"): Words(
        "Input current", "Current to size the series resistor for; moving it sets RL to auto.", resets="rl"
    ),
    ("relay", "rl"): Words("Base resistor", "From detector to base or gate; auto sizes it from the base current."),
    ("relay", "il"): Words(
        "Base current", "Current to size the base resistor for; moving it sets RL to auto.", resets="rl"
    ),
    ("gate", "vcc"): Words("Positive supply", "Positive supply against emitter or source."),
    ("gate", "rl"): Words("Gate resistor", "Limits the driver's peak current; auto sizes it from that."),
    ("gate", "il"): Words(
        "Peak current", "Peak current to size the gate resistor for; moving it sets RL to auto.", resets="rl"
    ),
    ("dc-load", "rl"): Words("Load", "Resistance of the load; auto takes it from the load's current."),
    ("dc-load", "il"): Words("Load current", "Current of the load; moving it sets RL to auto.", resets="rl"),
    ("ac-load", "vcc"): Words("Line voltage", "Alternating voltage of the load's line, rms."),
    ("ac-load", "rl"): Words("Load", "Resistance of the load; auto takes it from the load's current."),
    ("ac-load", "il"): Words("Load current", "Current of the load, rms; moving it sets RL to auto.", resets="rl"),
    ("ac-triac", "vcc"): Words("Line voltage", "Alternating voltage of the load's line, rms."),
    ("ac-triac", "rl"): Words("Series resistor", "In series with the coupler; auto sizes it from the surge current."),
    ("ac-triac", "il"): Words(
        "Surge current", "Peak current to size the series resistor for; moving it sets RL to auto.", resets="rl"
    ),
}
"""Kind of output side and key to words, where a field means something of its own there."""


def words_for(key, kind):
    """Return the words of a field of a kind of side."""
    return KIND_WORDS.get((kind, key), WORDS[key])


CHOICES = {
    **{name: kind.title for name, kind in (*INPUTS.items(), *OUTPUTS.items())},
    **{name: load_card(name).title for name in card_names()},
    "relay": "Relay by transistor",
    "gate": "IGBT or MOSFET gate",
    "dc-load": "DC load",
    "ac-load": "AC load, directly",
    "triac-random": "Triac, random phase",
    "triac-zero": "Triac, zero crossing",
    "own": "Own card",
    **{name: family.title for name, family in FAMILIES.items()},
    "led": "LED",
    "input": "input",
    "switch": "switch",
    "npn": "npn",
    "mosfet": "MOSFET",
    "series": "in series",
    "across": "across it",
    "parallel": "parallel",
    "zener": "diode and zener",
    "slow": "20 % in 10 years",
    "fast": "50 % in 5 years",
    "stress": "by a stress test",
    "returns": "by a conductor",
    "bare": "bare LED",
    "digital": "digital, 10 MΩ",
    "loading": "low-impedance range",
    "pointer": "pointer, 20 kΩ/V",
    "nearest": "nearest",
    "up": "next up",
    "down": "next down",
}
"""Word of the query string to words for people, where they differ."""
