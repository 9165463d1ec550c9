"""Creepage distances, clearances, rated impulses and material groups against published tables."""

from dataclasses import replace

import pytest

from engine.coupler import load_card
from engine.insulation import CATEGORIES, rated_impulse, required_clearance, required_creepage

TABLE_F4 = "IEC 60664-1 Table F.4, reproduced in Rail-Mounted Terminal Block Systems vol. 1, 2015, p. 594"


@pytest.mark.source(TABLE_F4 + ", pollution degree 2")
@pytest.mark.parametrize(
    ("volts", "group_I", "group_II", "group_III"),
    [
        (10, 0.400, 0.400, 0.400), (32, 0.53, 0.53, 0.53), (40, 0.56, 0.80, 1.10), (50, 0.60, 0.85, 1.20),
        (63, 0.63, 0.90, 1.25), (80, 0.67, 0.95, 1.30), (100, 0.71, 1.00, 1.40), (125, 0.75, 1.05, 1.50),
        (160, 0.80, 1.10, 1.60), (200, 1.00, 1.40, 2.00), (250, 1.25, 1.80, 2.50), (320, 1.60, 2.20, 3.20),
        (400, 2.0, 2.8, 4.0), (500, 2.5, 3.6, 5.0), (630, 3.2, 4.5, 6.3), (800, 4.0, 5.6, 8.0),
        (1000, 5.0, 7.1, 10.0), (1250, 6.3, 9.0, 12.5),
    ],
)  # fmt: skip
def test_creepage_at_pollution_degree_2(volts, group_I, group_II, group_III):
    found = [required_creepage(volts, "2", group) for group in ("I", "II", "IIIa", "IIIb")]
    assert found == pytest.approx([1e-3 * mm for mm in (group_I, group_II, group_III, group_III)])


@pytest.mark.source(TABLE_F4 + ", pollution degrees 1 and 3")
@pytest.mark.parametrize(
    ("volts", "degree_1", "degree_3"),
    [
        (50, 0.18, (1.50, 1.70, 1.90)), (100, 0.25, (1.80, 2.00, 2.20)), (160, 0.32, (2.00, 2.20, 2.50)),
        (250, 0.56, (3.20, 3.60, 4.00)), (320, 0.75, (4.00, 4.50, 5.00)), (400, 1.0, (5.0, 5.6, 6.3)),
        (500, 1.3, (6.3, 7.1, 8.0)), (630, 1.8, (8.0, 9.0, 10.0)), (800, 2.4, (10.0, 11.0, 12.5)),
        (1000, 3.2, (12.5, 14.0, 16.0)),
    ],
)  # fmt: skip
def test_creepage_at_other_pollution_degrees(volts, degree_1, degree_3):
    assert required_creepage(volts, "1", "II") == pytest.approx(1e-3 * degree_1)
    found = [required_creepage(volts, "3", group) for group in ("I", "II", "IIIa")]
    assert found == pytest.approx([1e-3 * mm for mm in degree_3])


@pytest.mark.source("Rail-mounted terminal blocks, technical section p. 38: material groups by CTI")
@pytest.mark.parametrize(
    ("CTI", "group"),
    [(600, "I"), (599, "II"), (400, "II"), (399, "IIIa"), (175, "IIIa"), (174, "IIIb"), (100, "IIIb")],
)
def test_material_groups_by_tracking_index(CTI, group):
    assert replace(load_card("general"), CTI=float(CTI), material=None).group() == group


@pytest.mark.source("Texas Instruments ISO7220x data sheet SLLS755P, 2018, section 6.6: categories of a 4000 V rating")
@pytest.mark.parametrize(("volts", "category"), [(150, "4"), (300, "3")])
def test_a_rating_of_4_kV_allows_these_categories_up_to_these_voltages(volts, category):
    assert rated_impulse(volts, category) == 4000.0
    assert rated_impulse(volts + 1, category) > 4000.0


@pytest.mark.source("Hotset glossary, overvoltage category: 230/400 V systems")
@pytest.mark.parametrize(("category", "impulse"), [("1", 1500.0), ("4", 6000.0)])
def test_rated_impulse_of_a_line_of_230_V(category, impulse):
    assert rated_impulse(230.0, category) == impulse


@pytest.mark.source("V. Gasse, emc-pstc list: rated impulse of a 1000 V system in overvoltage category III")
def test_rated_impulse_of_a_line_of_1000_V():
    assert rated_impulse(1000.0, "3") == 8000.0


@pytest.mark.from_memory
@pytest.mark.parametrize(
    ("volts", "kilovolts"),
    [
        (50, (0.33, 0.5, 0.8, 1.5)), (100, (0.5, 0.8, 1.5, 2.5)), (150, (0.8, 1.5, 2.5, 4.0)),
        (300, (1.5, 2.5, 4.0, 6.0)), (600, (2.5, 4.0, 6.0, 8.0)), (1000, (4.0, 6.0, 8.0, 12.0)),
    ],
)  # fmt: skip
def test_rated_impulses_of_iec_60664_1_table_f_1(volts, kilovolts):
    assert [rated_impulse(volts, category) for category in CATEGORIES] == [1e3 * kV for kV in kilovolts]


@pytest.mark.from_memory
@pytest.mark.parametrize(
    ("kilovolts", "mm"),
    [(0.33, 0.2), (0.5, 0.2), (0.8, 0.2), (1.5, 0.5), (2.5, 1.5), (4.0, 3.0), (6.0, 5.5), (8.0, 8.0), (12.0, 14.0)],
)
def test_clearances_of_iec_60664_1_table_f_2_in_an_inhomogeneous_field(kilovolts, mm):
    assert required_clearance(1e3 * kilovolts) == pytest.approx(1e-3 * mm)


@pytest.mark.from_memory
def test_pollution_degree_3_takes_0_8_mm_at_least():
    assert required_clearance(500.0, "3") == pytest.approx(0.8e-3)
    assert required_clearance(2500.0, "3") == pytest.approx(1.5e-3)


@pytest.mark.from_memory
def test_reinforced_insulation_takes_the_clearance_of_the_next_impulse():
    assert required_clearance(4000.0, grade="reinforced") == pytest.approx(5.5e-3)
    assert required_clearance(12000.0, grade="reinforced") is None
