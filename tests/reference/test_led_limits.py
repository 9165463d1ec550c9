"""What an LED bears, by published limits: backwards, in power over the temperature, and where its parts spread."""

from dataclasses import replace

import pytest

from engine import card_names, findings_of, load_card, operating_point, pack_card, scenario_from_query


def found(query):
    return {f.code: f for f in findings_of(operating_point(scenario_from_query(query)), remedies=False)}


def reversed_by(volts, rating):
    """Return the finding on an LED of a reverse rating that a port of a higher supply reverses by a voltage."""
    own = pack_card(replace(load_card("general"), VR_max=rating))
    return found(f"in=logic&vs=5V&vstol=0&active=low&voh={5.0 + volts:.6g}V&coupler=own&card={own}")["led-reverse"]


@pytest.mark.parametrize(
    "rating",
    [
        pytest.param(3.0, marks=pytest.mark.source("Texas Instruments MOC3020 data sheet SOES025A, 1998")),
        pytest.param(5.0, marks=pytest.mark.source("Toshiba TLP291-4 data sheet, 2011, absolute maximum ratings")),
        pytest.param(6.0, marks=pytest.mark.source("Sharp PC817 series and Vishay H11A1 data sheets, maximum ratings")),
    ],
)
def test_a_published_reverse_limit_is_where_the_finding_turns(rating):
    assert reversed_by(0.99 * rating, rating).severity == "pass"
    assert reversed_by(1.01 * rating, rating).severity == "stop"
    assert reversed_by(1.01 * rating, rating).limit == rating


@pytest.mark.source("Reverse limits of TLP291-4, 6N137, 6N138, LD 271, PC817, H11A1, MOC3020 data sheets: 3 V to 6 V")
def test_reverse_limits_of_single_leds_are_in_the_published_range():
    singles = [card for card in map(load_card, card_names()) if card.input == "single"]
    assert len(singles) > 5
    assert all(3.0 <= card.VR_max <= 6.0 for card in singles)


@pytest.mark.source("Sharp PC817 series data sheet, Fig. 2: diode power, 70 mW to 55 degC, 25 mW at 100 degC, +/-3 %")
@pytest.mark.parametrize(("TA", "limit"), [(25.0, 70e-3), (55.0, 70e-3), (100.0, 25e-3)])
def test_led_power_is_held_against_the_published_line(TA, limit):
    assert found(f"ta={TA}C")["led-power"].limit == pytest.approx(limit, rel=0.03)


@pytest.mark.source("Sharp PC817 series data sheet, note on Fig. 6: below IF 1 mA the spread of the CTR grows")
def test_the_note_on_spread_begins_at_the_published_current():
    above, below = (found(f"vstol=0&tol=0&r1={R}")["led-current-low"] for R in ("46k", "48k"))
    assert above.value > 1e-3 > below.value
    assert (above.severity, below.severity) == ("pass", "note")
    assert below.limit == pytest.approx(1e-3)
