"""What inputs of the logic families read as low and as high, and what flows in and out of them."""

import pytest

from engine import FAMILIES

KUPHALDT = "T. R. Kuphaldt, Lessons in Electric Circuits, vol. IV Digital, ch. 3, logic signal voltage levels"
LVC = "NXP 74LVC00A data sheet, rev. 7, which claims JESD8-C, JESD8-5A and JESD8-7A"
LVC14 = "Philips 74LVC14A data sheet, 2002-03-15, transfer characteristics"
VAN02 = "Vishay, Optocouplers in switching and logic circuits (VAN02), input currents of standard TTL"

LEVELS = {
    KUPHALDT + "; Motorola SN54/74LS47 data sheet": [("ttl", 5.0, 0.8, 2.0), ("lsttl", 5.0, 0.8, 2.0)],
    KUPHALDT + " (CMOS at 10 V)": [("cmos", 10.0, 3.0, 7.0), ("cmos4000", 10.0, 3.0, 7.0)],
    "NXP 74HC595 data sheet, rev. 6, and Philips 74HC00 data sheet": [
        ("hc", 2.0, 0.5, 1.5), ("hc", 4.5, 1.35, 3.15), ("hc", 6.0, 1.8, 4.2),
        ("hct", 4.5, 0.8, 2.0), ("hct", 5.5, 0.8, 2.0),
    ],
    "STMicroelectronics 74AC00 data sheet, guaranteed limits": [
        ("ac", 3.0, 0.9, 2.1), ("ac", 4.5, 1.35, 3.15), ("ac", 5.5, 1.65, 3.85),
    ],
    "Texas Instruments SCHS046I, CD4050B": [
        ("cmos4000", 5.0, 1.5, 3.5), ("cmos4000", 10.0, 3.0, 7.0), ("cmos4000", 15.0, 4.0, 11.0),
    ],
    "Texas Instruments SCHS046I, CD4049UB": [
        ("cmos4000ub", 5.0, 1.0, 4.0), ("cmos4000ub", 10.0, 2.0, 8.0), ("cmos4000ub", 15.0, 2.5, 12.5),
    ],
    LVC: [
        ("lvcmos33", 2.7, 0.8, 2.0), ("lvcmos33", 3.6, 0.8, 2.0), ("lvcmos25", 2.3, 0.7, 1.7),
        ("lvcmos25", 2.7, 0.7, 1.7), ("lvcmos18", 1.8, 0.63, 1.17),
    ],
    "Electrical engineering questions and answers, 33042 (community): low below 0.2, high above 0.6 of 3.3 V": [
        ("mcu", 3.3, 0.66, 1.98),
    ],
}  # fmt: skip
CASES = [
    pytest.param(*case, marks=pytest.mark.source(source), id="-".join(map(str, case)))
    for source, cases in LEVELS.items()
    for case in cases
]


@pytest.mark.source("as named beside each group of LEVELS")
@pytest.mark.parametrize(("family", "VCC", "VIL", "VIH"), CASES)
def test_levels(family, VCC, VIL, VIH):
    assert FAMILIES[family].limits(VCC) == pytest.approx((VIL, VIH), abs=1e-9)


@pytest.mark.source(LVC14)
@pytest.mark.parametrize(
    ("family", "supply", "rising", "falling"),
    [("schmitt33", (2.7, 3.6), (1.1, 2.0), (0.8, 1.5)), ("schmitt25", (2.3, 2.7), (0.9, 1.7), (0.4, 1.2))],
)
def test_a_schmitt_input_is_sure_outside_of_both_thresholds(family, supply, rising, falling):
    assert FAMILIES[family].limits(supply[0]) == pytest.approx((falling[0], rising[1]))
    assert FAMILIES[family].supply == supply


@pytest.mark.source(LVC + "; Texas Instruments SCHS046I: 1 uA at 85 degC")
@pytest.mark.parametrize(
    ("family", "amperes"), [("lvcmos33", 5e-6), ("lvcmos18", 5e-6), ("cmos4000", 1e-6), ("cmos4000ub", 1e-6)]
)
def test_leakage_of_cmos_inputs(family, amperes):
    assert (FAMILIES[family].sinks, FAMILIES[family].sources) == (amperes, amperes)


@pytest.mark.source(VAN02)
def test_input_currents_of_standard_ttl():
    assert (FAMILIES["ttl"].sinks, FAMILIES["ttl"].sources) == (40e-6, 1.6e-3)


@pytest.mark.from_memory
def test_input_currents_of_low_power_schottky_ttl():
    assert (FAMILIES["lsttl"].sinks, FAMILIES["lsttl"].sources) == (20e-6, 0.4e-3)
