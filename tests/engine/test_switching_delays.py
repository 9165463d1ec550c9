"""Speed of couplers with a threshold: the lines of a card, and the delays that are the coupler's own."""

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from engine.coupler import CARD_FAMILIES, card_names, card_to_toml, delays_of, load_card, model_of, speed_lines_of
from engine.coupler.delays import USUAL, share_of_test
from engine.coupler.families import SwitchingCard
from engine.coupler.files import card_from
from engine.coupler.switched import switched
from engine.errors import CardError

SWITCHING = tuple(name for name in card_names() if issubclass(CARD_FAMILIES[load_card(name).family], SwitchingCard))
LINES = [(name, line) for name in SWITCHING for line in tomllib.loads(card_to_toml(load_card(name)))["speed"]]
EXTRAS = "rise", "fall"


@pytest.fixture(params=SWITCHING)
def model(request):
    return model_of(load_card(request.param))


def bare(card):
    """Return a card without lines on speed."""
    return replace(card, **dict.fromkeys((*card.speed_lines, *card.speed_extras)))


def refused(table):
    with pytest.raises(CardError) as caught:
        card_from("sample", table)
    return caught.value


def table_of(name):
    return tomllib.loads(card_to_toml(load_card(name)))


class TestLines:
    @pytest.mark.parametrize(("name", "line"), [pair for pair in LINES if pair[1] not in EXTRAS])
    def test_the_test_is_there_in_full_or_not_at_all(self, name, line):
        table = table_of(name)
        del table["speed"][line]
        assert refused(table).line == "speed"
        del table["speed"]
        assert card_from("sample", table).t_on is None

    @pytest.mark.parametrize(("name", "line"), [pair for pair in LINES if pair[1] in EXTRAS])
    def test_a_transition_may_be_left_out_yet_not_stand_alone(self, name, line):
        table = table_of(name)
        stated = table["speed"].pop(line)
        assert getattr(card_from("sample", table), f"t_{line}") is None
        table["speed"] = {line: stated}
        assert refused(table).line == "speed"

    @pytest.mark.parametrize(("name", "line"), [pair for pair in LINES if pair[1] in ("on", "off")])
    def test_typical_is_not_above_largest(self, name, line):
        table = table_of(name)
        table["speed"][line].reverse()
        assert refused(table).line == f"speed.{line}"

    @pytest.mark.parametrize("name", SWITCHING)
    def test_its_drive_surely_turns_the_output_on(self, name):
        table = table_of(name)
        table["speed"]["IF"] = "2.9 mA"
        assert refused(table).line == "speed.IF"

    @pytest.mark.parametrize("name", SWITCHING)
    def test_its_drive_is_one_that_the_led_bears(self, name):
        table = table_of(name)
        table["speed"]["IF"] = "1 A"
        assert refused(table).line == "speed.IF"

    @pytest.mark.parametrize(("name", "VCC"), [("fast-gate", "12 V"), ("push-pull", "5 V")])
    def test_its_supply_is_one_of_the_coupler(self, name, VCC):
        table = table_of(name)
        table["speed"]["VCC"] = VCC
        assert refused(table).line == "speed.VCC"


class TestDelays:
    def test_they_are_what_is_stated_less_what_the_test_circuit_takes(self, model):
        card, found = model.card, delays_of(model)
        for delay, stated, share in zip(
            (found.on, found.off), (card.t_on, getattr(card, "t_off", None)), share_of_test(model), strict=True
        ):
            if stated is None:
                assert (delay.typical, delay.largest) == (0.0, 0.0)
                continue
            left = [time - taken for time, taken in zip(stated, share, strict=True)]
            assert (delay.typical, delay.largest) == pytest.approx(left)
            assert delay.least == 0.0
            assert 0.0 < share[0] <= share[1] < 0.5 * stated[0]
        assert found.stated

    def test_the_test_circuit_returns_the_stated_times(self, model):
        """The share is a formula, the reading an integration."""
        read, card = switched(model), model.card
        assert read.on == pytest.approx(card.t_on, rel=2e-3)
        if card.family != "opto-triac":
            assert read.off == pytest.approx(card.t_off, rel=2e-3)

    @pytest.mark.parametrize(
        "change",
        [{"LED_capacitance": 100e-12}, {"speed_CL": 60e-12}, {"speed_RL": 1e3}],
    )
    def test_a_slower_circuit_leaves_less_to_the_coupler_and_the_same_time(self, change):
        card = load_card("fast-gate")
        usual, slow = model_of(card), model_of(replace(card, **change))
        assert np.sum(share_of_test(slow)) > np.sum(share_of_test(usual))
        read = switched(slow)
        assert (*read.on, *read.off) == pytest.approx((*card.t_on, *card.t_off), rel=5e-3)

    def test_a_load_of_one_time_constant_takes_ln_2_of_it(self):
        """Of an LED with hardly any capacitance the load alone is left; pulled down, the output's resistance helps."""
        card = replace(load_card("fast-gate"), LED_capacitance=1e-13)
        (on, _), (off, _) = share_of_test(model_of(card))
        R_on = card.VOL / card.VOL_IOL
        parallel = card.speed_RL * R_on / (card.speed_RL + R_on)
        assert off == pytest.approx(np.log(2.0) * card.speed_RL * card.speed_CL, abs=5e-12)
        assert on == pytest.approx(np.log(2.0) * parallel * card.speed_CL, abs=5e-11)

    def test_a_circuit_slower_than_what_is_stated_leaves_no_delay_and_is_told(self):
        card = replace(load_card("push-pull"), speed_CL=50e-9)
        found = delays_of(model_of(card))
        assert (found.on.typical, found.off.typical) == (0.0, 0.0)
        assert {line.name for line in speed_lines_of(card) if not line.met} >= {"tPLH typ", "tPHL typ"}

    def test_without_lines_they_are_usual_ones_of_the_family(self, model):
        card = bare(model.card)
        found = delays_of(model_of(card))
        assert [(delay.typical, delay.largest) for delay in (found.on, found.off)] == list(USUAL[card.family])
        assert not found.stated
        assert "usual" in found.why
        assert [line for line in speed_lines_of(card) if line.unit == "s"] == []

    @pytest.mark.parametrize("name", ["general", "cascade"])
    def test_a_transistor_has_none(self, name):
        found = delays_of(model_of(load_card(name)))
        assert {found.on.largest, found.off.largest} == {0.0}
        assert "charge" in found.why

    def test_a_threshold_at_the_drive_itself_is_no_endless_charge(self):
        card = load_card("fast-gate")
        one = replace(card, IF_off=5e-3, IF_typ=5e-3, IF_on=5e-3, speed_IF=5e-3)
        assert np.isfinite(share_of_test(model_of(one))).all()
