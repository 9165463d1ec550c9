"""The diagnosis under the bench sheet."""

from urllib.parse import quote

import pytest

from engine import diagnose, scenario_from_query
from tests.api.test_fuzz import SPECIMENS
from tests.markup import tree_of


def asked(client, query, status=200):
    answer = client.get(f"/bench?{query}")
    assert answer.status_code == status
    return tree_of(answer.text)


def test_sheet_has_a_button_that_sends_its_blanks(client):
    soup = asked(client, "vs=24V")
    (button,) = soup.select("#diagnosis button")
    assert soup.find(id=button["form"]).name == "form"
    assert soup.find(id=button["form"])["method"] == "get"
    assert not soup.select("#diagnosis .fits")


def test_blanks_that_are_sent_empty_lead_to_the_first_reading(client):
    text = asked(client, "vs=24V&r.led.closed=&r.out.open=").select_one("#diagnosis").text
    assert "Read next:" in text
    assert "What fits" not in text


def test_page_tells_what_fits_what_is_ruled_out_and_what_to_read_next(client):
    soup = asked(client, "vs=24V&r.r1.closed=23.2V&r.out.closed=3300mV")
    scenario = scenario_from_query("vs=24V")
    found = diagnose(scenario, [("r1", "closed", 23.2), ("out", "closed", 3.3)])
    texts = [item.b.text for item in soup.select("#diagnosis .fits > li")]
    assert texts == [one.fault.text for one in found.ranking if one.probability >= 0.01][: len(texts)]
    assert len(texts) >= 3
    assert f"{100 * found.ranking[0].probability:.0f} %" in soup.select_one("#diagnosis .fits li").text
    assert scenario.input.states[found.next.state] in soup.select_one("#diagnosis .next").text
    ruled_out = [item.text for item in soup.select("#diagnosis .out dd")]
    assert len(ruled_out) == len(found.ruled_out)
    assert any(text.startswith("The coupler's LED open (0 V; over 1000") for text in ruled_out)
    assert "Not told apart yet" in soup.select_one("#diagnosis .so-far").text


def test_what_no_reading_tells_apart_is_named(client):
    soup = asked(client, "vs=24V&r.out.closed=0V&r.out.open=0V&r.vcc.open=3.3V&r.rl.open=3.3V&r.rl.closed=3.3V")
    (item,) = [item for item in soup.select("#diagnosis .fits > li") if "U1 shorted" in item.b.text]
    assert "receiver shorted to common" in item.small.text


def test_readings_stand_in_the_blanks_again(client):
    soup = asked(client, "vs=24V&r.led.closed=1.13V")
    assert soup.find("input", {"name": "r.led.closed"})["value"] == "1.13V"
    assert soup.find("input", {"name": "r.led.open"})["value"] == ""


def test_readings_that_no_single_fault_explains_are_called_so(client):
    soup = asked(client, "vs=24V&r.vs.closed=24V&r.led.closed=24V&r.vcc.closed=0V")
    assert "No single fault explains" in soup.select_one("#diagnosis .unexplained").text
    assert not asked(client, "vs=24V&r.vs.closed=24V").select("#diagnosis .unexplained")


def test_bad_reading_has_its_error_beside_its_blank(client):
    soup = asked(client, "vs=24V&r.led.closed=1%2C2V&r.out.open=3.3V", 422)
    blank = soup.find("input", {"name": "r.led.closed"})
    assert blank["aria-invalid"] == "true"
    assert "comma" in soup.find(id=blank["aria-describedby"]).text
    assert not soup.find("input", {"name": "r.out.open"}).has_attr("aria-invalid")
    assert soup.select_one("#diagnosis [role=alert] li")["data-for"] == "r.led.closed"


def test_points_that_are_not_there_are_refused_by_name(client):
    soup = asked(client, "vs=24V&r.nowhere.closed=1V", 422)
    assert soup.select_one("#diagnosis [role=alert] li")["data-for"] == "r.nowhere.closed"


def test_alternating_readings_are_diagnosed(client):
    soup = asked(client, "in=ac&r.vs.closed=230V&r.r1.closed=0V&r.led.closed=204V")
    assert "LED open" in soup.select_one("#diagnosis .fits").text


def test_readings_that_say_nothing_are_left_aside_with_a_sentence(client):
    soup = asked(client, "in=ac&co=1uF&r.vs.closed=230V&r.out.closed=1V")
    assert "CO" in soup.select_one("#diagnosis .aside").text
    assert "fits 1 reading" in soup.select_one("#diagnosis").text


@pytest.mark.parametrize("text", SPECIMENS, ids=lambda text: repr(text)[:20])
def test_any_text_in_a_blank_is_answered(client, text):
    answer = client.get(f"/bench?r.led.closed={quote(text)}&r.{quote(text[:50])}.closed=1V")
    assert answer.status_code in (200, 422)
    assert "Traceback" not in answer.text


def test_very_many_readings_are_answered(client):
    answer = client.get("/bench?" + "&".join(f"r.p{k}.closed=1V" for k in range(500)))
    assert answer.status_code == 422
