"""Couplers: cards (the lines of a data sheet) and the device models calibrated from them."""

from engine.coupler.calibrate import calibrated, model_of
from engine.coupler.card import Card
from engine.coupler.charges import charges_of, speed_tests
from engine.coupler.curves import Graph, Trace, curves_of
from engine.coupler.delays import Delay, Delays, delays_of
from engine.coupler.families import CARD_FAMILIES, TransistorCard
from engine.coupler.files import (
    LONGEST_CARD,
    LONGEST_PACKED,
    card_from_toml,
    card_names,
    card_to_toml,
    load_card,
    pack_card,
    unpack_card,
)
from engine.coupler.led import LedModel
from engine.coupler.lines import Derating
from engine.coupler.pulsed import pulsed
from engine.coupler.report import BARRIER_LINES, CardLine, lines_of, speed_lines_of
from engine.coupler.stored import Charges, stores_of
from engine.coupler.typed import TypedLine, card_from_typed, line_of, typed_lines, typed_of

__all__ = [
    "BARRIER_LINES",
    "CARD_FAMILIES",
    "LONGEST_CARD",
    "LONGEST_PACKED",
    "Card",
    "CardLine",
    "Charges",
    "Delay",
    "Delays",
    "Derating",
    "Graph",
    "LedModel",
    "Trace",
    "TransistorCard",
    "TypedLine",
    "calibrated",
    "card_from_toml",
    "card_from_typed",
    "card_names",
    "card_to_toml",
    "charges_of",
    "curves_of",
    "delays_of",
    "line_of",
    "lines_of",
    "load_card",
    "model_of",
    "pack_card",
    "pulsed",
    "speed_lines_of",
    "speed_tests",
    "stores_of",
    "typed_lines",
    "typed_of",
    "unpack_card",
]
