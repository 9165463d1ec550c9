"""What the bands of all sliders of one stage cost on one core: engine alone, each stage at another temperature."""

import statistics

from engine import operating_point, scenario_from_query
from tests.benchmarks.update import timed
from webapp.forms import sliders_of
from webapp.present.bands import bands_for
from webapp.present.controls import values_in_force

TARGET, AC_TARGET = 150.0, 400.0  # ms
REPEATS = 15
STAGES = {
    "the usual stage": "",
    "an auto load, another receiver": "vs=24V&rl=auto&vcc=5V&logic=hct",
    "a load that does not saturate": "rl=470R",
    "sinking sensor": "in=sinking",
    "two-wire sensor": "in=two-wire",
    "port": "in=logic",
    "current-limited input": "in=limited",
    "over temperature, aged": "tamin=-20C&tamax=70C&years=10",
    "indicator": "out=indicator",
    "gate driver": "out=gate&if=10mA",
    "controller input from a port": "in=logic&vs=5V&if=8mA&iport=12mA&out=controller",
    "relay": "out=relay",
    "relay behind a transistor drive": "in=transistor&if=6mA&out=relay",
    "larger triac with a snubber": "in=logic&vs=5V&if=16mA&iport=30mA&out=ac-triac&csn=47n",
    "every option around the LED": "nd=2&vz=10V&lamp=red&ri=100R&rb=470R&ap=diode&cf=1u&leak=10M",
    "alternating line, resistor": "in=ac",
    "alternating line, capacitors": "in=ac&dropper=capacitor&cs=10u",
}


def main(arguments=()):
    """Measure and print."""
    for name, query in STAGES.items():
        scenarios = [scenario_from_query(f"{query}&ta={20 + k}C") for k in range(REPEATS + 1)]
        asked = [(one, sliders_of(one, values_in_force(operating_point(one)))) for one in scenarios]
        bands_for(*asked[0])
        times, ratio = timed(lambda one: bands_for(*one), asked[1:])
        target = AC_TARGET if query.startswith("in=ac") else TARGET
        median = statistics.median(times)
        print(
            f"  {name:34} median {median:6.1f} ms  most {times[-1]:6.1f} ms  target {target:.0f} ms, "
            f"{median / target:.2f} of it; {ratio:.1f} yardsticks"
        )


if __name__ == "__main__":
    main()
